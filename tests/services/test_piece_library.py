"""The library: what is asked is found, in the order asked, a page at a time."""

from __future__ import annotations

import io
from datetime import date

import numpy as np
import pytest
from PIL import Image

from analysis.errors import InputError, RecordError
from analysis.model.library import LibraryAsk
from analysis.model.log import JointState, Piece, Pour
from analysis.model.workshop import Form
from analysis.services import piece_library, records
from analysis.services.log import list_castings, open_log
from analysis.services.pieces import figures_of_pieces
from analysis.storage.thumbnails import kept_thumbnail
from tests.support.library_log import many_pieces

COUNT = 120


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library")
    return many_pieces(folder, COUNT, on_disk=2, photo_px=(300, 400))


def names(log, **asked):
    page = piece_library.library_page(log, LibraryAsk(**asked), size=200)
    assert page.count == len(page.cards)
    return [card.casting.piece.name for card in page.cards]


def test_pages_put_together_are_the_whole_log(log):
    pages = [
        piece_library.library_page(log, LibraryAsk(), start=start, size=50)
        for start in (0, 50, 100)
    ]

    found = [card.casting for page in pages for card in page.cards]
    assert found == list(list_castings(log))
    assert [page.count for page in pages] == [COUNT] * 3


def test_figures_are_those_of_every_other_screen(log):
    figures = figures_of_pieces(log)
    page = piece_library.library_page(log, LibraryAsk(), size=200)

    for card in page.cards:
        assert card.share == figures[card.casting.piece.id].share
        assert card.share_low < card.share < card.share_high


def test_a_page_behind_the_last_is_the_last(log):
    page = piece_library.library_page(log, LibraryAsk(), start=10_000, size=50)

    assert (page.start, len(page.cards)) == (100, 20)


@pytest.mark.parametrize("size", [0, 201, float("nan")])
def test_size_of_a_page_has_bounds(log, size):
    with pytest.raises(InputError, match="Cards on a page"):
        piece_library.library_page(log, LibraryAsk(), size=size)


def test_orders(log):
    by_name = [str(n + 1) for n in range(COUNT)]
    assert names(log, order="name") == by_name
    assert names(log, order="oldest") == names(log)[::-1] == by_name
    shares = figures_of_pieces(log)
    by_share = sorted(shares, key=lambda key: shares[key].share)
    by_key = {one.piece.id: one.piece.name for one in list_castings(log)}
    assert names(log, order="fewest voids") == [by_key[key] for key in by_share]
    assert names(log, order="most voids") == names(log, order="fewest voids")[::-1]


def test_search_finds_every_word_in_piece_pour_or_form(log):
    # Every pour is called B and a number: b finds all, as a word of its own.
    assert names(log, text="POT b") == names(log, form_type="pot")
    assert names(log, text="b0002 trough a") == ["10"]
    assert names(log, text="%") == []


def form_id(log, name):
    return next(one.id for one in records.list_all(log, Form) if one.name == name)


def test_filters_of_columns(log):
    pot_b = form_id(log, "pot B")
    every = list_castings(log)
    assert set(names(log, form_id=pot_b)) == {
        one.piece.name for one in every if one.piece.form_id == pot_b
    }
    assert len(names(log, form_type="pot")) == sum(
        one.piece.form_id in {form_id(log, f"pot {x}") for x in "ABC"} for one in every
    )
    assert len(names(log, form_type="urn")) == 0
    pour = every[0].pour
    assert len(names(log, pour_id=pour.id)) == 8
    day = date(2020, 1, 7)
    assert len(names(log, from_day=day, to_day=day)) == 8
    assert len(names(log, from_day=date(2020, 1, 8))) == COUNT - 16


def test_filters_by_rule(log):
    every = list_castings(log)
    tape = [one for one in every if one.piece.joint_sealing in {"tape", "silicone"}]
    assert len(names(log, sealing="sealed")) == len(tape)
    assert len(names(log, sealing="open")) == COUNT - len(tape)
    assert names(log, sealing="not recorded") == []
    assert set(names(log, method="poker")) == {
        one.piece.name for one in every if one.piece.vibration_method == "poker"
    }
    # Piece 50 and 100 were photographed ground.
    assert names(log, stage="ground") == ["100", "50"]
    assert len(names(log, stage="as_struck")) == COUNT - 2


def test_places_part_the_log(log):
    parts = {
        place: set(names(log, place=place))
        for place in ("inside", "above", "below", "doubtful", "no target")
    }

    assert sum(map(len, parts.values())) == COUNT
    assert parts["above"]
    assert parts["inside"]
    assert parts["doubtful"]
    page = piece_library.library_page(log, LibraryAsk(place="above"), size=200)
    assert all(card.share_low > card.target.high_share for card in page.cards)


def test_neighbours_follow_what_was_asked(log):
    ask = LibraryAsk(form_type="pot", order="name")
    ids = [
        card.casting.piece.id
        for card in piece_library.library_page(log, ask, size=200).cards
    ]

    first = piece_library.neighbours(log, ask, ids[0])
    assert (first.place, first.count, first.before, first.after) == (
        0,
        len(ids),
        None,
        ids[1],
    )
    last = piece_library.neighbours(log, ask, ids[-1])
    assert (last.before, last.after) == (ids[-2], None)
    assert piece_library.neighbours(log, ask, 10**6).place is None


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"order": "by colour"}, "Order must be one of"),
        ({"sealing": "glued"}, "Joint sealing must be one of"),
        ({"place": "outside"}, "Place to the target must be one of"),
        ({"stage": "waxed"}, "Stage must be one of"),
        ({"text": "x" * 201}, "search has 201 characters"),
        (
            {"from_day": date(2026, 2, 1), "to_day": date(2026, 1, 1)},
            "before it begins on 2026-02-01",
        ),
    ],
)
def test_what_cannot_be_asked_is_refused(wrong, said):
    with pytest.raises(InputError, match=said):
        LibraryAsk(**wrong)


def test_a_joint_sealed_and_one_open_is_mixed(tmp_path):
    log = open_log(tmp_path)
    states = tuple(
        JointState(joint=j, sealing=s) for j, s in (("l", "tape"), ("r", "none"))
    )
    pour = Pour(name="1", cast_on=date(2026, 1, 1))
    pieces = [Piece(name="a", pour_id=0, joints=states), Piece(name="b", pour_id=0)]
    records.add_pour_with_pieces(log, pour, pieces, save_token="pour")

    assert names(log, sealing="mixed") == ["a"]
    assert names(log, sealing="not recorded") == ["b"]
    assert names(log, place="not measured") == ["b", "a"]


def test_picture_is_made_once_with_the_outline(log):
    card = piece_library.library_page(log, LibraryAsk(), size=1).cards[0]
    face = piece_library.faces_of(log, [card.shown.id])[card.shown.id]
    assert piece_library.kept_picture(log, card.shown, face) is None

    made = piece_library.small_picture(log, card.shown, face)

    picture = np.asarray(Image.open(io.BytesIO(made)).convert("RGB")).astype(int)
    assert picture.shape == (240, 320, 3)
    blue = picture[..., 2] - picture[..., 0]
    assert blue[7:33, 7:49].max() > 60  # about the outline, at 0.8 of its place
    assert blue[60:, 80:].max() < 30
    assert kept_thumbnail(log, card.shown.photo_sha256, face) == made
    assert piece_library.small_picture(log, card.shown, face) == made


def test_lost_photo_has_no_picture(log):
    card = piece_library.library_page(log, LibraryAsk(order="oldest"), size=1).cards[0]

    with pytest.raises(RecordError, match="missing"):
        piece_library.small_picture(log, card.shown, None)
