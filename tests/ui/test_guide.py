"""The guide says what the number is not, and what to beware of."""

from __future__ import annotations

from tests.ui.screens import start, texts


def test_guide_says_what_the_number_does_not_mean(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    said = texts(start("guide"))

    assert "nothing about strength" in said
    assert "95 % sure" in said


def test_guide_cautions(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    said = texts(start("guide"))

    for word in ("without pain", "Silica", "23 kg", "Vibrating tools", "Local codes"):
        assert word in said
