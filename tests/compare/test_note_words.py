import pytest

import analysis.compare
from analysis.compare.note_words import NOTE_WORDS, note_words
from analysis.model.notes import note
from tests.support.wording import codes_made

BY_THE_PLANNER = {"next_step"}


def test_every_note_that_is_made_has_words_and_no_words_are_left_over():
    assert codes_made(analysis.compare) | BY_THE_PLANNER == set(NOTE_WORDS)


@pytest.mark.parametrize(
    ("made", "sentence"),
    [
        (
            note("without_partner", pieces=1),
            "1 piece left out: nothing to pair it with.",
        ),
        (
            note("without_partner", pieces=156),
            "156 pieces left out: nothing to pair them with.",
        ),
        (
            note("taken_out", names=("cast_on", "humidity_percent")),
            "Taken out: drift over time, humidity.",
        ),
        (
            note("zeros", pieces=3, value=0.0123, outcome="void_area_percent"),
            "3 pieces had no voids; 0.012 % stands in for zero void area.",
        ),
        (
            note("zeros", pieces=1, value=0.5, outcome="repair_minutes"),
            "1 piece had none; 0.5 min stands in for zero repair time.",
        ),
        (note("one_alike", level="{mix}"), None),
    ],
)
def test_a_note_is_said_with_its_values(made, sentence):
    if sentence is None:  # a name in braces stays as it was typed
        assert note_words(made).startswith("All values of {mix} are exactly the same")
    else:
        assert note_words(made) == sentence
