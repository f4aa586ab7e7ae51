"""Inside or outside its finish target, and when one cannot tell."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from analysis.grading.catalogue import own_criterion
from analysis.grading.grade import judge
from analysis.model.grading import JudgedArea
from analysis.model.log import PhotoUse, Piece
from analysis.model.log_views import ReadingLine
from analysis.model.reading import Share
from analysis.model.workshop import FinishTarget, Form
from analysis.pieces.target import interval_of, is_limiting, line_of, place_to
from tests.support.readings import reading, summary

BAND = FinishTarget(product_line_id=1, low_share=0.002, high_share=0.01)


def line(share=0.005, low=0.0045, high=0.0056, **changes):
    given = {
        "id": 1,
        "piece_id": 1,
        "photo_sha256": "a" * 64,
        "photo_name": "a.jpg",
        "use": PhotoUse(stage="as_struck"),
        "reviews_id": None,
        "measured_at": datetime(2026, 1, 1, tzinfo=UTC),
        "saved_at": datetime(2026, 1, 1, tzinfo=UTC),
        "taken_at": None,
        "method_version": "1",
        "void_share": share,
        "void_share_low": low,
        "void_share_high": high,
        "void_count": 9,
        "smallest_counted_mm": 0.5,
        "face_area_px": 1000.0,
        "face_area_mm2": 1000.0,
        "void_area_px": share * 1000.0,
        "largest_void_mm": 3.0,
    }
    return ReadingLine(**(given | changes))


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.0045, 0.0056, "inside"),
        (0.002, 0.01, "inside"),
        (0.0099, 0.0101, "doubtful"),
        (0.0101, 0.02, "above"),
        (0.0019, 0.0021, "doubtful"),
        (0.001, 0.0019, "below"),
        (0.001, 0.02, "doubtful"),
    ],
)
def test_interval_against_the_band(low, high, said):
    assert place_to(BAND, [line((low + high) / 2, low, high)]) == said


def test_what_is_not_there_is_said():
    assert place_to(BAND, []) == "not measured"
    assert place_to(None, [line()]) == "no target"
    assert place_to(FinishTarget(product_line_id=1), [line()]) == "no target"


def test_a_figure_from_a_table_has_no_doubt():
    assert [place_to(BAND, [], share) for share in (0.0, 0.005, 0.011)] == [
        "below",
        "inside",
        "above",
    ]


def test_largest_void_and_honeycomb_are_limits_too():
    limits = FinishTarget(product_line_id=1, largest_void_mm=2.9, honeycomb_share=0.01)

    assert place_to(limits, [line()]) == "above"
    assert place_to(limits, [line(largest_void_mm=2.9)]) == "inside"
    rough = line(largest_void_mm=1.0, honeycomb_share=0.02)
    assert place_to(limits, [rough]) == "doubtful"
    assert place_to(limits, [line(largest_void_mm=None)]) == "inside"


def test_photos_are_pooled_by_area():
    small, large = line(0.02, 0.015, 0.03), line(0.002, 0.001, 0.004)
    large = replace(large, face_area_mm2=3000.0, face_area_px=3000.0, void_area_px=6.0)

    share, low, high = interval_of([small, large])

    assert share == pytest.approx((0.02 * 1000 + 0.002 * 3000) / 4000)
    assert (low, high) == pytest.approx((0.0045, 0.0105))


def test_line_of_the_piece_goes_before_that_of_its_form():
    form = Form(name="A", product_line_id=3)

    assert line_of(Piece(name="1", pour_id=1, product_line_id=2), form) == 2
    assert line_of(Piece(name="1", pour_id=1), form) == 3
    assert line_of(Piece(name="1", pour_id=1), None) is None


def test_a_target_without_limits_limits_nothing():
    assert not is_limiting(FinishTarget(product_line_id=1, low_share=0.0))
    assert is_limiting(BAND)


@pytest.mark.parametrize("share", [0.0005, 0.0015, 0.0019, 0.004, 0.009, 0.011, 0.02])
def test_agrees_with_the_judgement_of_the_piece_page(share):
    """The judgement draws from the same interval: 2.5 % on either side are doubt."""
    low, high = 0.9 * share, 1.15 * share
    given = summary(
        void_share=Share(value=share, low=low, high=high), honeycomb_share=0.0
    )
    area = JudgedArea(name="a", reading=reading(summary=given), stage="as_struck")

    found = judge(own_criterion(BAND, "pots"), (area,)).grade

    word = {"within the target": "inside", "outside the target": "outside"}.get(
        found, "doubtful"
    )
    place = place_to(BAND, [line(share, low, high)])
    assert {"above": "outside", "below": "outside"}.get(place, place) == word
