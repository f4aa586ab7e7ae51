"""Each limit a photo can decide changes the grade of a drawn and measured face."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.grading.catalogue import criterion, own_criterion, published
from analysis.grading.grade import judge
from analysis.model.grading import ByHand, JudgedArea
from analysis.model.workshop import FinishTarget
from tests.support.drawn_faces import drawn, reading_of

WIDTHS = [
    (one.code, limit)
    for one in published()
    for limit in sorted({c.at_most.get("void_width_mm") for c in one.classes} - {None})
]
SHARES = [
    (one.code, grade.at_most["void_share"])
    for one in published()
    for grade in one.classes
    if "void_share" in grade.at_most
]
HAND = ByHand(figures={"fin_mm": 0.0, "void_depth_mm": 0.0, "chip_depth_mm": 0.0})


@cache
def _face():
    """A drawn face of some thirty pits, and the widest it has at 1 mm per px."""
    pixels = drawn(seed=4).pixels
    found, _ = reading_of(pixels, mm_per_px=1.0, smallest_mm=4.0)
    return pixels, float(found.voids.feret_max_px.max())


@cache
def _scaled(mm_per_px):
    found, _ = reading_of(_face()[0], mm_per_px=mm_per_px)
    return (JudgedArea(name="a", reading=found),)


def _likeliest(code, areas, by_hand=HAND):
    found = judge(criterion(code), areas, by_hand)
    return max(found.chances, key=lambda one: one[1])


@pytest.mark.parametrize(("code", "limit"), WIDTHS)
def test_a_wider_void_gets_another_grade(code, limit):
    _, widest_px = _face()
    (under, sure), (over, sure_too) = (
        _likeliest(code, _scaled(part * limit / widest_px)) for part in (0.85, 1.15)
    )
    assert under != over
    assert min(sure, sure_too) > 0.9


@cache
def _share_face(percent):
    """Dark pits of 5 mm on a quiet face, so many that they make up a share."""
    side, mm_per_px, radius = 640, 0.5, 5
    count = max(1, round(percent / 100 * (side * mm_per_px) ** 2 / (np.pi * 2.5**2)))
    rng = np.random.default_rng(3)
    pixels = 150 + rng.normal(0, 1.0, (side, side))
    rows, cols = np.mgrid[-radius : radius + 1, -radius : radius + 1]
    pit = 90.0 * (np.hypot(rows, cols) < radius)
    per_row = int(np.ceil(np.sqrt(count)))
    step = side / per_row
    for n in range(count):
        row, col = (int((place + 0.5) * step) for place in divmod(n, per_row))
        pixels[row - radius : row + radius + 1, col - radius : col + radius + 1] -= pit
    grey = np.clip(pixels, 0, 255).astype(np.uint8)
    found, _ = reading_of(np.repeat(grey[..., None], 3, axis=2), mm_per_px=mm_per_px)
    return found


@pytest.mark.parametrize(("code", "limit"), SHARES)
def test_more_void_area_gets_another_grade(code, limit):
    # Four areas of a face, so that the test area of the document is reached.
    grades = []
    for part in (0.72, 1.4 if limit < 0.006 else 1.3):
        found = _share_face(round(100 * limit * part, 3))
        areas = tuple(JudgedArea(name=str(n), reading=found) for n in range(4))
        one = judge(criterion(code), areas)
        assert one.undecided == ()
        grades.append(one.grade)
    assert grades[0] != grades[1]


def test_both_ends_of_an_own_band_decide():
    found = _share_face(0.8)
    share = found.summary.void_share.value
    areas = (JudgedArea(name="a", reading=found),)
    for low, high, grade in (
        (share * 0.2, share * 3.0, "within the target"),
        (share * 2.0, share * 4.0, "outside the target"),
        (share * 0.1, share * 0.4, "outside the target"),
    ):
        target = FinishTarget(product_line_id=1, low_share=low, high_share=high)
        assert judge(own_criterion(target, "pots"), areas).grade == grade
