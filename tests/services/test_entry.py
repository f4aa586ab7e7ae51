"""Texts of fields: what is not known, none and not applicable stay apart."""

from datetime import date, time

import pytest

from analysis.errors import InputError
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import FinishTarget, Form, FormJoint, Mix, MixPart
from analysis.services import entry
from analysis.vocabulary import NONE, NOT_APPLICABLE

FULL = (
    Pour(
        name="12",
        cast_on=date(2026, 3, 31),
        cast_at=time(23, 30),
        zone="Europe/Oslo",
        mix_id=3,
        water_added_l=7.25,
        consistency=NONE,
        slump_mm=0.0,
        air_c=-4.5,
        humidity_share=0.55,
        crew="two",
    ),
    Piece(
        name="007",
        pour_id=4,
        form_id=2,
        joints=(
            JointState(joint="left", sealing="tape", leak=NONE),
            JointState(joint="right", sealing=NONE),
        ),
        steps=(
            Step(method="table", seconds=40.0, certainty="measured", fill_share=0.5),
            Step(method="rodding", strokes=25, people=2),
        ),
        release_agent=NOT_APPLICABLE,
        lifts=2,
        strike_after_h=22.5,
        show_faces="front",
    ),
    Form(
        name="Trough A",
        joints=(FormJoint(name="left", default_sealing="tape"),),
        starting_use_count=30,
        made_on=date(2025, 1, 2),
    ),
    Mix(name="grey", basis="by_feel", parts=(MixPart(kind="fibre", name="glass"),)),
    FinishTarget(product_line_id=1, low_share=0.002, high_share=0.015),
    Outcome(piece_id=1, outcome="second", eye_score=6, stage="ground"),
    Repair(piece_id=1, minutes=12.5, repaired_on=date(2026, 4, 1)),
)


@pytest.mark.parametrize("record", FULL, ids=lambda one: type(one).__name__)
def test_a_record_goes_round(record):
    assert entry.from_texts(type(record), entry.to_texts(record)) == record


def test_three_different_things_stay_three():
    said = {
        text: entry.from_texts(
            Piece, {"name": "7", "pour_id": "1", "release_agent": text}
        ).release_agent
        for text in ("", "none", "not applicable")
    }

    assert said == {"": None, "none": "none", "not applicable": "not applicable"}


@pytest.mark.parametrize("text", ["0,8", "0.8", " 0,8 ", "0,8 l", "8e-1"])
def test_comma_and_point_are_both_taken_and_echoed(text):
    assert entry.echo("water_added_l", text) == "0.8 l"
    texts = {"name": "1", "cast_on": "2026-03-31", "water_added_l": text}
    assert entry.from_texts(Pour, texts).water_added_l == 0.8


def test_percent_is_taken_as_share():
    assert entry.echo("low_share", "1,25 %") == "1.25 %"
    found = entry.from_texts(FinishTarget, {"product_line_id": "1", "low_share": "55"})
    assert found.low_share == 0.55


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1.200", "could be 1200 or 1.200"),
        ("1,200", "could be 1200 or 1.200"),
        ("many", "is not a number"),
        ("nan", "is not a number"),
        ("inf", "is not a number"),
    ],
)
def test_a_number_that_is_none_or_two_is_refused(text, why):
    with pytest.raises(InputError, match=f"Vibration, s: '{text}' {why}"):
        entry.from_texts(Step, {"seconds": text})


@pytest.mark.parametrize(
    ("kind", "texts", "why"),
    [
        (Step, {"strokes": "2,5"}, "Strokes: '2,5' is not a whole number"),
        (Pour, {"name": "1", "cast_on": ""}, "Cast on is blank"),
        (Pour, {"name": "1", "cast_on": "1.3."}, "'1.3.' is not a date"),
        (Pour, {"cast_at": "noon", "cast_on": "2026-03-31"}, "'noon' is not a time"),
        (Step, {"seconds": "-3"}, "Vibration must be between 0"),
    ],
)
def test_what_cannot_be_is_refused(kind, texts, why):
    with pytest.raises(InputError, match=why):
        entry.from_texts(kind, texts)


@pytest.mark.parametrize("text", ["7:05", "7.05", "07:05"])
def test_time_with_a_point_is_a_time(text):
    texts = {"name": "1", "cast_on": "2026-03-31", "cast_at": text}
    assert entry.from_texts(Pour, texts).cast_at == time(7, 5)


def test_a_blank_part_is_no_part_and_parts_keep_their_order():
    texts = entry.with_parts(
        {"name": "7", "pour_id": "1"},
        "steps",
        [{"method": f"m{k}", "seconds": ""} for k in range(12)]
        + [entry.blank_part(Piece, "steps")],
    )
    found = entry.from_texts(Piece, texts)

    assert [step.method for step in found.steps] == [f"m{k}" for k in range(12)]


def test_known_fields_win():
    texts = entry.to_texts(FULL[1])
    found = entry.from_texts(Piece, texts, id=5, version=3, pour_id=9)

    assert (found.id, found.version, found.pour_id) == (5, 3, 9)
