"""More, the same, less, something else first, or not known yet."""

import re
from dataclasses import replace

import numpy as np
import pytest

from analysis.errors import InputError, TableError
from analysis.model.vibration import VibrationQuestion
from analysis.pieces.table import piece_table
from analysis.vibration import other_causes
from analysis.vibration.dose_answer import vibration
from analysis.vibration.dose_rows import gather
from analysis.vibration.suggestions import nice_times
from analysis.vibration.words.advice import checks
from analysis.vibration.words.decision import sentence, vibration_keys, vibration_text
from analysis.vibration.words.notes import note_words
from tests.benchmarks import vibration_shops

SHOPS = 3  # of each kind; the study asks a hundred, of other seeds
FIRM = {"more", "same", "less", "other_cause_first"}
ASKED = VibrationQuestion(
    form_type="trough", method="table", target_low=0.0, target_high=0.006
)


def said(notes):
    return tuple(map(note_words, notes))


def shop_of(kind, seed=1):
    return vibration_shops.shop(kind, np.random.default_rng([seed, 77]))


def answer_of(kind, seed=1, **changes):
    made = shop_of(kind, seed)
    return vibration(piece_table(made.rows), replace(made.question, **changes))


@pytest.mark.parametrize("kind", vibration_shops.KINDS)
def test_known_truths(kind):
    found = []
    for seed in range(SHOPS):
        made = shop_of(kind, seed)
        answer = vibration(piece_table(made.rows), made.question)
        found.append((answer.decision, answer.decision in made.right))
        if answer.suggested_s is not None:
            shortest, longest = answer.tried_s
            assert 0.5 * shortest <= answer.suggested_s <= 1.75 * longest
            assert answer.expected.low < answer.expected.middle < answer.expected.high

    assert not [said for said, right in found if said in FIRM and not right]
    if kind not in vibration_shops.OPEN:
        assert any(right for _, right in found)


def test_seconds_of_another_method_change_nothing():
    made = shop_of("two_methods")
    tables = [row for row in made.rows if row["vibration_method"] == "table"]
    alone = vibration(piece_table(tables), made.question)
    both = vibration(piece_table(made.rows), made.question)

    assert both.suggested_s == alone.suggested_s
    assert both.expected == alone.expected
    assert "of another vibration method (poker)" in said(both.rests_on)[0]


def test_order_of_rows_changes_nothing():
    made = shop_of("under_vibrated")
    turned = vibration(piece_table(made.rows[::-1]), made.question)
    straight = vibration(piece_table(made.rows), made.question)

    assert turned.decision == straight.decision
    assert turned.expected.middle == pytest.approx(straight.expected.middle, rel=0.05)


def test_stage_as_struck_is_asked_of():
    made = shop_of("under_vibrated")
    ground = [
        row | {"stage": "ground", "piece": f"g{n}", "void_area_percent": 5.0}
        for n, row in enumerate(made.rows)
    ]
    struck = [row | {"stage": "as struck"} for row in made.rows]
    answer = vibration(piece_table(struck + ground), made.question)

    assert answer.decision == "more"
    assert any("of another stage" in line for line in said(answer.rests_on))


def test_leaks_come_before_seconds():
    answer = answer_of("leak_dominated", 2)

    assert answer.cause.name == "joint_band_percent"
    assert any("does not close a leaking joint" in line for line in said(answer.why))
    assert any("Seal and clamp" in line for line in said(answer.why))
    assert answer.trial.times_s == ()
    assert "joint sealing" in note_words(answer.trial.title)


def test_stones_of_a_stiff_mix_come_before_seconds():
    made = shop_of("no_effect", 2)
    rows = [
        row | {"consistency": "stiff", "honeycomb_percent": 2.0} for row in made.rows
    ]
    answer = vibration(piece_table(rows), made.question)

    assert answer.cause.name == "honeycomb_percent"
    assert any("can be worked" in line for line in said(answer.why))


def test_wear_names_the_form():
    answer = answer_of("wear", 1)

    assert answer.cause.name == "form_use"
    assert any("worn" in line for line in said(answer.why))


def test_confounded_seconds_are_named():
    answer = answer_of("confounded")

    assert answer.decision == "not_enough_evidence"
    assert any("changed with release agent" in line for line in said(answer.why))
    assert any(
        "Keep release agent the same" in line for line in said(answer.trial.steps)
    )


def test_time_outside_what_was_tried_is_not_judged():
    answer = answer_of("enough", current_s=10_000.0)

    assert answer.decision == "not_enough_evidence"
    assert answer.now is None
    assert any("nothing to go by" in line for line in said(answer.why))


def test_one_pour_is_too_few():
    rows = [row for row in shop_of("enough").rows if row["pour"] == "P000"]
    answer = vibration(piece_table(rows), ASKED)

    assert answer.decision == "not_enough_evidence"
    assert said(answer.why)[-1].startswith("Only 1 pour of this form type")


def test_one_time_says_nothing_of_another():
    made = shop_of("one_time")
    answer = vibration(piece_table(made.rows), replace(made.question, target_high=1e-4))

    assert answer.decision == "not_enough_evidence"
    assert any("one time cannot say" in line for line in said(answer.why))
    assert answer.curve is None


def test_nothing_cast_is_todays_trial():
    answer = vibration(piece_table([]), ASKED)

    assert answer.decision == "not_enough_evidence"
    assert answer.trial.times_s == (20.0, 40.0)
    (drawn,) = re.findall(r"drawn by lot: (.*?)\.", " ".join(said(answer.trial.steps)))
    assert sorted(drawn.split(", ")) == ["20 s", "20 s", "40 s", "40 s"]
    assert "Before you vibrate:" in vibration_text(answer)


def test_other_types_in_the_log_are_named():
    table = piece_table(shop_of("enough").rows)
    answer = vibration(table, replace(ASKED, form_type="bowl"))

    assert said(answer.why) == (
        "The log has no measured bowl (table) yet. It has trough.",
    )
    other = vibration(table, replace(ASKED, form_type="trough", method="poker"))
    assert said(other.why) == (
        "The log has no measured trough (poker) yet. Methods used for it: table.",
    )


def test_by_hand_strokes_are_counted():
    answer = vibration(piece_table([]), replace(ASKED, method="rodding"))

    assert answer.trial.times_s == ()
    assert "strokes" in note_words(answer.trial.title)
    assert any("leaves no hole" in line for line in checks("rodding"))


def test_current_is_the_latest_pour():
    made = shop_of("under_vibrated")
    latest = max(row["cast_on"] for row in made.rows)
    seconds = {row["vibration_s"] for row in made.rows if row["cast_on"] == latest}
    answer = vibration(piece_table(made.rows), replace(made.question, current_s=None))

    assert {answer.current_s} == seconds


def test_keys_hold_percent():
    answer = answer_of("under_vibrated")
    keys = vibration_keys(answer)

    assert keys["expected_percent"] == pytest.approx(100 * answer.expected.middle)
    assert keys["expected_low"] < keys["expected_percent"] < keys["expected_high"]
    assert sentence(answer).startswith("Vibrate longer: ")


def test_missing_column_is_named():
    row = {"piece": 1, "pour": 1, "form_type": "trough", "vibration_method": "table"}
    with pytest.raises(TableError, match="vibration_s"):
        vibration(piece_table([row]), ASKED)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"target_low": 0.01}, "must be below its upper end"),
        ({"target_high": float("nan")}, "Upper end of the target"),
        ({"target_low": -0.1}, "Lower end of the target"),
        ({"target_high": 1.5}, "Upper end of the target"),
        ({"current_s": float("nan")}, "Seconds used now"),
        ({"current_s": -1.0}, "Seconds used now"),
        ({"form_type": " "}, "form type"),
        ({"method": ""}, "vibration method"),
    ],
)
def test_refuses_what_cannot_be_asked(changes, said):
    with pytest.raises(InputError, match=said):
        replace(ASKED, **changes)


def test_offered_times_are_round_and_hold_the_present_one():
    times = nice_times(15.0, 105.0, 33.0)

    assert 33.0 in times
    assert set((times % 1).tolist()) == {0.0}
    assert (times.min(), times.max()) == (15.0, 105.0)


@pytest.mark.parametrize(("low", "decision"), [(0.0, "same"), (0.002, None)])
def test_faces_without_a_void_are_below_any_target(low, decision):
    # No scale: neither the smallest size nor the face's area is known.
    rows = [
        {
            "piece": n,
            "pour": n // 4,
            "form_type": "pot",
            "vibration_method": "table",
            "vibration_s": (15, 30)[n // 4 % 2],
            "void_area_percent": 0.0,
        }
        for n in range(40)
    ]
    asked = VibrationQuestion(
        form_type="pot", method="table", target_low=low, target_high=0.006
    )
    found = vibration(piece_table(rows), asked)
    if decision:
        assert found.decision == decision
    assert found.now.high < (low or 0.006)


@pytest.mark.parametrize("many", [0, 10_000])
@pytest.mark.parametrize(("moved", "told"), [(0.0, "mix"), (0.5, None)])
def test_what_went_along_is_told_of_few_pours_and_of_many(
    monkeypatch, many, moved, told
):
    """Of many pours by sums: both ways say the same of a setting with two levels."""
    monkeypatch.setattr(other_causes, "MANY_POURS", many)
    random = np.random.default_rng(20261127)
    stiff = np.arange(60) % 2 == 0
    apart = stiff ^ (random.random(60) < moved)
    rows = [
        {
            "piece": 2 * pour + place,
            "pour": pour,
            "form_type": "pot",
            "vibration_method": "table",
            "vibration_s": 20 + 20 * int(apart[pour]) + random.integers(2),
            "mix": "stiff" if stiff[pour] else "wet",
            "void_area_percent": round(float(random.uniform(0.3, 0.5)), 3),
        }
        for pour in range(60)
        for place in range(2)
    ]
    asked = VibrationQuestion(
        form_type="pot", method="table", target_low=0.0, target_high=0.004
    )
    assert other_causes.went_along(gather(piece_table(rows), asked)) == told
