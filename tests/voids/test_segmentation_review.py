"""Figures after a review: those of the same measuring with other voids."""

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.model.photo import Scale
from analysis.model.review import Mark, Outline
from analysis.voids.measurement import smallest_counted, summarize
from analysis.voids.segmentation_review import reviewed
from tests.support.painting import disc, grey, noisy, painted, segmented

SHAPE = (300, 400)
FACE = np.ones(SHAPE, bool)
SCALE = Scale(mm_per_px=0.2, relative_uncertainty=0.01, method="typed")
PITS = [(60, 60, 8), (60, 300, 12), (220, 80, 15), (230, 320, 6)]


def pixels(pits=PITS):
    cover = sum(disc(SHAPE, *pit) for pit in pits)
    return noisy(grey(painted(0.4 - 0.3 * cover)[..., 0]), 1.0)


@pytest.fixture(scope="module")
def found():
    return segmented(
        pixels(), smallest_px2=smallest_counted(SCALE, None)[1], mm_per_px=0.2
    )


def summary(segmentation):
    size_mm, size_px2 = smallest_counted(SCALE, None)
    return summarize(segmentation, FACE, None, SCALE, size_mm, size_px2)


def place_of(catalog, row, col):
    away = np.hypot(catalog.row_px - row, catalog.col_px - col)
    assert away.min() < 2
    return int(away.argmin())


def after(found, *marks):
    return reviewed(found, marks, FACE, mm_per_px=0.2)


def test_without_decisions_nothing_changes(found):
    assert after(found) is found


def test_turning_one_down_is_as_if_it_had_not_been_there(found):
    candidate = place_of(found.voids, 220, 80)
    mark = Mark(action="reject", spot=candidate, reason="tie_hole")
    left = after(found, mark)
    without = segmented(
        pixels([pit for pit in PITS if pit[2] != 15]),
        smallest_px2=smallest_counted(SCALE, None)[1],
        mm_per_px=0.2,
    )
    mine, theirs = summary(left), summary(without)
    assert mine.void_count == theirs.void_count == 3
    # Three voids tell little of the face as cast, and its lower end moves with each.
    for name, near in (("void_share", 0.12), ("sampled_share", 0.3)):
        one, other = getattr(mine, name), getattr(theirs, name)
        for end in ("value", "low", "high"):
            assert getattr(one, end) == pytest.approx(getattr(other, end), rel=near)
    assert left.rejected.kind[-1] != "bughole"
    place = place_of(left.rejected, 220, 80)
    assert left.rejected.reason[place] == "by hand: tie hole"
    assert left.rejected.flags[place] >= {Flag.BY_HAND}


def test_turning_all_down_leaves_none_and_its_upper_bound(found):
    marks = [
        Mark(action="reject", spot=at, reason="grain") for at in range(len(found.voids))
    ]
    none = summary(after(found, *marks))
    assert (none.void_count, none.void_share.value, none.void_share.low) == (0, 0, 0)
    assert none.void_share.high > 0


def test_down_and_up_again_gives_the_first_figures(found):
    marks = [
        Mark(action="reject", spot=1, reason="other"),
        Mark(action="bring_back", spot=1),
    ]
    again = after(found, *marks)
    assert summary(again) == summary(found)
    assert again.voids.kind.tolist() == found.voids.kind.tolist()


def test_an_added_void_counts_by_its_own_area(found):
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ring = np.column_stack([150 + 10 * np.sin(angle), 200 + 10 * np.cos(angle)])
    outline = Outline(line_px=ring, area_px=314.0, contrast=0.4, drawn=True)
    candidate = len(found.voids) + len(found.rejected)
    more = after(found, Mark(action="add", spot=candidate, outline=outline))
    gained = summary(more).void_area_px - summary(found).void_area_px
    assert gained == pytest.approx(314.0)
    place = place_of(more.voids, 150, 200)
    # 20 px at 0.2 mm: 4 mm across.
    assert more.voids.kind[place] == "bughole"
    assert more.voids.feret_max_px[place] == pytest.approx(20, abs=2)
    assert more.mask[150, 200]
    assert summary(more).void_share.high > summary(found).void_share.high
