"""The guide says what the number is not, how to work, and what to beware of."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from tests.support.screens import start, texts
from ui.guide import words as guide_words

PICTURES = Path(__file__).resolve().parents[2] / "ui" / "pictures"
DRAWN = [chapter for chapter in guide_words.CHAPTERS if chapter[2]]


@pytest.fixture
def app(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    return start("guide")


def test_guide_says_what_the_number_does_not_mean(app):
    said = texts(app)

    assert "nothing about strength" in said
    assert "95 % sure" in said


def test_guide_cautions(app):
    said = texts(app)

    for word in ("without pain", "Silica", "23 kg", "Vibrating tools", "Local codes"):
        assert word in said


def test_a_caution_of_several_kinds_of_work_is_told_once(app):
    assert texts(app).count("Mains power and wet concrete") == 1


def test_every_chapter_is_shown(app):
    said = texts(app)
    for title, *_ in guide_words.CHAPTERS:
        assert title in said


def test_words_of_both_countries_are_told(app):
    (table,) = app.table
    told = dict(zip(table.value["Here"], table.value["Also called"], strict=True))
    assert "pencil vibrator" in told["poker"]
    assert "strip (US)" in told["strike"]
    assert "blowhole (UK)" in told["bughole"]


def test_terms_are_in_order_and_told_once():
    names = [name for name, *_ in guide_words.TERMS]
    assert names == sorted(names)
    assert len(set(names)) == len(names)


def test_second_light_to_following_have_a_drawing_each():
    assert [title for title, *_ in DRAWN] == [
        "Two photos, two lights",
        "Forms",
        "Sealing joints",
        "Vibration",
        "Comparing",
        "Following",
    ]


@pytest.mark.parametrize("chapter", DRAWN, ids=lambda one: one[2])
def test_drawing_says_what_it_shows(chapter):
    # Our own file, as it lies in the repository.
    *_, file, shows = chapter
    drawing = ET.parse(PICTURES / f"{file}.svg").getroot()
    title = drawing.find("{http://www.w3.org/2000/svg}title").text
    assert len(title) > 20
    assert len(shows) > 20
