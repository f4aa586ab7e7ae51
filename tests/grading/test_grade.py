from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import analysis.grading
from analysis.flags import Flag
from analysis.grading.catalogue import criterion, own_criterion
from analysis.grading.grade import judge
from analysis.grading.wording import (
    DOUBT_WORDS,
    criterion_lines,
    grade_lines,
    grade_sentence,
    undecided_words,
)
from analysis.model.grading import ByHand, Criterion, GradeClass, JudgedArea
from analysis.model.notes import note, say
from analysis.model.reading import Share
from analysis.model.workshop import FinishTarget
from tests.support.readings import catalog, reading, summary
from tests.support.wording import codes_made

LARGE_MM2 = 400_000.0


def share_reading(value, low, high, *, face_mm2=LARGE_MM2, sampled=None, **changes):
    """A reading whose voids make up its share; discs of 5 mm at 0.5 mm per px."""
    face_px = face_mm2 / 0.25
    count = max(1, round(value * face_px / (np.pi * 25)))
    voids = catalog(np.full(count, value * face_px / count) if value else ())
    return reading(
        voids,
        mm_per_px=0.5,
        summary=summary(
            face_area_px=face_px,
            face_area_mm2=face_mm2,
            void_area_px=value * face_px,
            void_share=Share(value=value, low=low, high=high),
            sampled_share=sampled or Share(value=value, low=low, high=high),
            void_count=len(voids),
            honeycomb_share=0.0,
        ),
        **({"flags": frozenset()} | changes),
    )


def judged(code, *readings, stage=None, figures=None):
    areas = tuple(
        JudgedArea(name=f"photo {n}", reading=one, stage=stage)
        for n, one in enumerate(readings)
    )
    return judge(criterion(code), areas, ByHand(figures=figures or {}))


def test_a_clear_share_has_one_class():
    found = judged("oenorm_b2211_pores", share_reading(0.0045, 0.0042, 0.0049))
    assert found.grade == "2P"
    assert found.chances == (("2P", 1.0),)
    assert found.undecided == ()
    assert grade_sentence(found) == "2P."


def test_a_limit_inside_the_interval_gives_both_classes_with_their_chances():
    # The middle of a log-normal interval lies at its geometric mean: even chances.
    low, high = 0.002, 0.0045
    found = judged("oenorm_b2211_pores", share_reading(0.003, low, high))
    assert found.grade == "P or 2P"
    assert dict(found.chances)["P"] == pytest.approx(0.5, abs=0.001)
    assert sum(chance for _, chance in found.chances) == pytest.approx(1.0)
    assert grade_sentence(found) == "P or 2P. Chances: P 50 %, 2P 50 %."


def test_the_interval_judged_is_the_interval_measured():
    found = judged("oenorm_b2211_pores", share_reading(0.0045, 0.004, 0.0053))
    (value,) = found.values
    assert (value.low, value.high) == pytest.approx((0.004, 0.0053), rel=1e-3)


def test_a_chance_follows_the_normal_law_on_the_log_scale():
    # Closed form: Phi(ln(0.006 / 0.005) / s), s from the 95 % interval 0.005 x/ 1.25.
    found = judged("oenorm_b2211_pores", share_reading(0.005, 0.004, 0.00625))
    assert dict(found.chances)["2P"] == pytest.approx(0.94535, abs=0.001)


def test_no_void_is_the_best_class_and_a_bound_can_reach_into_the_next():
    found = judged("oenorm_b2211_pores", share_reading(0.0, 0.0, 0.0005))
    assert found.grade == "P"
    wide = judged("oenorm_b2211_pores", share_reading(0.0, 0.0, 0.006))
    assert wide.grade == "P or 2P"
    # Garwood 1936: none seen, 3.689 expected at the upper 97.5 % bound.
    assert dict(wide.chances)["P"] == pytest.approx(1 - np.exp(-3.689 / 2), abs=0.001)


def test_an_interval_that_begins_at_zero_is_followed_too():
    found = judged("oenorm_b2211_pores", share_reading(0.003, 0.0, 0.006))
    assert dict(found.chances)["P"] == pytest.approx(0.5, abs=0.001)
    assert found.values[0].high == pytest.approx(0.006, rel=0.01)


def test_only_sizes_the_document_counts_are_counted():
    # mm² of discs of 1, 5 and 20 mm at 0.5 mm per px, 10 of each.
    diameters = np.repeat([1.0, 5.0, 20.0], 10) / 0.5
    areas = np.pi * diameters**2 / 4
    face = LARGE_MM2 / 0.25
    whole = areas.sum() / face
    one = share_reading(whole, whole * 0.99, whole * 1.01)
    one = replace(one, voids=catalog(areas))
    counted = judged("dbv_porosity", one).values[0]
    assert counted.value == pytest.approx(10 * np.pi * 25 / 4 / LARGE_MM2)
    assert judged("oenorm_b2211_pores", one).values[0].value == pytest.approx(whole)


def test_a_void_near_the_end_of_the_range_counts_in_some_draws():
    areas = np.array([np.pi * 14.99**2, np.pi * 10.0**2])  # 14.99 and 10 mm
    whole = areas.sum() / (LARGE_MM2 / 0.25)
    one = share_reading(whole, whole * 0.9, whole * 1.1)
    value = judged("dbv_porosity", replace(one, voids=catalog(areas))).values[0]
    assert value.low < 0.35 * whole < 0.85 * whole < value.high


def test_an_area_too_small_cannot_decide_and_takes_the_wider_interval():
    small = share_reading(
        0.003,
        0.0029,
        0.0031,
        face_mm2=80_000.0,
        sampled=Share(value=0.003, low=0.001, high=0.009),
    )
    found = judged("oenorm_b2211_pores", small)
    assert undecided_words(found) == "0.08 m² was measured and 0.25 m² is asked for"
    assert found.values[0].high == pytest.approx(0.009, rel=0.01)
    assert grade_sentence(found).startswith("A photo cannot decide this: 0.08 m²")
    assert "As far as it goes: P or 2P or 3P." in grade_sentence(found)


def test_several_areas_are_pooled_and_their_spread_is_shown():
    found = judged(
        "oenorm_b2211_pores",
        share_reading(0.002, 0.0019, 0.0021, face_mm2=100_000.0),
        share_reading(0.008, 0.0078, 0.0082, face_mm2=300_000.0),
    )
    assert found.undecided == ()
    assert found.grade == "3P"
    assert found.values[0].value == pytest.approx((0.002 + 3 * 0.008) / 4)
    assert [(grade, share) for _, grade, share in found.areas] == [
        ("P", pytest.approx(0.002)),
        ("3P", pytest.approx(0.008)),
    ]
    assert "2 areas, each by itself: P, 3P; 0.2 to 0.8 % void area." in grade_lines(
        found
    )


def test_every_doubt_that_is_made_has_words_and_no_words_are_left_over():
    assert codes_made(analysis.grading) == set(DOUBT_WORDS)


def test_areas_that_are_missing_are_counted():
    few = {"areas": 3, "asked_mm2": 250_000.0}
    assert say(note("too_few_areas", enough=1, **few), DOUBT_WORDS) == (
        "1 of the 3 areas of 0.25 m² it asks for was measured"
    )
    assert say(note("too_few_areas", enough=2, **few), DOUBT_WORDS).endswith(
        "were measured"
    )


def test_a_photo_without_scale_or_too_coarse_cannot_decide():
    bare = replace(
        share_reading(0.002, 0.0019, 0.0021),
        scale=None,
        summary=summary(
            face_area_mm2=None,
            smallest_counted_mm=None,
            void_share=Share(value=0.002, low=0.0019, high=0.0021),
            sampled_share=Share(value=0.002, low=0.0019, high=0.0021),
        ),
    )
    found = judged("oenorm_b2211_pores", bare)
    assert undecided_words(found) == "the photo has no scale"
    assert found.grade == "P"
    width = judged("aci_301_voids", bare)
    assert width.grade == ""
    assert grade_sentence(width) == "Not judged: the photo has no scale."
    one = share_reading(0.002, 0.0019, 0.0021)
    coarse = replace(one, summary=replace(one.summary, smallest_counted_mm=3.0))
    words = "voids are counted from 3 mm and the limits from 2 mm"
    assert undecided_words(judged("dbv_porosity", coarse)) == words
    assert undecided_words(judged("gost_13015", coarse)) == (
        "voids are counted from 3 mm and the limits from 1 mm"
    )
    assert judged("oenorm_b2211_pores", coarse).undecided == ()


def test_a_finish_a_photo_cannot_read_and_a_later_stage_are_said():
    one = share_reading(
        0.002, 0.0019, 0.0021, flags=frozenset({Flag.UNRELIABLE_FINISH})
    )
    found = judged("oenorm_b2211_pores", one, stage="ground")
    assert undecided_words(found) == (
        "a photo cannot tell voids from this finish; it judges the piece as struck, "
        "and the photo is of a later stage"
    )
    assert judged("dbv_porosity", one, stage="ground").undecided[1:] == ()


def test_figures_by_hand_alone_decide_what_only_they_can():
    found = judged(
        "oenorm_b2211_joints",
        figures={"leak_width_mm": 9.0, "leak_depth_mm": 4.0, "step_mm": 1, "fin_mm": 1},
    )
    assert (found.grade, found.undecided) == ("S2", ())
    assert found.not_judged == ("honeycomb_patch_mm2",)
    photo_only = judged("oenorm_b2211_joints", share_reading(0.002, 0.0019, 0.0021))
    assert photo_only.grade == ""
    assert grade_sentence(photo_only) == (
        "Not judged: height of fins and projections, depth of the joint leak, "
        "width of the joint leak, step at a joint."
    )


def test_depth_is_asked_for_where_a_photo_shows_none():
    def widest(mm, figures=None):
        one = share_reading(0.002, 0.0019, 0.0021)
        voids = replace(one.voids, feret_max_px=np.full(len(one.voids), mm / 0.5))
        return judged(
            "wallonia_qualiroutes", replace(one, voids=voids), figures=figures
        )

    assert widest(8.0).grade == "accepted"
    assert widest(12.0).grade == "depth to be measured"
    assert widest(10.0).grade == "accepted or depth to be measured"
    assert (
        widest(12.0, {"void_depth_mm": 3.0, "void_volume_cm3": 0.4}).grade == "accepted"
    )
    assert widest(12.0, {"void_depth_mm": 11.0}).grade == "refused"
    assert widest(8.0, {"fin_mm": 12.0}).grade == "refused"


def test_classes_that_only_unknown_figures_part_are_named_together():
    one = share_reading(0.002, 0.0019, 0.0021)
    found = judged("aci_301_voids", one)
    assert found.grade == "SF-3.0/SF-2.0"
    assert found.not_judged == ("fin_mm", "step_mm", "void_depth_mm")
    assert judged("aci_301_voids", one, figures={"fin_mm": 4.0}).grade == "SF-2.0"
    assert judged("aci_301_voids", one, figures={"step_mm": 4.0}).grade == "SF-2.0"


def patched(*, side_px=150.0):
    """A reading with a square patch at 0.5 mm per px, and one void inside it."""
    one = share_reading(0.002, 0.0019, 0.0021)
    square = side_px * np.array([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0]])
    kind = np.full(len(one.voids), "bughole", dtype="<U9")
    kind[0] = "honeycomb"
    feret = np.full(len(one.voids), 5.0)
    feret[0] = 500.0
    voids = replace(one.voids, kind=kind, feret_max_px=feret)
    return replace(one, voids=voids, honeycomb_px=(square,))


def seen(code, one, **figures):
    areas = (JudgedArea(name="a", reading=one),)
    return judge(criterion(code), areas, ByHand(figures=figures, honeycomb_seen=True))


def test_a_patch_in_a_photo_alone_decides_nothing():
    found = judged("usace_03301a", patched())
    values = {value.quantity: value for value in found.values}
    patch = values["honeycomb_patch_mm2"]
    assert patch.value == pytest.approx(75**2)
    assert patch.low == 0
    assert patch.high > 75**2
    assert values["void_width_mm"].value == pytest.approx(2.5)
    assert found.grade == "nothing to fill or fill or dry-pack"
    assert undecided_words(found) == (
        "there is a rough patch of about 56 cm²: look whether it is honeycomb, and if "
        "so note it among the marks seen"
    )


def test_a_patch_leaves_the_structure_class_open_until_the_eye_has_spoken():
    figures = {"leak_width_mm": 2.0, "step_mm": 0.0, "fin_mm": 0.0}
    found = judged("oenorm_b2211_joints", patched(), figures=figures)
    assert found.grade == "S3 or worse than S1"
    assert dict(found.chances)["S3"] == pytest.approx(0.5, abs=0.001)
    assert "rough patch" in undecided_words(found)
    sure = seen("oenorm_b2211_joints", patched(), **figures)
    assert (sure.grade, sure.undecided) == ("worse than S1", ())


def test_honeycomb_the_eye_saw_counts_where_no_photo_shows_it():
    one = share_reading(0.002, 0.0019, 0.0021)
    found = seen("sp_70_13330", one, chip_depth_mm=0.0)
    assert found.grade == "worse than A7"
    assert undecided_words(found) == (
        "you saw honeycomb, and no photo shows how large it is"
    )


def test_an_own_limit_of_honeycomb_is_not_broken_by_a_patch_alone():
    target = FinishTarget(product_line_id=1, high_share=0.02, honeycomb_share=0.0, id=3)
    one = patched()
    one = replace(one, summary=replace(one.summary, honeycomb_share=0.014))
    areas = (JudgedArea(name="a", reading=one),)
    own = own_criterion(target, "pots")
    assert judge(own, areas).grade == "within the target or outside the target"
    assert judge(own, areas, ByHand(honeycomb_seen=True)).grade == "outside the target"


def counting(small, large=0, *, face_mm2=1e6, spread=1e-6):
    """A reading of so many voids of 7 and 14 mm at 0.5 mm per px."""
    diameters = np.repeat([7.0, 14.0], [small, large]) / 0.5
    areas = np.pi * diameters**2 / 4
    share = float(areas.sum()) * 0.25 / face_mm2
    one = share_reading(
        share, share * (1 - spread), share * (1 + spread), face_mm2=face_mm2
    )
    return replace(one, voids=catalog(areas) if len(areas) else catalog())


@pytest.mark.parametrize(
    ("count", "low", "high"),
    # Garwood 1936, exact 95 % limits of a Poisson count.
    [(0, 0.0, 3.689), (1, 0.025, 5.572), (3, 0.619, 8.767), (10, 4.795, 18.390),
     (20, 12.217, 30.888)],
)  # fmt: skip
def test_counts_have_the_exact_poisson_interval(count, low, high):
    found = judged("svensk_betong_c", counting(count), figures={"fin_mm": 0.0})
    value = next(one for one in found.values if one.counted is not None)
    assert (value.value, value.counted) == (count, count)
    assert (value.low, value.high) == pytest.approx((low, high), abs=0.03)


def test_the_chance_of_a_count_is_the_exact_poisson_tail():
    # 3 voids on 0.5 m² against 5 per m²: a mean of 2.5 gives 3 or more in 0.4562 of
    # cases (closed form: 1 - exp(-2.5) (1 + 2.5 + 2.5²/2)).
    found = judged("bips_a24_bo22", counting(3, face_mm2=5e5))
    tail = 1 - np.exp(-2.5) * (1 + 2.5 + 2.5**2 / 2)
    assert dict(found.chances)["BO22"] == pytest.approx(tail, abs=0.002)


def test_a_count_per_area_is_judged_by_its_rate():
    assert judged("bips_a24_bo22", counting(0, face_mm2=4e6)).grade == "BO22"
    assert judged("bips_a24_bo22", counting(40, face_mm2=1e6)).grade == "outside BO22"
    few = judged("bips_a24_bo22", counting(2, face_mm2=2.5e5))
    assert few.grade == "BO22 or outside BO22"
    assert few.undecided == ()
    (said,) = (line for line in grade_lines(few) if line.startswith("Voids of 5 to 10"))
    # Garwood 1936: 2 counted, 0.2422 to 7.2247 expected; four times that per m².
    assert said.startswith("Voids of 5 to 10 mm: 8 per m² (95 %: 0.97")
    assert said.endswith(" to 28.8 per m²), 2 counted.")
    one_large = judged("bips_a24_bo22", counting(0, 12, face_mm2=1e6))
    assert one_large.grade == "outside BO22"


def test_sizes_are_half_open_and_near_an_end_they_count_in_some_draws():
    def sized(mm, spread=1e-9):
        areas = np.full(30, np.pi * mm**2)  # at 0.5 mm per px
        share = float(areas.sum()) * 0.25 / 1e6
        one = share_reading(
            share, share * (1 - spread), share * (1 + spread), face_mm2=1e6
        )
        found = judged("svensk_betong_c", replace(one, voids=catalog(areas)))
        return next(value for value in found.values if value.counted is not None)

    assert sized(5.0001).counted == 30
    assert sized(4.9999).counted == 0
    assert sized(9.9999).counted == 30
    assert sized(10.0001).counted == 0
    near = sized(4.99, spread=0.1)
    assert near.counted == 0
    assert near.high > 30


def test_voids_too_coarsely_counted_cannot_decide_a_count():
    one = counting(3)
    coarse = replace(one, summary=replace(one.summary, smallest_counted_mm=6.0))
    assert undecided_words(judged("svensk_betong_c", coarse)) == (
        "voids are counted from 6 mm and the limits from 5 mm"
    )


def test_the_older_text_is_told_only_where_it_says_something_else():
    agreeing = judged("oenorm_b2211_pores", share_reading(0.0045, 0.0042, 0.0049))
    assert agreeing.other is None
    # Half of the void area in voids under 1 mm, which the older text leaves out.
    fine = np.pi * 0.9**2
    count = round(0.0025 * LARGE_MM2 / 0.25 / fine)
    areas = np.concatenate(
        [np.full(count, fine), np.full(127, 0.0025 * LARGE_MM2 / 0.25 / 127)]
    )
    one = share_reading(0.005, 0.0049, 0.0051)
    found = judged("oenorm_b2211_pores", replace(one, voids=catalog(areas)))
    assert found.grade == "2P"
    assert found.other is not None
    assert found.other.grade == "P"
    assert undecided_words(found.other) == (
        "1 of the 2 areas of 0.25 m² it asks for was measured"
    )
    assert "pores by an older text: A photo cannot decide this" in grade_sentence(found)
    two = judged("oenorm_b2211_pores", *(2 * [replace(one, voids=catalog(areas))]))
    assert two.other.undecided == ()
    assert any(
        line.startswith("ÖNORM B 2211, pores by an older text (")
        for line in criterion_lines(criterion("oenorm_b2211_pores"))
    )


def test_the_older_text_refuses_one_void_over_15_mm():
    areas = np.array([np.pi * 16.0**2])  # 16 mm
    share = float(areas[0]) / (LARGE_MM2 / 0.25)
    one = share_reading(share, share * 0.99, share * 1.01)
    found = judged("oenorm_b2211_pores", replace(one, voids=catalog(areas)))
    assert found.grade == "P"
    assert found.other.grade == "worse than P"


def test_what_is_for_the_eye_is_shown_and_not_judged():
    found = judged("cast_stone_viewing", share_reading(0.002, 0.0019, 0.0021))
    assert (found.grade, found.chances, found.undecided) == ("", (), ())
    assert grade_sentence(found) == "Shown, not judged: this is for the eye."
    assert {one.quantity for one in found.values} == {"void_diameter_mm", "void_share"}
    assert not any("Limits" in line for line in criterion_lines(found.criterion))
    bare = judge(criterion("precast_viewing"), ())
    assert grade_sentence(bare) == "Shown, not judged: this is for the eye."
    assert grade_lines(bare) == ()


def test_what_is_shown_beside_a_grade_does_not_decide_it():
    areas = np.array([np.pi * 30.0**2])  # 30 mm, of which the copy says nothing
    share = float(areas[0]) * 0.25 / 1e6
    one = share_reading(share, share * 0.99, share * 1.01, face_mm2=1e6)
    found = judged("svensk_betong_c", replace(one, voids=catalog(areas)))
    assert found.grade == "C"
    assert "largest void" in " ".join(grade_lines(found)).lower()


def test_an_own_target_is_judged_the_same_way():
    target = FinishTarget(product_line_id=1, low_share=0.004, high_share=0.02, id=3)
    areas = (JudgedArea(name="a", reading=share_reading(0.004, 0.003, 0.0053)),)
    found = judge(own_criterion(target, "rough pots"), areas)
    assert found.grade == "within the target or outside the target"
    assert dict(found.chances)["within the target"] == pytest.approx(0.5, abs=0.03)


def test_what_comes_from_memory_says_so_first():
    for code in ("dbv_porosity", "aci_347_3r_svr", "gost_13015"):
        assert "from memory" in criterion_lines(criterion(code))[0].lower()
    lines = criterion_lines(criterion("usace_03301a"))
    assert "largest honeycomb patch under 10000 mm²" in lines[2]
    assert lines[-1].startswith("Source: 3.4.3; https://")


def test_a_criterion_without_a_clause_or_a_note_is_said_too():
    bare = Criterion(
        code="x",
        title="X",
        edition="1",
        clause="",
        source="s",
        tag="one_source",
        counts="c",
        beyond="worse",
        classes=(GradeClass(name="A"),),
    )
    assert criterion_lines(bare) == (
        "X (1). One copy seen: check against the document.",
        "c",
        "Limits: A: none set.",
        "Source: s.",
    )


def test_a_rare_class_is_not_named_but_its_chance_is_kept():
    found = judged("oenorm_b2211_pores", share_reading(0.0028, 0.00262, 0.00299))
    assert found.grade == "P"
    assert len(found.chances) == 2
    assert "Chance 9" in grade_sentence(found)
