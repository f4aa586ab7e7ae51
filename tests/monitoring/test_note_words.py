import pytest

import analysis.monitoring
from analysis.model.notes import Note, note, say
from analysis.monitoring.note_words import NOTE_WORDS, note_words
from tests.support.wording import codes_made


def test_every_note_that_is_made_has_words_and_no_words_are_left_over():
    assert codes_made(analysis.monitoring) == set(NOTE_WORDS)


@pytest.mark.parametrize(
    ("made", "sentence"),
    [
        (
            note("gaps", gaps=1, days=40, pour="P3"),
            "There was no pour for 40 days before P3.",
        ),
        (
            note("gaps", gaps=2, days=40, pour="P3"),
            "There are 2 long gaps without a pour; the longest, 40 days, is before P3.",
        ),
        (
            note("all_the_same", since="P3"),
            (
                "The first pours from P3 all have the same share, so no limits can be "
                "set: give shares with more digits."
            ),
        ),
        (
            note("other_version", pieces=1, version=""),
            (
                "Left out: 1 piece measured by another version of the method than the "
                "unrecorded one; measure their photos again to include them."
            ),
        ),
        (
            note("baseline_leans", tau=-0.5),
            (
                "The baseline itself falls (Kendall's tau -0.50): freeze one from "
                "steady pours."
            ),
        ),
        (note("declared", what="{new} mix"), "{new} mix"),
    ],
)
def test_a_note_is_said_with_its_values(made, sentence):
    assert note_words(made) == sentence


def test_a_note_without_values_is_said_as_it_stands():
    assert say(Note(code="no_dates"), {"no_dates": "No dates."}) == "No dates."
