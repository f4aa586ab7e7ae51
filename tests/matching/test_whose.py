"""Whose photo it is: by card, by time, by what was cast."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

from analysis.matching.whose import Candidate, Shown, propose_pieces

DAY = date(2026, 5, 4)
NOON = datetime(2026, 5, 5, 12, 0)  # noqa: DTZ001  camera time has no zone


def piece(piece_id, form_id=1, *, days=0, photos=0):
    return Candidate(
        piece_id=piece_id,
        form_id=form_id,
        cast_on=DAY + timedelta(days),
        photos=photos,
    )


def photo(photo_id, minute=None, pieces=(), forms=()):
    taken = None if minute is None else NOON + timedelta(minutes=minute)
    return Shown(id=photo_id, taken_at=taken, piece_ids=pieces, form_ids=forms)


def said(photos, pieces):
    return {one.id: (one.piece_id, one.why) for one in propose_pieces(photos, pieces)}


def test_card_of_a_piece_decides_whatever_the_time():
    found = said(
        [photo(1, 0, (7,)), photo(2, 1, (8,)), photo(3, None, (7,))],
        [piece(7, days=30), piece(8, photos=5)],
    )
    assert found == {1: (7, "card"), 2: (8, "card"), 3: (7, "card")}


def test_photos_after_a_card_go_with_it_for_five_minutes():
    found = said(
        [photo(1, 0, (7,)), photo(2, 4), photo(3, 9), photo(4, 14.1), photo(5, -1)],
        [piece(7), piece(8), piece(9)],
    )
    assert found[2] == (7, "time")
    assert found[3] == (7, "time")  # five minutes from the photo before it
    assert found[4] == (None, "unknown")
    assert found[5] == (None, "unknown")


def test_two_cards_decide_nothing_and_end_the_run():
    found = said(
        [photo(1, 0, (7,)), photo(2, 1, (7, 8)), photo(3, 2)],
        [piece(7), piece(8), piece(9)],
    )
    assert found[2] == (None, "unknown")
    assert found[3] == (None, "unknown")


def test_same_card_twice_in_one_photo_is_one():
    assert said([photo(1, 0, (7, 7))], [piece(7)])[1] == (7, "card")


def test_card_of_a_piece_that_is_gone_decides_nothing():
    assert said([photo(1, 0, (99,))], [piece(7), piece(8)])[1] == (None, "unknown")


def test_card_of_a_form_decides_where_one_fresh_piece_has_no_photo():
    pieces = [piece(7, 1), piece(8, 1, photos=2), piece(9, 2)]
    assert said([photo(1, 0, forms=(1,))], pieces)[1] == (7, "form_card")
    pieces += [piece(10, 1)]
    assert said([photo(1, 0, forms=(1,))], pieces)[1] == (None, "unknown")


def test_the_only_fresh_piece_without_a_photo_is_proposed():
    pieces = [piece(7), piece(8, photos=1), piece(9, days=-20), piece(10, days=5)]
    assert said([photo(1, 0)], pieces)[1] == (7, "only_one")
    # Without a time nothing says that it is of these days.
    assert said([photo(1)], pieces)[1] == (None, "unknown")


def test_the_only_one_left_is_proposed_to_none_but_the_photo_that_is_left():
    found = said([photo(1, 0, (7,)), photo(2, 30)], [piece(7), piece(8)])
    assert found == {1: (7, "card"), 2: (8, "only_one")}


def test_zones_do_not_disturb_the_order_within_a_batch():
    east = timezone(timedelta(hours=9))
    photos = [
        Shown(id=1, taken_at=NOON.replace(tzinfo=UTC), piece_ids=(7,)),
        Shown(id=2, taken_at=(NOON + timedelta(minutes=2)).replace(tzinfo=east)),
        photo(3, 3),
    ]
    found = said(photos, [piece(7), piece(8)])
    assert found == {1: (7, "card"), 2: (7, "time"), 3: (7, "time")}


def test_nothing_gives_nothing():
    assert propose_pieces([], []) == ()
    assert said([photo(1, 0)], [])[1] == (None, "unknown")


def test_forty_photos_of_twelve_pieces_by_their_cards():
    photos = [photo(n, n / 2, (n % 12,)) for n in range(40)]
    found = said(photos, [piece(n) for n in range(12)])
    assert all(found[n] == (n % 12, "card") for n in range(40))


def test_settled_photos_get_no_proposal_and_lead_those_after_them():
    settled = Shown(id=1, taken_at=NOON, piece_ids=(7,), settled=8)
    later = (one for one in [photo(2, 3), settled])
    assert said(later, [piece(7), piece(8), piece(9)]) == {2: (8, "time")}


def test_settled_piece_is_not_the_only_one_left():
    settled = Shown(id=1, taken_at=None, settled=8)
    assert said([settled, photo(2, 60)], [piece(7), piece(8)])[2] == (7, "only_one")
