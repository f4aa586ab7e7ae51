from dataclasses import replace

import numpy as np
import pytest

from analysis.errors import InputError, NotInLogError
from analysis.model.log import PhotoUse, Piece
from analysis.model.review import Mark, Outline
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import correct_reading, load_reading, save_reading
from analysis.storage.records import add, load
from analysis.storage.reviews import last_signature, marks_of_review, save_review
from tests.support.stored_readings import photo_of, reading_of

DATA = b"a face"
OUTLINE = Outline(
    line_px=np.array([[1.5, 2], [3, 4.25], [5, 1 / 3]]),
    area_px=7.25,
    contrast=0.4,
    drawn=False,
)
MARKS = (
    Mark(action="reject", spot=0, reason="tie_hole"),
    Mark(action="bring_back", spot=6),
    Mark(action="add", spot=8, outline=OUTLINE),
)


@pytest.fixture
def automatic(log, piece_id):
    saved = save_reading(
        log,
        photo_bytes=DATA,
        photo=photo_of(DATA),
        reading=reading_of(DATA),
        piece_id=piece_id,
        save_token="automatic",
        use=PhotoUse(stage="as_struck"),
    )
    return saved.id


def less(reading):
    """The reading with half of its void area."""
    summary = replace(
        reading.summary,
        void_area_px=reading.summary.void_area_px / 2,
        void_share=replace(reading.summary.void_share, value=0.001, low=0.0),
    )
    return replace(reading, summary=summary)


def review(log, reading_id, *, token="t", signed_by="R.", marks=MARKS, reading=None):
    return save_review(
        log,
        reviews_id=reading_id,
        reading=less(reading_of(DATA)) if reading is None else reading,
        marks=marks,
        signed_by=signed_by,
        save_token=token,
    )


def test_a_review_stands_beside_the_automatic_reading(log, piece_id, automatic):
    before = load_reading(log, automatic)
    saved = review(log, automatic, signed_by=" R. ")
    new, old = list_readings(log, piece_id=piece_id)
    assert (new.id, new.reviews_id, new.reviewed_by) == (saved.id, automatic, "R.")
    assert new.reviewed_at >= old.saved_at
    assert (old.id, old.reviews_id, old.reviewed_at) == (automatic, None, None)
    again = load_reading(log, automatic)
    assert again.summary == before.summary
    assert load_reading(log, saved.id).summary.void_share.value == 0.001
    assert last_signature(log) == "R."


def test_tables_take_the_reviewed_one_and_say_so(log, automatic):
    (row,) = piece_table(log)
    assert row.reviewed == "no"
    review(log, automatic)
    (row,) = piece_table(log)
    assert row.reviewed == "yes"
    half = reading_of(DATA).summary.void_area_px / 2
    face = reading_of(DATA).summary.face_area_px
    assert row.void_area_percent == pytest.approx(100 * half / face)


def test_the_latest_review_holds(log, piece_id, automatic):
    review(log, automatic)
    last = review(log, automatic, token="u", marks=MARKS[:1], reading=reading_of(DATA))
    assert list_readings(log, piece_id=piece_id)[0].id == last.id
    (row,) = piece_table(log)
    summary = reading_of(DATA).summary
    assert row.void_area_percent == pytest.approx(
        100 * summary.void_area_px / summary.face_area_px
    )


def test_decisions_come_back_as_made(log, automatic):
    saved = review(log, automatic)
    first, second, third = marks_of_review(log, saved.id)
    assert (first.action, first.spot, first.reason) == ("reject", 0, "tie_hole")
    assert (second.action, second.spot, second.outline) == ("bring_back", 6, None)
    assert np.array_equal(third.outline.line_px, OUTLINE.line_px)
    assert (third.outline.area_px, third.outline.drawn) == (7.25, False)
    assert marks_of_review(log, automatic) == ()


def test_a_second_press_saves_nothing(log, piece_id, automatic):
    first, second = review(log, automatic), review(log, automatic)
    assert (first.id, second.already_saved) == (second.id, True)
    assert len(list_readings(log, piece_id=piece_id)) == 2


def test_a_review_goes_with_its_reading_to_the_right_piece(log, piece_id, automatic):
    review(log, automatic)
    pour_id = load(log, Piece, piece_id).pour_id
    other = add(log, Piece(name="8", pour_id=pour_id), save_token="8").id
    line = list_readings(log, piece_id=piece_id)[1]
    correct_reading(log, line, piece_id=other, use=line.use)
    assert list_readings(log, piece_id=piece_id) == ()
    assert len(list_readings(log, piece_id=other)) == 2


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"signed_by": " "}, "signature of a review needs a name"),
        ({"marks": ()}, "Nothing was decided: reject, bring back or add"),
        ({"reading": reading_of(b"other")}, "is a review itself or of another photo"),
    ],
)
def test_half_reviews_are_refused(log, piece_id, automatic, changes, message):
    with pytest.raises(InputError, match=message):
        review(log, automatic, **changes)
    assert len(list_readings(log, piece_id=piece_id)) == 1


def test_a_review_of_a_review_is_refused(log, automatic):
    saved = review(log, automatic)
    with pytest.raises(InputError, match="review the automatic reading of this photo"):
        review(log, saved.id, token="u")


def test_a_review_of_nothing_is_refused(log):
    with pytest.raises(NotInLogError, match="no reading 99 in the log"):
        review(log, 99)
