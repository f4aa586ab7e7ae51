"""The margin of a boundary: px far from any say nothing."""

import numpy as np
import pytest

from analysis.voids.boundary import boundary_margin, deep_pixels
from tests.support.painting import disc

SHAPE = (120, 160)
NOISE = 0.01


def calm(flat):
    return np.full(len(flat), NOISE, np.float32)


def margin_of(depth, face=None):
    deep = deep_pixels(depth, calm, NOISE)
    return boundary_margin(depth, deep, calm, face, 60.0)


@pytest.fixture
def pit():
    depth = np.zeros(SHAPE, np.float32)
    depth[disc(SHAPE, 60, 80, 12) > 0.5] = 0.6
    return depth


def test_the_cut_is_half_of_the_floor(pit):
    margin = margin_of(pit)
    assert np.array_equal(margin > 0, pit > 0)
    assert margin.max() == pytest.approx(0.3)


def test_px_beside_a_boundary_have_their_own_margin(pit):
    margin = margin_of(pit)
    last = np.flatnonzero(pit[60])[-1]
    assert margin[60, last + 1] == pytest.approx(-0.3)
    assert margin[60, last + 2] == -1


def test_nothing_outside_the_face_is_inside_a_boundary(pit):
    face = np.ones(SHAPE, bool)
    face[:, 80:] = False
    assert not (margin_of(pit, face)[:, 80:] > 0).any()


def test_an_even_face_has_no_boundary():
    assert (margin_of(np.zeros(SHAPE, np.float32)) == -1).all()
