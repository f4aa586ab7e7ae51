"""What is said of vibration: verdict, size, how sure; strokes are no seconds."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

import analysis.vibration
from analysis.model.vibration import (
    DOSE_COLUMNS,
    Decision,
    DoseEffect,
    FirstCause,
    OpenReason,
    ReasonCode,
    ShareSpan,
    VibrationQuestion,
)
from analysis.pieces.table import piece_table
from analysis.vibration.dose_answer import vibration
from analysis.vibration.next_casting import next_casting
from analysis.vibration.why import Facts, why
from analysis.vibration.words.advice import remedy
from analysis.vibration.words.decision import sentence
from analysis.vibration.words.notes import NOTE_WORDS, note_words
from analysis.vibration.words.reasons import cause_line, in_short, reason_line
from tests.benchmarks import vibration_shops
from tests.support.wording import codes_made

ASKED = VibrationQuestion(
    form_type="trough", method="table", target_low=0.0, target_high=0.006
)
EMPTY = vibration(piece_table([]), ASKED)
OF_SECONDS = re.compile(
    r"\b(seconds?|(?<!lots each )times?|longer|shorter|watch|Vibrate)\b|\d s\b"
)


def asked(dose):
    return replace(ASKED, dose=dose, method="rodding" if dose == "strokes" else "table")


def moved(ratio, low, high, **changes):
    return replace(
        EMPTY,
        **{
            "decision": "more",
            "current_s": 20.0,
            "suggested_s": 30.0,
            "change": DoseEffect(ratio=ratio, low=low, high=high),
            "reasons": (),
            "pours": 12,
        }
        | changes,
    )


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (
            moved(0.7, 0.6, 0.8),
            (
                "Vibrate longer: 30 s should give 30 % less void area than 20 s "
                "(20 to 40 % less), from 12 pours: clear."
            ),
        ),
        (
            moved(0.7, 0.6, 0.8, question=asked("strokes"), left_out=3),
            (
                "Rod with more strokes: 30 strokes should give 30 % less void area "
                "than "
                "20 strokes (20 to 40 % less), from 12 pours: clear; 3 pieces left out."
            ),
        ),
        (
            moved(
                1.4,
                1.2,
                1.6,
                question=asked("passes"),
                decision="less",
                suggested_s=1.0,
                current_s=3.0,
                pours=1,
                left_out=1,
            ),
            (
                "Make fewer passes: 1 pass should give 40 % more void area than 3 "
                "passes "
                "(20 to 60 % more), from 1 pour: clear; 1 piece left out."
            ),
        ),
        (
            replace(
                EMPTY,
                decision="same",
                current_s=20.0,
                now=ShareSpan(middle=0.004, low=0.003, high=0.005),
                pours=9,
            ),
            (
                "Keep the time: 20 s gives 0.4 % void area (0.3 to 0.5 %) and meets "
                "the "
                "target of up to 0.6 %, from 9 pours: clear."
            ),
        ),
        (
            replace(
                EMPTY,
                decision="other_cause_first",
                cause=FirstCause(
                    name="joint_sealing", worse="none", better="tape", ratio=1.5
                ),
                pours=9,
            ),
            (
                "Something else first: pieces with open joints have 50 % more void "
                "area "
                "than those with joints sealed with tape, from 9 pours: clear."
            ),
        ),
        (
            replace(
                EMPTY, decision="other_cause_first", cause=FirstCause(name="form_use")
            ),
            "Something else first: the forms are worn.",
        ),
        (
            replace(
                EMPTY,
                reasons=(
                    OpenReason(code="either_side"),
                    OpenReason(code="went_along", names=("release_application",)),
                ),
                pours=5,
            ),
            (
                "Not enough evidence yet: a typical piece may lie on either side of "
                "the "
                "target, from 5 pours; the way of applying release changed along with "
                "the "
                "seconds."
            ),
        ),
    ],
)
def test_one_line_holds_verdict_size_and_how_sure(answer, said):
    assert sentence(answer) == said


@pytest.mark.parametrize("code", get_args(ReasonCode))
@pytest.mark.parametrize("dose", DOSE_COLUMNS)
def test_each_reason_is_said_of_each_dose(dose, code):
    name = "table" if code == "nothing_cast" else "form_use"
    reason = OpenReason(code=code, names=(name,), count=2.0)
    short, long = in_short(reason, asked(dose)), reason_line(reason, asked(dose))

    assert long[0].isupper()
    assert long.endswith(".")
    assert not short.endswith(".")
    assert "form_use" not in short + long
    if dose != "seconds":
        assert not OF_SECONDS.search(short + long)


@pytest.mark.parametrize("dose", ["strokes", "passes"])
def test_strokes_and_passes_are_never_called_seconds(dose):
    facts = Facts(
        question=asked(dose),
        decision="more",
        current_s=20.0,
        tried=(10.0, 25.0),
        pours=8,
        now=ShareSpan(middle=0.009, low=0.008, high=0.01),
        expected=ShareSpan(middle=0.005, low=0.004, high=0.006),
        suggested_s=40.0,
    )
    cause = FirstCause(name="release_agent", worse="oil", better="wax", ratio=2.0)
    notes = []
    for decision in get_args(Decision):
        first = cause if decision == "other_cause_first" else None
        made = replace(facts, decision=decision, cause=first)
        trial = next_casting(made, None, None, "form_use")
        notes += [*why(made), trial.title, *trial.steps]
    said = " ".join(map(note_words, notes))

    assert dose in said
    assert "more than anything tried" in said
    assert not OF_SECONDS.search(said), OF_SECONDS.findall(said)


def test_every_note_has_words_and_none_is_left_over():
    by_the_planner = {"next_step"}
    assert codes_made(analysis.vibration) | by_the_planner == set(NOTE_WORDS)


def test_a_cause_is_told_by_its_size_and_its_cure():
    oil = FirstCause(
        name="release_agent", worse="oil", better="", ratio=1.3, low=1.1, high=1.5
    )

    assert cause_line(oil) == (
        "pieces with release agent oil have 30 % more void area than those with "
        "release agent not known (10 to 50 % more)"
    )
    assert remedy(oil, "seconds") == (
        "Change the release agent, then look at the time again."
    )
    seal = FirstCause(name="joint_sealing", worse="none", better="tape", ratio=2.0)
    assert remedy(seal, "passes") == (
        "Cast with joints sealed with tape, then look at the passes again."
    )


def test_what_is_left_out_is_counted_without_pieces_of_other_methods():
    made = vibration_shops.shop("two_methods", np.random.default_rng([1, 77]))
    rows = [dict(row) for row in made.rows]
    of_table = [row for row in rows if row["vibration_method"] == "table"]
    of_table[0]["vibration_s"] = ""
    of_table[1]["void_area_percent"] = ""
    answer = vibration(piece_table(rows), made.question)

    assert answer.left_out == 2
    assert sentence(answer).endswith("; 2 pieces left out.")
    assert any(
        "of another vibration method" in line
        for line in map(note_words, answer.rests_on)
    )


def test_what_a_change_should_do_is_that_of_the_curve():
    made = vibration_shops.shop("under_vibrated", np.random.default_rng([1, 77]))
    answer = vibration(piece_table(made.rows), made.question)

    assert answer.decision == "more"
    assert answer.change.low < answer.change.ratio < answer.change.high < 1
    ratio = answer.expected.middle / answer.now.middle
    assert answer.change.ratio == pytest.approx(ratio, rel=0.1)
