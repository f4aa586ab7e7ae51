"""From a stored reading to a stored review, spot by spot."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.flags import Flag
from analysis.model.log import Piece, Pour
from analysis.model.photo import Face
from analysis.model.review import Review
from analysis.services import log as log_service
from analysis.services import review as service
from analysis.services import review_outlines as outlines
from analysis.services.photos import encoded, read_photo
from tests.support.drawn_faces import HEIGHT, WIDTH, drawn, reading_of

SPOT = (30, 40, 12)  # drawn flat and dark over the face: row, col, radius


@pytest.fixture(scope="module")
def face_bytes():
    pixels = np.array(drawn().pixels)
    return encoded(pixels, "PNG")


@pytest.fixture(scope="module")
def stored(tmp_path_factory, face_bytes):
    """A log with one reading, its line and its photo."""
    log = log_service.open_log(tmp_path_factory.mktemp("log"))
    photo = read_photo(face_bytes, "face.png")
    outline = np.array(
        [[4.0, 4], [4, WIDTH - 5], [HEIGHT - 5, WIDTH - 5], [HEIGHT - 5, 4]]
    )
    reading, _ = reading_of(photo, face=Face(outline_px=outline))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name="7", pour_id=0),
        pour=Pour(name="1", cast_on=date(2026, 3, 1)),
        photo_bytes=face_bytes,
        photo=photo,
        reading=reading,
        save_token="a",
    )
    (line,) = log_service.list_readings(log)
    return log, line, photo


@pytest.fixture(scope="module")
def case(stored):
    return service.open_case(*stored)


def test_opened_it_has_the_figures_of_the_reading(case):
    again = service.reviewed_reading(case, Review())
    assert again.summary == case.reading.summary
    assert np.array_equal(again.voids.row_px, case.reading.voids.row_px)
    listed = service.spots(case, Review())
    assert sum(spot.counted for spot in listed) == len(case.reading.voids)
    assert len(listed) == len(case.reading.voids) + len(case.reading.rejected)


def test_turning_down_moves_share_and_both_intervals(case):
    first = service.spots(case, Review())[0]
    review = service.decide(Review(), first, "shadow")
    before, after = case.reading.summary, service.reviewed_reading(case, review).summary
    assert after.void_count == before.void_count - 1
    assert after.void_share.value < before.void_share.value
    assert after.void_share.high < before.void_share.high
    assert after.sampled_share.high < before.sampled_share.high
    spot = service.spots(case, review)[0]
    assert (spot.counted, spot.by_hand, spot.words) == (False, True, "by hand: shadow")
    assert service.reviewed_reading(case, review.undo()).summary == before
    assert (
        service.reviewed_reading(case, service.decide(review, spot, None)).summary
        == before
    )


def test_none_left_is_said(case):
    review = Review()
    for spot in service.spots(case, Review()):
        if spot.counted:
            review = service.decide(review, spot, "grain")
    assert Flag.NOTHING_FOUND in service.reviewed_reading(case, review).flags


def test_a_tap_means_the_spot_under_it_or_near(case):
    listed = service.spots(case, Review())
    spot = max((one for one in listed if one.counted), key=lambda one: one.diameter_px)
    middle = tuple(spot.outline_px.mean(axis=0))
    assert service.spot_at(listed, middle, 5).number == spot.number
    assert service.spot_at(listed, (-50.0, -50.0), 5) is None


def test_a_missed_void_is_found_where_it_is_tapped(stored, face_bytes):
    """A void the reading does not hold, since it was painted in afterwards."""
    log, line, _ = stored
    pixels = np.array(read_photo(face_bytes, "a").pixels)
    rows, cols = np.mgrid[:HEIGHT, :WIDTH]
    row, col, radius = SPOT
    pixels[np.hypot(rows - row, cols - col) <= radius] = 40
    photo = replace(read_photo(face_bytes, "a"), pixels=pixels)
    case = replace(
        service.open_case(log, line, read_photo(face_bytes, "a")), photo=photo
    )
    review = outlines.find_missed(case, Review(), (row + 5, col), 4)
    added = service.spots(case, review)[-1]
    assert added.added
    assert added.diameter_px == pytest.approx(2 * radius, rel=0.1)
    after = service.reviewed_reading(case, review)
    gained = after.summary.void_area_px - case.reading.summary.void_area_px
    assert gained == pytest.approx(np.pi * radius**2, rel=0.12)
    with pytest.raises(InputError, match="has an outline already"):
        outlines.find_missed(case, review, (row, col), 4)


def test_a_missed_void_can_be_drawn(case):
    free = free_place(case)
    square = free + np.array([[-6.0, -6], [-6, 6], [6, 6], [6, -6]])
    review = outlines.draw_missed(case, Review(), square)
    after = service.reviewed_reading(case, review).summary
    assert after.void_area_px - case.reading.summary.void_area_px == pytest.approx(144)
    assert Flag.BY_HAND in service.reviewed_reading(case, review).voids.flags[-1]


def free_place(case):
    """A place with no spot within 20 px."""
    centres = np.array(
        [spot.outline_px.mean(axis=0) for spot in service.spots(case, Review())]
    )
    rows, cols = np.mgrid[30 : HEIGHT - 30 : 5, 30 : WIDTH - 30 : 5]
    places = np.column_stack([rows.ravel(), cols.ravel()])
    away = np.hypot(*(places[:, None] - centres).transpose(2, 0, 1)).min(axis=1)
    return places[away.argmax()].astype(float)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ([[0.0, 0], [0, 2], [2, 2]], "outside the measured face: tap inside"),
        ([], "outside the measured face"),
    ],
)
def test_outlines_off_the_face_are_refused(case, line, message):
    with pytest.raises(InputError, match=message):
        outlines.draw_missed(case, Review(), np.array(line))


def test_a_void_below_the_smallest_size_is_refused(case):
    tiny = free_place(case) + np.array([[0.0, 0], [0, 2], [2, 2]])
    with pytest.raises(InputError, match=r"smaller than 0\.6 mm, the smallest counted"):
        outlines.draw_missed(case, Review(), tiny)


def test_another_version_of_the_steps_is_refused(stored, monkeypatch):
    monkeypatch.setattr(service, "METHOD_VERSION", "next")
    with pytest.raises(InputError, match="measure the photo again, then review"):
        service.open_case(*stored)


def test_the_name_of_the_version_before_is_opened(stored, case, monkeypatch):
    told = {"2": case.reading.method_version}
    monkeypatch.setattr("analysis.model.method.SAME_RESULTS", told)
    old = replace(case.reading, method_version="2")
    monkeypatch.setattr(service, "load_reading", lambda _log, _id: old)
    assert service.open_case(*stored).reading.method_version == "2"


def test_a_review_is_kept_and_taken_up_again(stored, case):
    log, line, photo = stored
    review = service.decide(Review(), service.spots(case, Review())[0], "crack")
    assert service.reviewed_share(log) == (0, 1)
    saved = service.save_review(
        log,
        reviews_id=case.reading_id,
        reading=service.reviewed_reading(case, review),
        marks=review.marks,
        signed_by="R.",
        save_token="r",
    )
    assert service.reviewed_share(log) == (1, 1)
    newest = log_service.list_readings(log)[0]
    assert newest.id == saved.id
    again = service.open_case(log, newest, photo)
    assert again.reading_id == line.id
    taken_up = Review(marks=service.marks_of_review(log, saved.id))
    kept = log_service.load_reading(log, saved.id)
    assert service.reviewed_reading(again, taken_up).summary == kept.summary


def test_what_is_not_saved_yet_outlives_the_browser(stored, case):
    log, line, _ = stored
    review = service.decide(Review(), service.spots(case, Review())[1], "grain")
    service.keep_begun(log, case, review.done(review.marks[0]).undo())
    again = service.begun(log, case, line)
    assert [mark.spot for mark in again.marks] == [1]
    assert [mark.spot for mark in again.redo().marks] == [1, 1]
    service.drop_begun(log, case)
    assert service.begun(log, case, line).marks == ()


def largest(case, review):
    listed = service.spots(case, review)
    return max((one for one in listed if one.counted), key=lambda one: one.diameter_px)


def share_of(case, review):
    return service.reviewed_reading(case, review).summary.void_share


class TestOutlines:
    def test_cut_and_joined_again(self, case):
        spot = largest(case, Review())
        row, _ = spot.outline_px.mean(axis=0)
        cut = outlines.cut(
            case, Review(), spot, np.array([[row, 0.0], [row, float(WIDTH)]])
        )
        listed = service.spots(case, cut)
        assert listed[spot.number].replaced
        assert not listed[spot.number].counted
        one, other = listed[-2:]
        assert one.added
        assert other.added
        before, after = share_of(case, Review()), share_of(case, cut)
        assert after.value == pytest.approx(before.value, rel=0.03)
        reading = service.reviewed_reading(case, cut)
        assert reading.summary.void_count == case.reading.summary.void_count + 1
        joined = outlines.join(case, cut, one, other)
        assert share_of(case, joined).value == pytest.approx(before.value, rel=0.05)
        whole = service.reviewed_reading(case, joined).summary
        assert whole.void_count == case.reading.summary.void_count
        assert share_of(case, joined.undo().undo()) == before

    def test_pulled_to_a_larger_outline(self, case):
        spot = largest(case, Review())
        middle = spot.outline_px.mean(axis=0)
        wider = middle + 1.3 * (spot.outline_px - middle)
        pulled = outlines.pull(case, Review(), spot, wider)
        assert share_of(case, pulled).value > share_of(case, Review()).value
        assert service.spot_at(service.spots(case, pulled), tuple(middle), 3).added

    def test_brushed_on_and_off(self, case):
        spot = largest(case, Review())
        middle = spot.outline_px.mean(axis=0)
        stroke = np.array([middle, middle + np.array([0, spot.diameter_px])])
        on = outlines.paint(case, Review(), spot, stroke, 3.0, on=True)
        off = outlines.paint(case, Review(), spot, stroke, 3.0, on=False)
        was = share_of(case, Review()).value
        assert share_of(case, off).value < was < share_of(case, on).value

    def test_refusals(self, case):
        spot = largest(case, Review())
        with pytest.raises(InputError, match="Tap another outline to join"):
            outlines.join(case, Review(), spot, spot)
        with pytest.raises(InputError, match="that the brush is to take off from"):
            outlines.paint(case, Review(), None, np.zeros((1, 2)), 2.0, on=False)
        corners = np.array([[0, 0], [0, 0.5], [0.5, 0]])
        tiny = spot.outline_px.mean(axis=0) + corners
        with pytest.raises(InputError, match=r"smaller than .* the smallest counted"):
            outlines.pull(case, Review(), spot, tiny)

    def test_kept_and_taken_up_as_they_were(self, stored, case):
        log, line, _ = stored
        spot = largest(case, Review())
        row, _ = spot.outline_px.mean(axis=0)
        cut = outlines.cut(
            case, Review(), spot, np.array([[row, 0.0], [row, float(WIDTH)]])
        )
        service.keep_begun(log, case, service.say_seen(cut, seen=True))
        again = service.begun(log, case, line)
        service.drop_begun(log, case)
        assert share_of(case, again) == share_of(case, service.say_seen(cut, seen=True))


class TestSeenAsAWhole:
    """What a person decided has no segmentation term, but a boundary term."""

    def test_the_interval_is_about_the_edges_alone(self, case):
        seen = service.say_seen(Review(), seen=True)
        before, after = share_of(case, Review()), share_of(case, seen)
        assert after.value == before.value
        assert 0 < after.low < after.value < after.high
        assert np.log(after.high / after.value) == pytest.approx(
            np.log(after.value / after.low), rel=0.1
        )
        assert service.seen_all(seen.marks)
        assert share_of(case, service.say_seen(seen, seen=False)) == before

    def test_a_rim_drawn_by_hand_has_a_term_of_its_own(self, case):
        """Half a px along it, both ways: its length over the area of all voids."""
        spot = largest(case, Review())
        seen = service.say_seen(
            outlines.pull(case, Review(), spot, spot.outline_px), seen=True
        )
        after = service.reviewed_reading(case, seen)
        line = spot.outline_px
        length = np.hypot(*(line - np.roll(line, 1, axis=0)).T).sum()
        least = 0.5 * length / after.summary.void_area_px
        share = after.summary.void_share
        assert np.log(share.high / share.value) > least

    def test_sampling_stays(self, case):
        seen = service.say_seen(Review(), seen=True)
        after = service.reviewed_reading(case, seen).summary
        assert after.sampled_share.low <= after.void_share.low
        assert after.sampled_share.high >= after.void_share.high
