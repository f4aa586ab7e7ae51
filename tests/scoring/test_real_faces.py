"""Scoring of outlined photos, on outlines drawn by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks import real_faces

SQUARE = {"shape": "polygon", "data": [10, 10, 20, 10, 20, 20, 10, 20]}


def test_a_polygon_of_whole_pixels_fills_just_those():
    labels = real_faces.outline_labels([SQUARE], (40, 40))
    assert labels.sum() == 100
    assert labels[10:20, 10:20].all()


def test_both_ways_of_noting_an_outline_agree():
    flat = {"shape": "ellipse", "data": [20.3, 15.4, 6, 4, 0]}
    named = {"type": "ellipse", "cx": 20.3, "cy": 15.4, "rx": 6, "ry": 4}
    first = real_faces.outline_labels([flat], (40, 40))
    assert np.array_equal(first, real_faces.outline_labels([named], (40, 40)))
    assert first.sum() == pytest.approx(np.pi * 24, rel=0.04)


def test_an_ellipse_turns_clockwise_on_screen():
    points = real_faces.ellipse_points(0, 0, 5, 1, 90)
    assert points[0] == pytest.approx([0, 5])


def test_full_drops_specks_and_what_is_ignored():
    true = real_faces.outline_labels([SQUARE], (40, 40))
    ignore = np.zeros((40, 40), bool)
    ignore[:, 25:] = True
    found = np.zeros((40, 40), np.int32)
    found[10:20, 10:20] = 1
    found[30:33, 5:8] = 2  # 9 px: a speck
    found[5:15, 28:38] = 3  # ignored
    score = real_faces.score_crop(true, ignore, found, "full")
    assert score.hits.f1 == 1
    assert score.share_ratio == pytest.approx(1)
    found[30:34, 5:9] = 2  # 16 px: wrong
    assert real_faces.score_crop(true, ignore, found, "full").hits.wrong == 1


def test_a_void_wins_over_the_ignored():
    true = real_faces.outline_labels([SQUARE], (40, 40))
    score = real_faces.score_crop(true, np.ones((40, 40), bool), true, "full")
    assert score.hits.recall == 1
    assert score.mean_iou == 1


def test_ring_scores_near_the_outlines_only():
    true = real_faces.outline_labels([SQUARE], (40, 40))
    found = np.zeros((40, 40), np.int32)
    found[5:25, 5:25] = 1
    found[30:38, 30:38] = 2
    score = real_faces.score_crop(true, np.zeros((40, 40), bool), found, "ring")
    assert (score.hits.right, score.hits.wrong) == (1, 0)
    assert 2 < score.share_ratio <= 2.56


def test_the_wall_is_judged_by_its_majors():
    voids = [
        {
            "tier": "major",
            "type": "polygon",
            "points": [[5, 5], [15, 5], [15, 15], [5, 15]],
        },
        {
            "tier": "minor",
            "type": "polygon",
            "points": [[30, 30], [32, 30], [32, 32], [30, 32]],
        },
    ]
    found = np.zeros((40, 40), np.int32)
    found[5:15, 10:20] = 1
    wall = real_faces.score_wall(voids, np.zeros((40, 40), bool), found)
    assert (wall["majors"], wall["found"]) == (1, 1)
    assert wall["iou"] == pytest.approx(50 / 150)
    assert wall["all_percent"] == pytest.approx(100 * 104 / 1600)
    assert wall["counted_percent"] == pytest.approx(100 * 100 / 1600)


def test_a_crack_band_leaves_the_pits_out():
    band = real_faces.crack_band([[[0, 20], [40, 20]]], [[20, 20, 4, 4, 0]], (40, 40))
    assert band[20, 5]
    assert not band[20, 20]
    assert not band[30, 5]


def test_an_absent_folder_is_said_in_words(monkeypatch, tmp_path):
    monkeypatch.setenv("STRUCKFACE_REAL_FACES", str(tmp_path / "none"))
    assert real_faces.folder() is None
    assert "STRUCKFACE_REAL_FACES" in list(real_faces.report(None))[-1]
