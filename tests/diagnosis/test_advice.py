"""Causes, cautions and repair: each with its source; figures from the handbooks."""

from __future__ import annotations

import re
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
from analysis.diagnosis.repair_words import RECIPES, repair_words
from analysis.errors import InputError
from analysis.model.diagnosis import NamedPattern, Pattern, Placement
from analysis.model.notes import note

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
    return NamedPattern(
        pattern=pattern, where=where, evidence=note("bunched", ratio=0.5)
    )


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
    assert "strength" in NOT_STRENGTH


def figure(text, after, unit):
    """The number that stands between some words and its unit."""
    found = re.search(rf"{re.escape(after)} ([\d.]+) {re.escape(unit)}", text)
    assert found, text
    return float(found[1])


def by_title(at, start):
    return next(one for one in cautions(at) if one.title.startswith(start))


def daily_exposure(of_tasks):
    """A(8) of ISO 5349-1: vibration total values in m/s², hours."""
    return sum(value**2 * hours / 8 for value, hours in of_tasks) ** 0.5


def test_daily_exposure_is_that_of_a_published_report():
    # Worked example of a forestry day: 4.60 for 2 h, 6.00 for 1 h and 3.60 for 2 h give
    # 2.30, 2.12, 1.80 and 3.61 in all (github.com/jmrplens/phonometry, human vibration
    # example report, after ISO 5349-1).
    tasks = [(4.6, 2), (6.0, 1), (3.6, 2)]
    each = [daily_exposure([one]) for one in tasks]
    assert each == pytest.approx([2.30, 2.12, 1.80], abs=0.005)
    assert daily_exposure(tasks) == pytest.approx(3.61, abs=0.005)


def test_vibration_figures_are_those_of_the_directive():
    # Directive 2002/44/EC, article 3: action value 2.5, limit 5 m/s², over 8 hours.
    said = by_title("vibrating", "Vibrating tools").more
    action = figure(said, "daily action value of", "m/s²")
    assert (action, figure(said, "limit of", "m/s²")) == (2.5, 5.0)
    hours = figure(said, "reaches the action value in", "hours")
    assert daily_exposure([(5.0, hours)]) == pytest.approx(action)


def test_silica_figures_are_those_of_osha():
    # 29 CFR 1926.1153(c) and (b): 50 µg/m³ as an 8-hour average, action level 25. The
    # NIOSH limit of 0.05 mg/m³ is the same.
    said = by_title("repair", "Silica").more
    assert figure(said, "The limit in the US is", "µg/m³") == 0.05 * 1000
    assert figure(said, "from", "µg/m³") == 25


def test_noise_starts_to_harm_where_niosh_says():
    # NIOSH: 85 dBA over 8 hours, the action level of OSHA too.
    assert figure(by_title("vibrating", "Vibrating").more, "risk from", "dB") == 85


def test_mains_tools_are_for_cordless_first_and_behind_an_rcd():
    for at in ("vibrating", "repair"):
        said = by_title(at, "Mains power")
        assert said.text.startswith("Cordless first.")
        assert all(word in said.text for word in ("RCD", "GFCI", "dry hands"))
        # An RCD for people: no more than 30 mA.
        assert figure(said.more, "trips at", "mA") == 30


def test_early_striking_has_the_figures_of_its_source():
    # Told of a Cement and Concrete Association report: 290 psi by cubes, as after about
    # 12 hours at 68 °F.
    early = next(one for one in causes() if one.pattern == "torn arris")
    assert figure(early.remedy, "a strength of", "N/mm²") == pytest.approx(
        290 * 6894.757 / 1e6, abs=0.05
    )
    assert "12 hours at 20 °C" in early.remedy
    assert pytest.approx(20) == (68 - 32) / 1.8


def test_repairs_are_early():
    # USACE UFGS 03301A, 3.4.3: all repairs within 48 hours of form removal.
    assert any("48 hours" in text and "03301A" in source for text, source in RECIPES)


def test_standing_is_not_for_stiff_mixes():
    (fine,) = (one for one in causes() if one.pattern == "fine")
    assert "a stiff mix only gets stiffer" in fine.remedy


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

    assert repair_words(note).startswith("Leave them")
    assert note.to_fill == 0
    assert note.filler_cm3 == 0


def test_distance_of_view_decides():
    sizes = np.array([2.0, 5.0, 9.0])

    assert repair_words(repair_note(sizes, view_m=1.0)).startswith("2 voids of 3 mm")
    assert repair_words(repair_note(sizes, view_m=2.0)).startswith("1 void of 5.8 mm")
    assert repair_words(repair_note(sizes, view_m=5.0)).startswith("Leave them")


def test_deep_voids_are_to_be_measured_not_computed():
    note = repair_note(np.array([5.0, 20.0]))

    assert note.deep_voids == 1
    assert note.filler_cm3 == pytest.approx(filler_cm3(np.array([5.0])))
    assert all(source for _, source in RECIPES)


@pytest.mark.parametrize("view_m", [0.0, -1.0, float("nan"), float("inf")])
def test_no_distance_is_refused(view_m):
    with pytest.raises(InputError, match="Distance of view"):
        repair_note(np.array([5.0]), view_m=view_m)
