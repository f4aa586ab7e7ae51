"""Short bumps of outlines: taken off, filled or left."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face_finding.bumps import without_bumps
from analysis.imaging.face_finding.edges import stepped

SIDE = 900
EDGE = 200.0  # the piece's upper side, px


def outline(*bump):
    """A square piece, its upper side drawn through some points more."""
    corners = [(EDGE, 150), *bump, (EDGE, 750), (750, 750), (750, 150)]
    return stepped(np.array(corners, float))


def picture(*, void=None, ground=70.0):
    """CIE Lab in 8 bits: a face of L 150 on a darker ground."""
    lab = np.full((SIDE, SIDE, 3), 128, np.float32)
    lab[..., 0] = ground
    lab[200:751, 150:751, 0] = 150
    if void is not None:
        dark = np.zeros((SIDE, SIDE), np.uint8)
        cv2.circle(dark, (450, 200), 9, 1, -1)
        dark[:200] = 0
        lab[..., 0][dark > 0] = void
    return cv2.GaussianBlur(lab, (0, 0), 1.0)


def upper_side(line):
    """How far the upper side's middle lies from where it should, px."""
    there = (np.abs(line[:, 1] - 450) < 60) & (line[:, 0] < 400)
    return float(np.abs(line[there, 0] - EDGE).max())


DENT = [(EDGE, 438), (EDGE + 8, 446), (EDGE + 8, 454), (EDGE, 462)]
BUMP = [(EDGE, 438), (EDGE - 6, 446), (EDGE - 6, 454), (EDGE, 462)]


def test_a_bump_between_stones_is_taken_off():
    line = outline(*BUMP)
    assert upper_side(line) > 4
    assert upper_side(without_bumps(line, picture())) < 0.6


def test_a_void_at_the_edge_is_filled():
    assert upper_side(without_bumps(outline(*DENT), picture(void=30.0))) < 0.6


@pytest.mark.parametrize(
    ("void", "ground"),
    [(None, 70.0), (70.0, 70.0), (145.0, 70.0)],
    ids=["nothing dark", "open to the ground", "a pale chip"],
)
def test_what_is_no_void_stays(void, ground):
    line = outline(*DENT)
    level = without_bumps(line, picture(void=void, ground=ground))
    assert upper_side(level) > 5


def test_what_a_thing_cuts_out_stays_cut_out():
    thing = np.zeros((256, 256), bool)
    thing[55:60, 126:131] = True
    line = outline(*DENT)
    level = without_bumps(line, picture(void=30.0), thing)
    assert upper_side(level) > 5


def test_corners_stay():
    line = outline()
    assert np.abs(without_bumps(line, picture()) - line).max() < 1.3


@pytest.mark.parametrize("turn", [8, 15, 30, 60])
def test_blunt_corners_stay(turn):
    drop = 300 * np.tan(np.radians(turn / 2))
    line = stepped(
        np.array([(300 + drop, 150), (300, 450), (300 + drop, 750), (850, 450)])
    )
    assert np.abs(without_bumps(line, picture()) - line).max() < 1.6


def test_at_the_frame_nothing_is_changed():
    bump = [(2.0, 438), (9.0, 446), (9.0, 454), (2.0, 462)]
    line = stepped(np.array([(2, 150), *bump, (2, 750), (750, 750), (750, 150)], float))
    assert np.array_equal(without_bumps(line, picture())[:50], line[:50])
