"""Marks the eye sees: kept, taken away and given again; counted by seconds."""

from __future__ import annotations

import pytest

from analysis.errors import InputError
from analysis.model.afterwards import SeenMark
from analysis.model.log import Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.services import marks_seen, records
from analysis.services.log import open_log
from analysis.vocabulary import OVER_VIBRATION, VOCABULARIES


@pytest.fixture
def log(tmp_path):
    """Legs at 60 s and 120 s, one whose time is not known, and a pot at 120 s."""
    log = open_log(tmp_path)
    for name, kind in (("Leg", "bench leg"), ("Pot", "pot")):
        records.add(log, Form(name=name, form_type=kind), save_token=name)
    form = {one.name: one.id for one in records.list_all(log, Form)}
    cast = [("Leg", 60.0), ("Leg", 120.0), ("Leg", 120.0), ("Leg", None), ("Pot", 120)]
    pieces = [
        Piece(
            name=f"{n}",
            pour_id=0,
            form_id=form[of],
            steps=(Step(method="table", seconds=seconds),),
        )
        for n, (of, seconds) in enumerate(cast, start=1)
    ]
    pour = Pour(name="1", cast_on=records.today())
    records.add_pour_with_pieces(log, pour, pieces, save_token="pour")
    return log


def test_marks_are_kept_once_taken_away_and_given_again(log):
    marks_seen.set_marks(log, 1, ["bleed streaks", "own word", "bleed streaks"])
    assert marks_seen.marks_of(log, 1) == ("bleed streaks", "own word")
    marks_seen.set_marks(log, 1, ["own word"])
    assert marks_seen.marks_of(log, 1) == ("own word",)
    marks_seen.set_marks(log, 1, ["own word", "bleed streaks"])
    assert set(marks_seen.marks_of(log, 1)) == {"bleed streaks", "own word"}
    assert marks_seen.marks_of(log, 2) == ()
    assert len(records.list_all(log, SeenMark, hidden=True, piece_id=1)) == 1


def test_a_mark_without_a_name_is_refused(log):
    with pytest.raises(InputError, match="The mark"):
        marks_seen.set_marks(log, 1, ["  "])
    assert marks_seen.marks_of(log, 1) == ()


def test_a_renamed_word_keeps_its_marks(log):
    marks_seen.set_marks(log, 1, ["own word"])
    records.rename_term(log, "mark", "own word", "better word")
    assert marks_seen.marks_of(log, 1) == ("better word",)


def test_too_much_vibration_is_counted_within_form_type_and_method(log):
    for piece in (2, 4, 5):
        marks_seen.set_marks(log, piece, ["paste-rich top", "stones sunk"])
    marks_seen.set_marks(log, 1, ["leak streaks"])

    found = marks_seen.over_vibrated(log, "bench leg", "table")

    assert [(one.seconds, one.pieces, one.of) for one in found] == [
        (120.0, 1, 2),
        (None, 1, 1),
    ]
    assert marks_seen.over_vibrated(log, "bench leg", "poker") == ()


def test_nothing_seen_is_nothing_counted(log):
    assert marks_seen.over_vibrated(log, "bench leg", "table") == ()


def test_every_offered_mark_has_a_cause_with_its_source():
    for mark in VOCABULARIES["mark"]:
        causes = marks_seen.causes_of([mark])
        assert causes
        assert all(one.source for one in causes)
    assert set(VOCABULARIES["mark"]) >= OVER_VIBRATION
