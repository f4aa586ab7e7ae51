"""Arrises of faceted faces, and the light levelled facet by facet."""

import cv2
import numpy as np
import pytest

from analysis.imaging.facets import (
    Cut,
    FacetPlane,
    find_facets,
    levelled_by_facets,
    moved,
)

SIZE = (300, 400)


def faceted(turned_deg, offset, *, steps=(0.3, 0.5), seed=3):
    """Light of two facets with noise and a pit on the arris; where the pit is."""
    row, col = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float64)
    turn = np.radians(turned_deg)
    away = col * np.cos(turn) + row * np.sin(turn) - offset
    light = np.where(away < 0, steps[0], steps[1]) * np.exp(2e-4 * row)
    noise = np.random.default_rng(seed).normal(0, 0.02, SIZE)
    light = light * np.exp(noise)
    on = np.argwhere(np.abs(away) < 1)
    middle = on[len(on) // 2]
    light[np.hypot(row - middle[0], col - middle[1]) < 6] = 0.05
    # No lens draws an edge sharper than this.
    soft = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.9)
    return soft, away, middle


def whole():
    return np.ones(SIZE, dtype=bool)


@pytest.mark.parametrize(("turned", "offset"), [(0, 170), (33, 260), (90, 120)])
def test_an_arris_is_found_and_levelled_and_the_pit_on_it_stays(turned, offset):
    light, away, middle = faceted(turned, offset)
    found = find_facets(light, whole())
    assert np.degrees(found.towards_rad) == pytest.approx(turned, abs=1.5)
    assert isinstance(found.below, FacetPlane)
    even = levelled_by_facets(light, whole(), found)
    flat = np.median(even[away < -9]) / np.median(even[away > 9])
    assert flat == pytest.approx(1, abs=0.02)
    beside = np.hypot(*(np.indices(SIZE) - middle[:, None, None])) > 12
    arris = (np.abs(away) < 4) & beside
    assert np.percentile(even[arris] / np.median(even), [1, 97]) == pytest.approx(
        1, abs=0.15
    )
    assert even[tuple(middle)] < 0.3 * np.median(even)


def test_facets_are_cut_again():
    row, col = np.mgrid[: SIZE[0], : SIZE[1]]
    light = np.where(col < 150, 0.2, np.where(row < 140, 0.4, 0.7)).astype(np.float32)
    found = find_facets(light, whole())
    parts = [found.below, found.above]
    assert sum(isinstance(part, Cut) for part in parts) == 1
    even = levelled_by_facets(light, whole(), found)
    assert even.std() < 0.02 * even.mean()


def test_no_arris_on_an_even_face_or_a_small_one():
    noise = np.random.default_rng(1).normal(0, 0.03, SIZE)
    row, _ = np.mgrid[: SIZE[0], : SIZE[1]]
    sloped = (0.4 * np.exp(noise + 1e-3 * row)).astype(np.float32)
    assert find_facets(sloped, whole()) is None
    assert find_facets(sloped[:6, :6], np.ones((6, 6), bool)) is None


def test_what_lies_outside_the_face_never_enters():
    light, _, _ = faceted(0, 170)
    inside = whole()
    inside[:40] = False
    other = light.copy()
    other[:38] = 0.01
    one, two = find_facets(light, inside), find_facets(other, inside)
    assert one.offset_px == pytest.approx(two.offset_px, abs=0.5)


def test_a_part_is_levelled_like_the_whole():
    light, _, _ = faceted(20, 200)
    found = find_facets(light, whole())
    part = moved(found, 30.0, 50.0)
    row, col = 70.0, 90.0

    def away(cut, at_row, at_col):
        turn = cut.towards_rad
        return at_col * np.cos(turn) + at_row * np.sin(turn) - cut.offset_px

    there = away(part, row - 30, col - 50)
    assert away(found, row, col) == pytest.approx(there, abs=1e-6)
    assert moved(FacetPlane(at=1.0, by_row=0.1, by_col=0.2), 10, 5).at == 3.0
