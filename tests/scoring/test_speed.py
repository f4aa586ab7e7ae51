"""The speed benchmark's own rules, on small photos."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.benchmarks import speed


def test_a_large_face_has_the_noise_asked_for():
    def roughness(noise):
        face = speed.decode(speed.large_face((240, 320), 1, noise=noise))
        grey = cv2.cvtColor(face, cv2.COLOR_BGR2GRAY).astype(float)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 3))
        return 1.4826 * np.median(rough)  # the pit does not count

    # in squares beside what the ground has of its own; coding takes some away
    added = np.sqrt(roughness(3.5) ** 2 - roughness(0.7) ** 2)
    assert added == pytest.approx(np.sqrt(3.5**2 - 0.7**2), rel=0.15)


def test_a_large_face_has_as_many_pits_as_asked_for():
    face = speed.decode(speed.large_face((600, 800), 30, noise=0.0))
    ground = cv2.GaussianBlur(face[..., 1], (0, 0), 40)
    dark = np.uint8(face[..., 1] < 0.8 * ground)
    count, _, stats, _ = cv2.connectedComponentsWithStats(dark)
    assert np.sum(stats[1:, cv2.CC_STAT_AREA] >= 6) == pytest.approx(30, abs=6)
    assert count > 20


def test_a_ratio_is_of_processor_time():
    row = speed._row("x", np.array([9.0, 3.0]), np.array([1.0, 2.0]), 1.5)
    assert row == ["x", "9.00", "3.00", "1.50", "at most 1.5", "met"]
    assert speed._row("x", np.array([9.0, 3.1]), np.array([1.0, 2.0]), 1.5)[-1] == (
        "NOT met"
    )


def test_runs_that_differ_are_told(monkeypatch):
    answers = iter(["a" * 64, "a" * 64, "b" * 64, "a" * 64])
    monkeypatch.setattr(speed, "digest", lambda _data, _threads: next(answers))
    assert list(speed.same_bytes(b"", (1, 2)))[-1].endswith("NOT met.")


def test_runs_that_agree_are_met(monkeypatch):
    monkeypatch.setattr(speed, "digest", lambda _data, _threads: "a" * 64)
    lines = list(speed.same_bytes(b"", (1, 2)))
    assert len(lines) == 5
    assert lines[-1].endswith("in 4 runs with 1, 2 threads: met.")
