"""Causes, cautions and repair: each with its source; figures from the handbooks."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from analysis.diagnosis.advice import (
    CAUTION_PLACES,
    NOT_STRENGTH,
    causes,
    cautions,
    likely_causes,
)
from analysis.diagnosis.repair import filler_cm3, repair_note
from analysis.errors import InputError
from analysis.model.diagnosis import NamedPattern, Pattern, Placement

NOTHING = Placement(
    voids=80,
    faces=1,
    joints=(),
    thirds_per_m2=None,
    top=None,
    slope=None,
    insert=None,
    neighbour_ratio=1.0,
    neighbour_p=0.5,
    fine_share=0.5,
    coarse_share=0.0,
    honeycomb_share=0.0,
    honeycomb_at="",
)


def named(pattern, where=""):
    return NamedPattern(pattern=pattern, where=where, evidence="seen")


def test_every_pattern_has_causes_with_remedy_and_source():
    for pattern in (*get_args(Pattern), "coarse", "fine"):
        own = [one for one in causes() if one.pattern == pattern]
        assert own
        for one in own:
            assert one.sure in {"likely", "possible"}
            assert all((one.cause, one.tell_apart, one.remedy, one.source))


def test_causes_follow_the_patterns_likely_ones_first():
    found = likely_causes(NOTHING, [named("more_at_top"), named("clusters")])

    assert [one.pattern for one in found] == ["more_at_top"] * 2 + ["clusters"] * 2
    assert [one.sure for one in found] == ["likely", "possible"] * 2


def test_stones_along_a_joint_put_the_joint_first():
    away = likely_causes(NOTHING, [named("honeycomb")])
    along = likely_causes(NOTHING, [named("honeycomb", "left")])

    assert "stiff" in away[0].cause
    assert "joint" in along[0].cause


@pytest.mark.parametrize(
    ("changes", "patterns"),
    [
        ({}, set()),
        ({"coarse_share": 0.6}, {"coarse"}),
        ({"fine_share": 0.95}, {"fine"}),
        ({"fine_share": 0.95, "voids": 10}, set()),
    ],
)
def test_sizes_speak_where_nothing_stands_out(changes, patterns):
    found = likely_causes(replace(NOTHING, **changes), [])

    assert {one.pattern for one in found} == patterns


def test_cautions_have_sources_and_figures():
    for at in CAUTION_PLACES:
        assert all((one.title and one.text and one.source) for one in cautions(at))
    # Hand-arm vibration: action value 2.5 m/s2; silica: OSHA 29 CFR 1926.1153.
    assert "2.5 m/s²" in cautions("vibrating")[0].more
    assert "50 µg/m³" in cautions("repair")[0].more
    assert "strength" in NOT_STRENGTH


def test_no_such_work_is_refused():
    with pytest.raises(InputError, match="Kind of work must be one of"):
        cautions("baking")


@pytest.mark.parametrize(
    ("diameter", "mm3"), [(3, 7.07), (5, 32.7), (10, 261.8), (15, 883.6)]
)
def test_filler_of_a_hemisphere(diameter, mm3):
    # V = pi d^3 / 12, derived; 15 mm is beyond where it holds
    assert 1000 * filler_cm3(np.array([float(diameter)])) == pytest.approx(
        mm3, rel=1e-3
    )


def test_filler_of_a_square_metre():
    # 0.6 % of 1 m2 in voids of 6 mm: 12 cm3, derived
    count = round(0.006 * 1e6 / (np.pi / 4 * 36))

    assert filler_cm3(np.full(count, 6.0)) == pytest.approx(12.0, rel=0.01)


def test_small_voids_are_left():
    note = repair_note(np.full(30, 2.0))

    assert note.advice.startswith("Leave them")
    assert note.recipes == ()
    assert note.filler_cm3 == 0


def test_distance_of_view_decides():
    sizes = np.array([2.0, 5.0, 9.0])

    assert repair_note(sizes, view_m=1.0).advice.startswith("2 voids of 3 mm")
    assert repair_note(sizes, view_m=2.0).advice.startswith("1 void of 5.8 mm")
    assert repair_note(sizes, view_m=5.0).advice.startswith("Leave them")


def test_deep_voids_are_to_be_measured_not_computed():
    note = repair_note(np.array([5.0, 20.0]))

    assert note.deep_voids == 1
    assert note.filler_cm3 == pytest.approx(filler_cm3(np.array([5.0])))
    assert all(source for _, source in note.recipes)


@pytest.mark.parametrize("view_m", [0.0, -1.0, float("nan"), float("inf")])
def test_no_distance_is_refused(view_m):
    with pytest.raises(InputError, match="Distance of view"):
        repair_note(np.array([5.0]), view_m=view_m)
