from dataclasses import replace
from datetime import date, time

import pytest

from analysis.errors import InputError
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form, FormJoint
from analysis.storage.castings import (
    add_pour_with_pieces,
    casting_names,
    last_casting,
    like_last,
    list_castings,
    next_names,
)
from analysis.storage.records import add, bring_back, hide, list_all

FORM = Form(
    name="A",
    starting_use_count=10,
    release_agent="wax",
    joints=(FormJoint(name="left", default_sealing="tape"), FormJoint(name="right")),
)


@pytest.fixture
def form_id(log):
    return add(log, FORM, save_token="form").id


def pour(log, name, day, *pieces, at=None):
    made = Pour(name=name, cast_on=date(2026, 3, day), cast_at=at)
    return add_pour_with_pieces(log, made, pieces, save_token=name).id


def uses(log):
    return {casting.piece.name: casting.form_use for casting in list_castings(log)}


def test_form_use_follows_the_date_not_the_order_of_entry(log, form_id):
    pour(log, "late", 9, Piece(name="c", pour_id=0, form_id=form_id))
    pour(log, "early", 1, Piece(name="a", pour_id=0, form_id=form_id))
    pour(log, "noon", 5, Piece(name="b2", pour_id=0, form_id=form_id), at=time(12, 0))
    pour(log, "dawn", 5, Piece(name="b1", pour_id=0, form_id=form_id), at=time(6, 0))
    pour(log, "other", 2, Piece(name="x", pour_id=0))
    assert uses(log) == {"a": 11, "b1": 12, "b2": 13, "c": 14, "x": None}


def test_a_hidden_casting_is_not_a_use(log, form_id):
    pour(log, "1", 1, Piece(name="a", pour_id=0, form_id=form_id))
    second = pour(log, "2", 2, Piece(name="b", pour_id=0, form_id=form_id))
    pour(log, "3", 3, Piece(name="c", pour_id=0, form_id=form_id))
    hide(log, Pour, second)
    assert uses(log) == {"a": 11, "c": 12}


def test_the_last_casting_in_a_form(log, form_id):
    assert last_casting(log, form_id) is None
    pour(log, "late", 9, Piece(name="late", pour_id=0, form_id=form_id))
    pour(log, "early", 1, Piece(name="early", pour_id=0, form_id=form_id))
    last = last_casting(log, form_id)
    assert (last.piece.name, last.pour.name, last.form_use) == ("late", "late", 12)


def test_a_piece_in_a_new_form_starts_from_the_form(log, form_id):
    piece = like_last(log, form_id, name="1")
    assert piece.release_agent == "wax"
    assert piece.joints == (
        JointState(joint="left", sealing="tape"),
        JointState(joint="right"),
    )


def test_a_piece_like_the_last_takes_what_was_done_not_what_came_of_it(log, form_id):
    done = Piece(
        name="1",
        pour_id=0,
        form_id=form_id,
        joints=(JointState(joint="left", sealing="silicone", leak="strong"),),
        steps=(Step(method="table", seconds=45.0),),
        curing="tarpaulin",
        strike_after_h=24.0,
        note="chipped",
    )
    pour(log, "1", 1, done)
    piece = like_last(log, form_id, name="2", pour_id=7)
    assert piece == replace(
        done,
        name="2",
        pour_id=7,
        joints=(JointState(joint="left", sealing="silicone"),),
        strike_after_h=None,
        note="",
    )


def test_a_pour_of_many_pieces_is_all_or_nothing(log, form_id):
    pieces = [Piece(name=str(n), pour_id=0, form_id=form_id) for n in range(6)]
    pour(log, "1", 1, *pieces)
    pour(log, "1", 1, *pieces)
    assert len(list_castings(log)) == 6
    with pytest.raises(InputError, match="already a piece named '5'"):
        pour(log, "2", 2, Piece(name="6", pour_id=0), Piece(name="5", pour_id=0))
    with pytest.raises(InputError, match="Piece '7' is in the table twice"):
        pour(log, "2", 2, Piece(name="7", pour_id=0), Piece(name="7 ", pour_id=0))
    assert [kept.name for kept in list_all(log, Pour)] == ["1"]
    assert len(list_castings(log, pour_id=list_all(log, Pour)[0].id)) == 6
    assert len(list_castings(log, form_id=form_id)) == 6


def test_a_hidden_pour_takes_its_pieces_along_and_brings_them_back(log, form_id):
    day = pour(log, "1", 1, *(Piece(name=name, pour_id=0) for name in "abc"))
    first = list_all(log, Piece)[0]
    hide(log, Piece, first.id)
    hide(log, Pour, day)
    hide(log, Pour, day)
    assert list_all(log, Piece) == ()
    assert len(list_all(log, Piece, hidden=True)) == 3
    pour(log, "2", 2, Piece(name="c", pour_id=0, form_id=form_id))
    with pytest.raises(InputError, match="piece cannot be brought back"):
        bring_back(log, Pour, day)
    assert [kept.name for kept in list_all(log, Pour)] == ["2"]
    hide(log, Piece, list_all(log, Piece)[0].id)
    bring_back(log, Pour, day)
    assert [piece.name for piece in list_all(log, Piece)] == ["b", "c"]


@pytest.mark.parametrize(
    ("given", "following"),
    [
        ((), ("1", "2")),
        (("007",), ("008", "009")),
        (("P-9",), ("P-10", "P-11")),
        (("099b", "100b", "098b"), ("101b", "102b")),
        (("bench",), ("bench 2", "bench 3")),
    ],
)
def test_the_next_names_follow_the_last_and_are_free(log, given, following):
    pour(log, "1", 1, *(Piece(name=name, pour_id=0) for name in given))
    assert next_names(log, Piece, count=2) == following
    assert next_names(log, Pour) == ("2",)


def test_a_part_of_the_log_has_the_uses_of_the_whole(log, form_id):
    other = add(log, replace(FORM, name="B", starting_use_count=3), save_token="B").id
    pour(log, "loose", 1, Piece(name="x", pour_id=0))
    for day in (2, 3, 4):
        for name, form in (("a", form_id), ("b", other)):
            piece = Piece(name=f"{name}{day}", pour_id=0, form_id=form)
            pour(log, f"{name} {day}", day, piece)
    whole = list_castings(log)
    assert len(whole) == 7
    for key in (form_id, other):
        part = list_castings(log, form_id=key)
        assert part == tuple(one for one in whole if one.piece.form_id == key)
    for one in whole:
        assert list_castings(log, pour_id=one.pour.id) == (one,)
    assert list_castings(log, pour_id=10**6) == ()


def test_names_of_all_castings_come_in_their_order_without_the_hidden(log, form_id):
    pour(log, "early", 1, Piece(name="a", pour_id=0, form_id=form_id))
    pour(log, "late", 9, Piece(name="b", pour_id=0), Piece(name="c", pour_id=0))
    gone = pour(log, "gone", 10, Piece(name="d", pour_id=0))
    hide(log, Pour, gone)
    found = casting_names(log)
    assert list(found) == [one.piece.id for one in list_castings(log)]
    assert [(one.piece, one.pour) for one in found.values()] == [
        ("c", "late"),
        ("b", "late"),
        ("a", "early"),
    ]
    assert [one.form_id for one in found.values()] == [None, None, form_id]


def test_some_castings_are_listed_as_among_all(log, form_id):
    for day in (1, 5, 9):
        pour(log, f"{day}", day, Piece(name=f"p{day}", pour_id=0, form_id=form_id))
    every = list_castings(log)
    assert list_castings(log, limit=2) == every[:2]
    ids = {every[0].piece.id, every[2].piece.id, 10_000}
    assert list_castings(log, piece_ids=ids) == (every[0], every[2])
    assert list_castings(log, piece_ids=()) == ()
