"""Chips in a row along an edge between two faces, against pits that lie in a row."""

import cv2
import numpy as np
import pytest

from analysis.voids.arris_row import chipped_off
from analysis.voids.rejection import WORDS
from analysis.voids.segmentation import segment
from analysis.voids.shapes import region_pixels, region_shapes
from tests.support.painting import noisy, painted

SHAPE = (300, 400)
RNG = np.random.default_rng(5)


def edge_row(col):
    """Row of an edge that leans across the photo."""
    return 140 + 0.1 * col


def two_faces(step=0.5):
    """Linear light of two faces that meet along the edge, the lower one darker."""
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
    lower = np.clip(rows - edge_row(cols) + 0.5, 0, 1)
    return 0.4 * (1 - (1 - step) * lower)


def chips(count=16, spread_px=1.0):
    """(row, col) of marks along the edge."""
    cols = np.linspace(15, 385, count)
    return [(edge_row(c) + RNG.normal(0, spread_px), c) for c in cols]


def scattered(count):
    rows, cols = RNG.uniform(20, 280, count), RNG.uniform(20, 380, count)
    away = np.abs(rows - edge_row(cols)) > 15
    return list(zip(rows[away], cols[away], strict=True))


def regions(places, radius=3):
    labels = np.zeros(SHAPE, np.int32)
    for number, (row, col) in enumerate(places, start=1):
        cv2.circle(labels, (round(col), round(row)), radius, number, -1)
    return region_shapes(region_pixels(labels, len(places)))


def told(places, light, pieces=0):
    shapes = regions(places)
    on_line = np.arange(len(places)) < pieces
    every = np.ones(len(places), dtype=bool)
    return chipped_off(light.astype(np.float32), shapes, every, on_line, light.size)


class TestChippedOff:
    def test_a_row_where_two_faces_meet(self):
        row, others = chips(), scattered(20)
        found = told(row + others, two_faces())
        assert found[: len(row)].all()
        assert not found[len(row) :].any()

    def test_a_row_on_one_face_is_a_row_of_pits(self):
        assert not told(chips(), two_faces(step=1.0)).any()

    def test_few_may_lie_so_by_chance(self):
        assert not told(chips(count=7), two_faces(step=0.85)).any()
        assert not told(chips(count=7) + scattered(12), two_faces()).any()
        assert not told(chips(count=4), two_faces()).any()

    def test_few_are_enough_at_a_plain_edge_with_nothing_beside(self):
        assert told(chips(count=6), two_faces()).all()

    def test_a_faint_edge_is_enough_where_nothing_lies_beside(self):
        assert told(chips(), two_faces(step=0.96)).all()
        assert not told(chips() + scattered(12), two_faces(step=0.96)).any()

    def test_a_broad_mark_does_not_pull_the_line(self):
        row, light = chips(), two_faces()
        labels = np.zeros(SHAPE, np.int32)
        for number, (at, col) in enumerate(row, start=1):
            cv2.circle(labels, (round(col), round(at)), 3, number, -1)
        cv2.circle(labels, (330, 260), 35, len(row) + 1, -1)
        shapes = region_shapes(region_pixels(labels, len(row) + 1))
        every = np.ones(len(row) + 1, dtype=bool)
        found = chipped_off(light.astype(np.float32), shapes, every, ~every, light.size)
        assert found[:-1].all()
        assert not found[-1]

    def test_pits_everywhere_are_no_row(self):
        places = [(r, c) for r in range(10, 300, 12) for c in range(10, 400, 12)]
        assert not told(places, two_faces()).any()

    def test_a_short_row_may_be_a_cloud(self):
        cols = np.linspace(180, 290, 12)
        assert not told([(edge_row(c), c) for c in cols], two_faces()).any()

    def test_pieces_of_lines_tell_no_row_but_belong_to_one(self):
        row = chips()
        assert told(row, two_faces(), pieces=3).all()
        assert not told(row, two_faces(), pieces=len(row)).any()

    def test_no_mark(self):
        assert told([], two_faces()).shape == (0,)


@pytest.mark.parametrize("step", [0.5, 1.0])
def test_a_face_with_a_chipped_arris(step):
    light = two_faces(step)
    for row, col in chips():
        cv2.circle(light, (round(col), round(row)), 4, 0.03, -1)
    photo = noisy(painted(cv2.GaussianBlur(light, (0, 0), 0.7)))
    linear = ((photo.mean(axis=2) / 255) ** 2.2).astype(np.float32)
    found = segment(photo, linear, np.ones(SHAPE, bool), smallest_px2=4, mm_per_px=None)
    if step == 1.0:
        assert len(found.voids) == 16
    else:
        assert len(found.voids) == 0
        assert set(found.rejected.reason) == {WORDS["arris"]}
        assert found.doubts.shaped_px > 0
