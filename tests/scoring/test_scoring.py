"""The benchmark's own rules, on masks drawn by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks import scoring
from tests.support.scores import face_score


def squares(*places, shape=(60, 60)):
    """Label image of squares, each (row, col, side)."""
    labels = np.zeros(shape, np.int32)
    for number, (row, col, side) in enumerate(places, start=1):
        labels[row : row + side, col : col + side] = number
    return labels


def test_overlap_of_30_percent_of_the_smaller_is_a_match():
    true = squares((10, 10, 10))
    enough = scoring.match(true, squares((10, 17, 10)))
    short = scoring.match(true, squares((10, 18, 10)))
    assert (enough.right, enough.missed, enough.wrong) == (1, 0, 0)
    assert (short.right, short.missed, short.wrong) == (0, 1, 1)


def test_the_smaller_decides():
    inside = scoring.match(squares((0, 0, 30)), squares((10, 10, 4)))
    assert inside.f1 == 1


def test_one_found_blob_pays_for_one_void_only():
    hits = scoring.match(squares((10, 10, 6), (10, 18, 6)), squares((8, 8, 18)))
    assert (hits.right, hits.missed, hits.wrong) == (1, 1, 0)


def test_the_larger_overlap_is_taken_first():
    true, found = squares((10, 10, 10)), squares((10, 10, 4), (14, 10, 6))
    hits = scoring.match(true, found)
    assert hits.pairs == ((1, 2),)
    assert hits.wrong == 1


def test_small_true_voids_excuse_and_small_found_ones_are_not_wrong():
    true = squares((5, 5, 12), (30, 30, 4))
    areas = scoring.areas_of(true)
    found = squares((5, 5, 12), (28, 28, 8), (50, 5, 3), (50, 40, 8))
    hits = scoring.match_at(true, areas, found, limit_px=6)
    assert (hits.right, hits.missed, hits.wrong) == (1, 0, 1)


def test_a_void_found_a_little_too_small_still_counts():
    true, found = squares((5, 5, 6)), squares((5, 5, 4))
    hits = scoring.match_at(true, scoring.areas_of(true), found, limit_px=6)
    assert hits.f1 == 1


def test_nothing_to_find_and_nothing_found_has_no_f1():
    nothing = np.zeros((9, 9), np.int32)
    assert np.isnan(scoring.match(nothing, nothing).f1)
    assert scoring.match(nothing, squares((1, 1, 5), shape=(9, 9))).f1 == 0


def test_hidden_labels_do_not_shift_the_others():
    true = squares((10, 10, 10), (10, 10, 10), (40, 40, 5))  # 2 covers 1 wholly
    areas = scoring.areas_of(true, 3)
    assert areas.tolist() == [0, 100, 25]
    hits = scoring.match_at(true, areas, squares((10, 10, 10), (40, 40, 5)), 3)
    assert (hits.right, hits.missed, hits.wrong) == (2, 0, 0)


def test_hits_add_up():
    total = scoring.Hits(right=3, missed=1, wrong=0) + scoring.Hits(
        right=1, missed=0, wrong=1
    )
    assert (total.recall, total.precision, total.f1) == (0.8, 0.8, 0.8)


def test_pixel_iou_of_shifted_squares():
    true, found = squares((10, 10, 10)) > 0, squares((10, 15, 10)) > 0
    assert scoring.pixel_iou(true, found) == pytest.approx(50 / 150)
    scored = np.ones_like(true)
    scored[:, 20:] = False
    assert scoring.pixel_iou(true, found, scored) == pytest.approx(50 / 100)
    assert np.isnan(scoring.pixel_iou(true & False, found & False))


def test_pair_ious_follow_the_pairs():
    true, found = squares((0, 0, 10), (30, 30, 10)), squares((30, 30, 10), (0, 5, 10))
    hits = scoring.match(true, found)
    ious = dict(
        zip(hits.pairs, scoring.pair_ious(true, found, hits.pairs), strict=True)
    )
    assert ious == pytest.approx({(2, 1): 1.0, (1, 2): 1 / 3})


def test_a_blob_listed_as_two_voids_is_split_between_them():
    mask = squares((10, 10, 10)) > 0
    mask[10:20, 20:30] = True
    mask[40, 40] = True
    labels = scoring.label(mask, [(14.5, 14.5), (14.5, 24.5), (40.4, 39.6)])
    assert sorted(scoring.areas_of(labels).tolist()) == [1, 100, 100]
    assert len(np.unique(labels[10:20, 10:20])) == 1


def test_diagonal_pixels_are_one_blob():
    assert scoring.label(np.eye(10, dtype=bool)).max() == 1


def test_an_interval_holds_its_ends():
    assert scoring.holds(0.5, 1.0, 0.5)
    assert scoring.holds(0.5, 1.0, 1.0)
    assert not scoring.holds(0.5, 1.0, 1.01)


@pytest.mark.parametrize(
    ("mm_per_px", "wanted"), [(0.1, 0.5), (0.125, 0.5), (0.25, 1.0)]
)
def test_smallest_counted_size_by_default(mm_per_px, wanted):
    assert scoring.smallest_mm(mm_per_px) == wanted


def test_diameter_of_a_disc_of_known_area():
    assert scoring.diameters_mm([np.pi * 25], 0.2) == pytest.approx([2.0])


def test_error_coverage_and_width_of_a_face():
    face = face_score()
    assert face.error_percent == pytest.approx(10)
    assert face.covered
    assert face.high_over_low == pytest.approx(4 / 3)
    clean = face_score(true_percent=0.0, low_percent=0.0)
    assert np.isnan(clean.error_percent)
    assert np.isinf(clean.high_over_low)
