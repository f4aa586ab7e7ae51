"""Names filled in: which piece a photo most likely shows."""

from __future__ import annotations

from datetime import date, time

import pytest

from analysis.model.log import Piece, Pour
from analysis.services import records
from analysis.services.log import digest, open_log
from analysis.services.proposing import proposed_piece
from tests.support.cast_pieces import filled
from tests.support.kept_readings import keep

DAY = date(2026, 5, 4)


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path)


def measured(log, piece_id):
    """Save a reading of a piece; return its photo's sha256."""
    data = b"photo of %d" % piece_id
    keep(log, piece_id, token=f"of {piece_id}", data=data)
    return digest(data)


def test_the_first_piece_cast_lately_without_a_reading_comes_first(log):
    _, pieces = filled(log, 3)
    assert proposed_piece(log, today=DAY).piece_id == pieces[0]


def test_a_known_photo_goes_to_its_piece(log):
    _, pieces = filled(log, 3)
    sha256 = measured(log, pieces[1])
    assert proposed_piece(log, sha256=sha256, today=DAY).piece_id == pieces[1]
    assert proposed_piece(log, today=DAY).piece_id == pieces[0]


def test_when_all_are_measured_the_next_number_follows(log):
    form, pieces = filled(log, 2)
    for piece in pieces:
        measured(log, piece)
    found = proposed_piece(log, today=DAY)
    assert (found.piece_id, found.piece_name, found.form_id) == (None, "002", form)
    assert found.pour_id is not None

    # The next day it is another pour.
    later = proposed_piece(log, today=date(2026, 5, 5))
    assert (later.pour_id, later.pour_name) == (None, "13")


def test_what_was_cast_long_ago_or_is_still_to_come_is_not_proposed(log):
    filled(log, 2)
    assert proposed_piece(log, today=date(2026, 5, 19)).piece_id is None
    assert proposed_piece(log, today=date(2026, 5, 3)).piece_id is None


def test_pours_of_one_day_go_by_time_then_as_saved(log):
    for name, at in (("late", time(15, 0)), ("early", time(8, 0)), ("untimed", None)):
        pour = Pour(name=name, cast_on=DAY, cast_at=at)
        pieces = [Piece(name=f"of {name}", pour_id=0)]
        records.add_pour_with_pieces(log, pour, pieces, save_token=name)
    listed = [one.pour.name for one in records.list_castings(log)]
    assert listed == ["late", "early", "untimed"]
    known = records.list_castings(log)[0].piece.id
    assert proposed_piece(log, today=DAY).piece_id == known
