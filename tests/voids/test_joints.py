"""Bare sand, fins and breaks along a joint."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.imaging.face import joint_band_mask
from analysis.imaging.photo import luminance
from analysis.model.photo import JointLine
from analysis.model.reading import JointMarks
from analysis.voids.joints import JointLines, all_marks, along_one_side
from analysis.voids.leak_sand import bare_sand, gap_closed, pit_figures, pit_odds
from analysis.voids.measurement import part_ends
from analysis.voids.rejection import Evidence
from analysis.voids.segmentation import segment
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import region_pixels
from tests.support.painting import noisy, painted, pitted

MM_PER_PX = 0.2
SHAPE = (300, 400)


def joint(col=200.0):
    line = JointLine(line_px=np.array([[0.0, col], [299.0, col]]))
    return JointLines(
        lines_px=(line.line_px,),
        band=joint_band_mask((line,), 15 / MM_PER_PX, SHAPE),
        seam=joint_band_mask((line,), SETTINGS.joints.seam_mm / MM_PER_PX, SHAPE),
        mm_per_px=MM_PER_PX,
    )


def found_on(light, joints=None):
    pixels = noisy(painted(light))
    return segment(
        pixels,
        luminance(pixels),
        np.ones(SHAPE, bool),
        smallest_px2=12,
        mm_per_px=MM_PER_PX,
        joints=joints,
    )


def face(*pits):
    return pitted(SHAPE, list(pits))


def sandy(light, rows, half_px=30, seed=3):
    """Grains half as dark again over a strip at the joint."""
    grain = np.random.default_rng(seed).normal(0, 0.16, (150, 200))
    grain = np.kron(grain, np.ones((2, 2)))
    strip = np.zeros(SHAPE, bool)
    strip[rows, 200 - half_px : 200 + half_px] = True
    return np.where(strip, light * (0.78 + grain), light)


def test_length_of_bare_sand():
    found = found_on(sandy(face((40, 60, 5)), slice(100, 200)), joint())
    marks = found.joint_marks
    assert marks.length_mm == pytest.approx(60, abs=1)
    assert marks.sand_length_mm == pytest.approx(20, abs=4)
    assert marks.fin_length_mm == 0


def test_sand_is_neither_void_nor_honeycomb():
    found = found_on(sandy(face((40, 60, 5), (240, 320, 6)), slice(60, 260)), joint())
    assert not found.honeycomb.any()
    assert not found.mask[60:260, 165:235].any()
    assert found.mask[40, 60]
    assert found.mask[240, 320]


def test_pit_in_sand_counts():
    light = sandy(face((40, 60, 5), (150, 215, 7)), slice(60, 260))
    hole = face((150, 215, 7)) < 0.2
    found = found_on(np.where(hole, 0.02, light), joint())
    assert found.mask[150, 215]


def test_nothing_on_an_even_joint():
    marks = found_on(face((40, 60, 5)), joint()).joint_marks
    assert (marks.sand_length_mm, marks.fin_length_mm) == (0, 0)
    assert marks.arris_loss_mm2_per_m == 0


def test_no_marks_without_a_joint():
    found = found_on(face((40, 60, 5)))
    assert found.joint_marks is None
    assert found.part_doubts is None


def test_fin_is_bright_beside_its_shadow():
    light = face((40, 60, 5))
    light[100:200, 198:201] *= 1.35
    light[100:200, 201:205] *= 0.55
    found = found_on(light, joint())
    assert found.joint_marks.fin_length_mm == pytest.approx(20, abs=3)
    assert not found.mask[100:200, 195:208].any()


def test_ends_of_two_joints_are_no_fin_together():
    light = face()
    # A ridge of 2 mm where one joint ends, and one where the next begins.
    light[290:300, 99:102] = light[0:10, 299:302] = 0.55
    one, other = joint(100.0), joint(300.0)
    both = JointLines(
        lines_px=one.lines_px + other.lines_px,
        band=one.band | other.band,
        seam=one.seam | other.seam,
        mm_per_px=MM_PER_PX,
    )
    assert found_on(light, both).joint_marks.fin_length_mm == 0


def test_break_goes_to_one_side():
    light = face((40, 60, 5))
    rows, cols = np.ogrid[:300, :400]
    gone = ((rows - 150) / 20) ** 2 + ((cols - 200) / 14) ** 2 < 1
    gone &= cols >= 200
    found = found_on(np.where(gone, light * 0.6, light), joint())
    true = gone.sum() * MM_PER_PX**2 / 60 * 1000
    assert found.joint_marks.arris_loss_mm2_per_m == pytest.approx(true, rel=0.35)
    assert not found.mask[gone].any()


def test_gap_alone_is_closed_and_a_pit_is_not():
    light = np.full(SHAPE, 0.5, np.float32)
    light[:, 199:202] = 0.1
    light[140:160, 190:210] = 0.1
    closed = gap_closed(light, joint().seam, MM_PER_PX)
    assert closed[20, 200] == pytest.approx(0.5)
    assert closed[150, 200] == pytest.approx(0.1)
    assert np.array_equal(closed[:, :150], light[:, :150])


def test_sand_level_is_brought_to_the_face():
    light = sandy(np.full(SHAPE, 0.35), slice(60, 260)).astype(np.float32)
    light *= 1 + 0.01 * np.random.default_rng(1).normal(size=SHAPE).astype(np.float32)
    joints = joint()
    whole = np.ones(SHAPE, bool)
    sand = bare_sand(light, whole, joints.band, joints.seam, MM_PER_PX)
    assert np.median(sand.levelled[100:220, 180:220]) == pytest.approx(0.35, rel=0.08)
    assert np.allclose(sand.levelled[:, :100], light[:, :100])
    assert (sand.grit[sand.mask] > 0).all()


def test_no_sand_outside_the_reach_of_a_joint():
    whole = np.ones(SHAPE, bool)
    light = np.full(SHAPE, 0.35, np.float32)
    assert bare_sand(light, whole, ~whole, ~whole, MM_PER_PX) is None


def figures_in_sand(logit=1.0, depth=0.7, others=()):
    """Figures of one spot among others in 500 mm2 of sand."""
    logits, depths = (
        np.array([logit, *others]),
        np.array([depth, *(0.4 for _ in others)]),
    )
    ones = np.ones(len(logits))
    return pit_figures(
        logits, depths, 0.03 * ones, 0.1 * ones, 1.3 * ones, 0.9 * ones, 0.2 * ones, 500
    )


def test_deeper_and_likelier_is_more_surely_a_pit():
    usual = pit_odds(figures_in_sand())[0]
    assert pit_odds(figures_in_sand(logit=2.0))[0] > usual
    assert pit_odds(figures_in_sand(depth=0.8))[0] > usual


def test_among_many_grains_that_look_like_no_pits_a_spot_is_less_surely_one():
    alone = pit_odds(figures_in_sand(others=(1.0,) * 5))[0]
    assert pit_odds(figures_in_sand(others=(-4.0,) * 60))[0] < alone


def test_grains_of_sand_do_not_say_what_the_face_is_like():
    pits = ((40, 60, 5), (120, 80, 4), (240, 320, 6), (90, 350, 5))
    even = found_on(face(*pits), joint())
    leaked = found_on(sandy(face(*pits), slice(20, 280), half_px=60), joint())
    assert leaked.joint_marks.sand_length_mm > 40
    unsure = [found.part_doubts[1].wrong_px for found in (even, leaked)]
    assert unsure[1] == pytest.approx(unsure[0], rel=0.2)


def test_pits_in_sand_are_evidence_of_voids():
    light = sandy(face(), slice(60, 260))
    assert found_on(light, joint()).evidence is Evidence.NONE
    hole = np.hypot(*(np.indices(SHAPE) - np.array([150, 215])[:, None, None])) < 7
    assert found_on(np.where(hole, 0.02, light), joint()).evidence is Evidence.SURE


def test_parts_add_up():
    def made(length, loss):
        return JointMarks(
            length_mm=length,
            sand_length_mm=length / 2,
            fin_length_mm=1.0,
            arris_loss_mm2_per_m=loss,
        )

    whole = all_marks([made(100.0, 30.0), made(300.0, 10.0), None])
    assert whole.length_mm == 400
    assert whole.sand_length_mm == 200
    assert whole.arris_loss_mm2_per_m == 15
    assert all_marks([None]) is None


def test_shadow_of_a_torn_fin_is_no_void_and_a_pit_beside_it_is():
    light = face((40, 60, 5))
    light[100:220, 197:201] *= 1.4
    # Torn: the ridge is higher here and lower there, and so its shadow is wider.
    rows, cols = np.ogrid[:300, :400]
    wide = 2 + 12 * np.abs(np.sin(np.pi * (rows - 100) / 45))
    shadow = (rows >= 100) & (rows < 220) & (cols >= 201) & (cols < 201 + wide)
    hole = face((250, 206, 7)) < 0.2
    light = np.where(shadow, light * 0.7, light)
    found = found_on(np.where(hole, 0.02, light), joint())
    assert found.joint_marks.fin_length_mm == pytest.approx(24, abs=4)
    assert not found.mask[95:225, 185:225].any()
    assert found.mask[250, 206]


def test_deep_break_longer_than_deep_is_no_void_and_a_pit_at_the_joint_is():
    light = face((40, 60, 5), (250, 207, 7))
    rows, cols = np.ogrid[:300, :400]
    gone = ((rows - 120) / 20) ** 2 + ((cols - 200) / 10) ** 2 < 1
    gone &= cols >= 199  # the joint is marked no better than that
    found = found_on(np.where(gone, 0.02, light), joint())
    true = gone.sum() * MM_PER_PX**2 / 60 * 1000
    assert found.joint_marks.arris_loss_mm2_per_m == pytest.approx(true, rel=0.35)
    assert not found.mask[gone].any()
    assert found.mask[250, 207]


@pytest.mark.parametrize(
    ("past_mm", "long_mm", "told"),
    [(0.8, 10.0, True), (0.8, 5.0, False), (1.4, 10.0, False)],
)
def test_long_spot_is_a_break_although_its_outline_goes_past_the_joint(
    past_mm, long_mm, told
):
    labels = np.zeros(SHAPE, np.int32)
    first, last = (round(200 + at / MM_PER_PX) for at in (-past_mm, 2.4))
    labels[100 : 100 + round(long_mm / MM_PER_PX), first:last] = 1
    reach_mm = along_one_side(region_pixels(labels, 1), np.ones(1, bool), joint())
    assert (reach_mm[0] > 0) is np.bool_(told)


@pytest.mark.parametrize(("reach_px", "is_sand"), [(16, False), (45, True)])
def test_rough_patch_on_one_side_is_sand_only_where_it_reaches_far(reach_px, is_sand):
    light = sandy(np.full(SHAPE, 0.35), slice(60, 260), reach_px).astype(np.float32)
    light[:, :200] = 0.35
    light *= 1 + 0.01 * np.random.default_rng(1).normal(size=SHAPE).astype(np.float32)
    joints, whole = joint(), np.ones(SHAPE, bool)
    asked = (light, whole, joints.band, joints.seam, MM_PER_PX)
    assert bare_sand(*asked) is not None
    sand = bare_sand(*asked, lines_px=joints.lines_px)
    assert (sand is not None) == is_sand


def test_ends_of_a_part_in_which_nothing_counts_take_in_what_was_turned_down():
    found = found_on(face((40, 60, 5)), joint())
    whole = np.ones(SHAPE, bool)
    doubts = replace(found.part_doubts[0], shaped_px=300.0, missed_px=100.0)
    faint = replace(found, part_doubts=(doubts, found.part_doubts[1]))
    band = joint().band
    low, high = part_ends(faint, whole, band, 0.0, 0.01, 12)[0]
    assert (low, high) == (0.0, pytest.approx(400 / band.sum()))
    assert part_ends(found, whole, band, 0.0, 0.01, 12)[0][1] < high


def test_pits_of_the_band_may_be_grains_where_the_face_shows_no_void():
    found = found_on(face((40, 60, 5), (150, 230, 7)), joint())
    whole, band = np.ones(SHAPE, bool), joint().band
    shares = (0.01, 0.01)
    assert part_ends(found, whole, band, *shares, 12)[0][0] > 0
    unsure = replace(found, evidence=Evidence.NONE)
    of_band, of_open = part_ends(unsure, whole, band, *shares, 12)
    assert of_band[0] == 0.0 < of_open[0]
