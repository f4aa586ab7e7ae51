"""Outlines changed by hand keep the area that geometry gives them."""

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.voids.outline_edits import (
    area_px,
    brushed,
    few_corners,
    joined,
    split,
)

TURN = np.linspace(0, 2 * np.pi, 240, endpoint=False)
DISC = 50 + 20 * np.column_stack([np.sin(TURN), np.cos(TURN)])
AREA = np.pi * 20**2
SQUARE = np.array([[0.0, 0.0], [0.0, 30.0], [30.0, 30.0], [30.0, 0.0]])


def moved(right):
    return SQUARE + np.array([0.0, right])


def test_a_disc_is_cut_into_halves():
    one, other = split(DISC, np.array([[50.0, 0.0], [50.0, 99.0]]))
    assert area_px(one) == pytest.approx(AREA / 2, rel=0.02)
    assert area_px(other) == pytest.approx(AREA / 2, rel=0.02)
    assert max(one[:, 0].max(), other[:, 0].max()) == pytest.approx(70, abs=0.5)
    assert {one[:, 0].min() < 49, other[:, 0].min() < 49} == {True, False}


def test_a_segment_has_the_area_of_its_closed_form():
    """Circular segment of height h: r² acos((r-h)/r) - (r-h) sqrt(2rh - h²)."""
    r, h = 20.0, 8.0
    wanted = r**2 * np.arccos((r - h) / r) - (r - h) * np.sqrt(2 * r * h - h**2)
    parts = split(DISC, np.array([[30 + h, 0.0], [30 + h, 90.0]]))
    assert min(map(area_px, parts)) == pytest.approx(wanted, rel=0.04)


def test_a_cut_beside_the_void_is_refused():
    with pytest.raises(InputError, match="cut misses the void"):
        split(DISC, np.array([[5.0, 0.0], [5.0, 90.0]]))
    with pytest.raises(InputError, match="The cut needs at least 2 points"):
        split(DISC, np.array([[5.0, 0.0]]))


def test_overlapping_outlines_are_joined_to_their_union():
    both = joined([SQUARE, moved(20)])
    assert area_px(both) == pytest.approx(30 * 50, rel=0.02)


def test_a_narrow_gap_is_filled_and_a_wide_one_refused():
    assert area_px(joined([SQUARE, moved(34)])) > 2 * area_px(SQUARE)
    with pytest.raises(InputError, match="more than 12 px apart"):
        joined([SQUARE, moved(60)])


def test_a_stroke_is_painted_on_and_taken_off():
    """A straight stroke of length L and radius r has the area 2 r L + pi r²."""
    stroke = np.array([[10.0, 10.0], [10.0, 50.0]])
    alone = brushed(None, stroke, 4.0, on=True)
    assert area_px(alone) == pytest.approx(8 * 40 + np.pi * 16, rel=0.05)
    across = np.array([[15.0, -9.0], [15.0, 39.0]])
    left = brushed(SQUARE, across, 3.0, on=False)
    assert area_px(left) == pytest.approx(30 * 12, rel=0.05)
    more = brushed(SQUARE, np.array([[15.0, 28.0], [15.0, 45.0]]), 3.0, on=True)
    wanted = 900 + 6 * 15 + np.pi * 9 / 2
    assert area_px(more) == pytest.approx(wanted, rel=0.02)


def test_nothing_left_is_refused():
    with pytest.raises(InputError, match="Nothing is left of this void"):
        brushed(SQUARE, np.array([[15.0, 15.0]]), 60.0, on=False)
    with pytest.raises(InputError, match="Half of the brush must be more than 0"):
        brushed(SQUARE, np.array([[15.0, 15.0]]), 0.0, on=True)


def test_few_corners_keep_the_area():
    few = few_corners(DISC)
    assert 6 <= len(few) <= 16
    assert area_px(few) == pytest.approx(AREA, rel=0.08)
