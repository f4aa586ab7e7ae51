"""The strike card: in or out of the target, what differs, alike on every page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from analysis.model.afterwards import ReferencePiece
from analysis.model.log import JointState, PhotoUse, Piece, Pour, Step
from analysis.model.workshop import FinishTarget, Form, ProductLine
from analysis.services import records
from analysis.services.log import casting, open_log
from analysis.services.strike import as_line, strike_card, strike_lines
from tests.support.kept_readings import keep
from tests.support.stored_readings import reading_of, summary_of

DAY = date(2026, 5, 4)


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path)


def shop(log, *, sealings=("tape", "none"), target=None):
    """Cast a piece a day in one form of a product line; return their keys."""
    line = records.add(log, ProductLine(name="troughs"), save_token="line").id
    form = records.add(
        log, Form(name="Trough A", product_line_id=line), save_token="form"
    ).id
    if target is not None:
        records.add(log, FinishTarget(product_line_id=line, **target), save_token="to")
    pieces = []
    for n, sealing in enumerate(sealings):
        pour = Pour(name=f"{n}", cast_on=DAY.replace(day=4 + n), air_c=15.0 + 5 * n)
        piece = Piece(
            name=f"P{n}",
            pour_id=0,
            form_id=form,
            joints=(JointState(joint="left", sealing=sealing),),
            steps=(Step(method="table", seconds=20.0 + 20 * n),),
        )
        records.add_pour_with_pieces(log, pour, [piece], save_token=f"pour {n}")
        pieces.append(records.list_castings(log)[0].piece.id)
    return line, pieces


def measured(log, piece_id, low, share, high):
    data = b"photo of %d" % piece_id
    one = reading_of(data)
    summary = replace(
        one.summary,
        void_share=replace(one.summary.void_share, value=share, low=low, high=high),
        void_area_px=share * one.summary.face_area_px,
        honeycomb_share=0.0,
    )
    keep(
        log,
        piece_id,
        token=f"of {piece_id}",
        data=data,
        reading=replace(one, summary=summary),
    )


@pytest.mark.parametrize(
    ("interval", "said"),
    [
        ((0.002, 0.003, 0.004), "Inside its target (at most 0.60 %)."),
        ((0.007, 0.008, 0.009), "Out of its target (at most 0.60 %)"),
        ((0.005, 0.0055, 0.007), "Too close to its target (at most 0.60 %) to tell"),
    ],
)
def test_in_out_or_too_close_is_said_first(log, interval, said):
    _, (piece, _) = shop(log, target={"high_share": 0.006})
    measured(log, piece, *interval)
    found = casting(log, piece)
    card = strike_card(log, found.piece, pour=found.pour)
    assert strike_lines(card)[0].startswith(said)
    assert card.share == pytest.approx(interval[1], rel=1e-6)


def test_what_differs_from_the_last_good_one_is_named(log):
    _, (first, second) = shop(log, target={"high_share": 0.006})
    measured(log, first, 0.002, 0.003, 0.004)
    measured(log, second, 0.007, 0.008, 0.009)
    found = casting(log, second)
    card = strike_card(log, found.piece, pour=found.pour)
    assert (card.last, card.last_is_good) == ("P0", True)
    told = {one.label: (one.now, one.then) for one in card.unlike}
    assert told["Joint sealing"] == ("none", "tape")
    assert ("40", "20") in told.values()
    assert not {"Cast on", "cast on"} & set(told)
    assert strike_lines(card)[1].startswith(
        "Unlike piece P0, the last good one of this form: joint sealing none, not tape"
    )


def test_without_a_target_the_reference_piece_is_what_it_is_held_against(log):
    line, (first, second) = shop(log)
    measured(log, first, 0.002, 0.003, 0.004)
    measured(log, second, 0.007, 0.008, 0.009)
    approved = ReferencePiece(piece_id=first, product_line_id=line, approved_on=DAY)
    records.add(log, approved, save_token="approved")
    # The line of a piece is its own, else its form's.
    card = strike_card(log, casting(log, second).piece)
    assert strike_lines(card)[0] == "More voids than reference piece P0: clear."


def test_a_reading_that_is_not_saved_yet_is_judged_alike(log):
    _, (piece, _) = shop(log, target={"high_share": 0.006})
    measured(log, piece, 0.002, 0.003, 0.004)
    stored = casting(log, piece).piece
    one = reading_of(b"photo of %d" % piece)
    summary = replace(
        one.summary,
        void_share=replace(one.summary.void_share, value=0.003, low=0.002, high=0.004),
        honeycomb_share=0.0,
    )
    line = as_line(replace(one, summary=summary), PhotoUse())
    kept = strike_card(log, stored)
    new = strike_card(log, replace(stored, id=None, name="new"), lines=(line,))
    assert (new.place, new.share) == (kept.place, pytest.approx(kept.share))


def test_an_empty_log_and_a_piece_without_a_form(log):
    card = strike_card(log, Piece(name="7", pour_id=0))
    assert strike_lines(card) == ("No target is set for its product line.",)
    assert summary_of().face_area_px > 0
