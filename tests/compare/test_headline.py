"""The headline of a comparison: a sentence for each code, out of its values."""

from __future__ import annotations

import pytest

from analysis.compare.compare import compare
from analysis.compare.headline import (
    answer_lines,
    cause_sentence,
    headline_of,
    headline_sentence,
)
from analysis.model.comparison import OUTCOMES, Alias, CompareOptions
from analysis.model.headline import Headline
from analysis.pieces.table import read_table
from tests.support.compare_log import table_text


def line(**changes):
    values = {
        "verdict": "lower",
        "by": "joints_sealed",
        "outcome": "void_area_percent",
        "levels": ("yes", "no"),
        "ratio": 0.48,
        "low": 0.42,
        "high": 0.56,
        "counted": 26,
        "of_each": (13, 13),
    }
    return Headline(**(values | changes))


def alias(factor="mix", **more):
    return Alias(factor=factor, names=("", ""), **more)


@pytest.mark.parametrize(
    ("ratio", "low", "high", "said"),
    [
        (0.48, 0.42, 0.56, "about half the void area of open ones (42 to 56 %)"),
        (0.33, 0.25, 0.44, "about a third of the void area of open ones (25 to 44 %)"),
        (0.7, 0.6, 0.8, "30 % less void area than open ones (20 to 40 % less)"),
        (0.09, 0.05, 0.14, "about 9 % of the void area of open ones (5 to 14 %)"),
        (1.43, 1.2, 1.7, "43 % more void area than open ones (20 to 70 % more)"),
        (0.8, 0.6, 1.02, "20 % less void area than open ones (40 % less to 2 % more)"),
        (2.0, 1.5, 2.6, "about twice the void area of open ones (1.5 to 2.6 times)"),
        (3.2, 2.4, 4.1, "about 3.2 times the void area of open ones (2.4 to 4.1 "),
        (0.5, None, None, "about half the void area of open ones, from 26 pours"),
    ],
)
def test_the_size_is_a_part_a_percentage_or_times(ratio, low, high, said):
    verdict = "lower" if ratio < 1 else "higher"
    told = headline_sentence(line(verdict=verdict, ratio=ratio, low=low, high=high))

    assert told.startswith("Sealed joints had ")
    assert said in told
    assert told.endswith(", from 26 pours: clear.")


def test_a_clear_difference_of_other_settings_and_outcomes():
    mix = line(by="mix", levels=("C25", "C40"), ratio=0.7, low=0.6, high=0.8)
    assert headline_sentence(mix).startswith(
        "Pieces with mix C25 had 30 % less void area than those with mix C40 ("
    )
    voids = line(outcome="voids_per_m2", ratio=0.7, low=0.6, high=0.8)
    assert "had 30 % fewer voids than open ones (20 to 40 % fewer)" in (
        headline_sentence(voids)
    )
    largest = line(outcome="largest_void_mm", ratio=0.7, low=0.6, high=0.8)
    assert "had largest voids 30 % smaller than open ones" in headline_sentence(largest)
    forms = line(by="form", levels=("Trough A", "Trough B"))
    assert headline_sentence(forms).startswith("Pieces from form Trough A had")
    assert "those from form Trough B" in headline_sentence(forms)


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_no_sentence_holds_the_name_of_a_column(outcome):
    for verdict in (
        "lower",
        "higher",
        "no_clear_difference",
        "not_enough_evidence",
        "cannot_separate",
    ):
        told = headline_sentence(
            line(
                verdict=verdict,
                outcome=outcome,
                by="release_agent",
                levels=("none", "oil"),
                adjusted_for=("cement_lot", "cast_on"),
                aliases=(alias("form_type"),),
            )
        )
        assert "_" not in told
        assert told.endswith(".")


def test_what_was_taken_and_left_out_takes_half_a_sentence():
    told = headline_sentence(line(adjusted_for=("release_agent",), left_out=3))
    assert told.endswith("clear, with release agent taken out; 3 pieces left out.")

    told = headline_sentence(line(adjusted_for=("mix", "cast_on"), left_out=1))
    assert told.endswith("mix and drift over time taken out; 1 piece left out.")

    told = headline_sentence(line(adjusted_for=("mix", "crew", "form")))
    assert told.endswith("clear, with 3 other things taken out.")


def test_no_clear_difference_says_what_would_still_fit():
    told = headline_sentence(
        line(verdict="no_clear_difference", ratio=1.02, low=0.8, high=1.3)
    )
    assert told == (
        "No clear difference between sealed joints and open ones in void area "
        "(20 % less to 30 % more), from 26 pours."
    )


def test_too_little_says_how_many_pours_there_are():
    told = headline_sentence(line(verdict="not_enough_evidence", of_each=(1, 2)))
    assert told == (
        "Can't say yet whether sealed joints and open ones differ in void area: "
        "1 pour against 2."
    )


def test_joints_of_one_piece_are_counted_in_pieces():
    told = headline_sentence(line(counted=9, in_pieces=True))
    assert told.endswith("from 9 pieces: clear.")


@pytest.mark.parametrize(
    ("aliases", "said"),
    [
        (
            (alias("form", sides=(("Trough B",), ("Trough A", "Trough C"))),),
            "all sealed joints came from Trough B; cast both ways in one form.",
        ),
        (
            (alias("mix", sides=(("A", "B"), ("C25",))),),
            "all open joints had mix C25; cast both ways with the same mix.",
        ),
        (
            (alias("mix", sides=(("A", "B"), ("C", "D"))),),
            (
                "sealed joints and open joints never had the same mix; cast both ways "
                "with the same mix."
            ),
        ),
        (
            (alias("vibration_s", kind="range"),),
            (
                "sealed joints and open joints never had the same vibration; cast both "
                "ways with the same vibration."
            ),
        ),
        (
            (alias("cast_on", kind="after"),),
            (
                "all sealed joints were cast after all open joints; cast both ways in "
                "one pour."
            ),
        ),
        (
            (alias("crew", kind="nearly"),),
            (
                "crew changed along with it nearly every time; cast both ways with the "
                "same crew."
            ),
        ),
        (
            (alias("mix"), alias("cast_on", kind="before")),
            (
                "mix and time changed along with it; cast both ways in one pour, all "
                "else the same."
            ),
        ),
        (
            (alias("mix", kind="together"), alias("crew", kind="together")),
            (
                "mix and crew together always went with it; cast both ways in one "
                "pour, all else the same."
            ),
        ),
    ],
)
def test_what_cannot_be_told_apart_is_named_with_the_casting(aliases, said):
    told = headline_sentence(line(verdict="cannot_separate", aliases=aliases))
    assert told == f"Can't say it was the sealing: {said}"


def test_an_answer_fills_its_headline():
    table = read_table(table_text())
    found = compare(table, CompareOptions(by="joints_sealed", levels=("yes", "no")))

    told = headline_of(found)
    assert (told.verdict, told.counted, told.of_each) == ("lower", 12, (6, 6))
    head, cause, figures = answer_lines(found)
    assert head.startswith("Sealed joints had ")
    assert cause == cause_sentence(found.head)
    assert "not noted whether they were dealt by lot" in cause
    assert figures.startswith("Sealed joints: 0.4")


def test_an_alias_of_a_table_is_named_in_the_headline():
    table = read_table(table_text(aliased=True))
    found = compare(table, CompareOptions(by="joints_sealed", levels=("yes", "no")))

    assert headline_sentence(headline_of(found)) == (
        "Can't say it was the sealing: all sealed joints had release agent wax; cast "
        "both ways with the same release agent."
    )
    assert cause_sentence(found.head) == ""
