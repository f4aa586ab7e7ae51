"""What stands for zero, what is sealed, which reading stands, how photos are pooled."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.errors import TableError
from analysis.model.log import PhotoUse
from analysis.pieces.likeness import common_size, first_choice, size_class
from analysis.pieces.order import casting_order
from analysis.pieces.pooling import by_area, pooled
from analysis.pieces.sealing import joints_sealed, sealing_of
from analysis.pieces.standing import standing_readings, stands_for
from analysis.pieces.table import read_table
from analysis.pieces.zeros import stands_for_zero, zero_of

BEGIN = datetime(2026, 3, 31, tzinfo=UTC)


@dataclass
class Measured:
    id: int
    piece_id: int = 1
    photo_sha256: str = "a"
    use: PhotoUse = field(default_factory=PhotoUse)
    reviews_id: int | None = None
    smallest_counted_mm: float | None = 0.5

    @property
    def measured_at(self):
        return BEGIN + timedelta(hours=self.id)


def ids(readings, **asked):
    return [one.id for one in stands_for(readings, **asked)]


def test_latest_reading_stands_for_a_photo_and_a_review_before_it():
    assert ids([Measured(1), Measured(2)]) == [2]
    assert ids([Measured(1), Measured(2, reviews_id=1), Measured(3)]) == [2]
    assert ids([Measured(1), Measured(2, photo_sha256="b")]) == [2, 1]


def test_close_ups_never_stand_for_a_piece():
    worst = Measured(2, photo_sha256="b", use=PhotoUse(purpose="worst_spot"))
    assert ids([Measured(1), worst]) == [1]
    assert ids([worst]) == []


def test_earliest_stage_stands_unless_another_is_asked_for():
    struck = Measured(1, use=PhotoUse(stage="as_struck"))
    filled = Measured(2, photo_sha256="b", use=PhotoUse(stage="filled"))
    unknown = Measured(3, photo_sha256="c")
    assert ids([struck, filled, unknown]) == [1]
    assert ids([filled, unknown]) == [2]
    assert ids([struck, filled], stage="filled") == [2]
    assert ids([struck], stage="filled") == []


def test_dry_photos_with_a_scale_stand_before_others():
    wet = Measured(1, use=PhotoUse(surface_state="wet"))
    bare = Measured(2, photo_sha256="b", smallest_counted_mm=None)
    assert ids([wet, bare]) == [1]
    assert ids([wet, bare, Measured(3, photo_sha256="c")]) == [3]
    assert ids([bare]) == [2]


def test_each_piece_has_its_own():
    both = standing_readings([Measured(1), Measured(2, piece_id=7)])
    assert {key: [one.id for one in its] for key, its in both.items()} == {
        1: [1],
        7: [2],
    }


def test_nothing_found_stays_below_whatever_was_found():
    # pi/4 * 2^2 / 9600 mm^2 / 2 is more than half of the 0.002 % found: the rule of
    # half a smallest void alone would put an empty face above a measured one.
    sizes, areas = np.array([2.0, 2.0]), np.array([9600.0, 9600.0])
    share = np.array([0.0, 2e-5])
    zero = stands_for_zero(share, smallest_counted_mm=sizes, face_area_mm2=areas)
    assert zero == pytest.approx(1e-5)
    many = np.array([0.0, 0.01])
    zero = stands_for_zero(many, smallest_counted_mm=sizes, face_area_mm2=areas)
    assert zero == pytest.approx(np.pi / 9600 / 2)
    assert stands_for_zero(many, at_most=1e-6) == 1e-6
    assert stands_for_zero(np.zeros(2)) > 0


def test_zero_of_sizes_and_counts():
    table = read_table("piece,pour,smallest_counted_mm\n1,A,0.5\n2,A,0.5\n")
    assert zero_of(table, np.array([0.0, 3.0]), "largest_void_mm") == 0.25
    assert zero_of(table, np.array([0.0, 3.0]), "repair_minutes") == 1.5


def test_form_without_joints_is_neither_sealed_nor_open():
    assert sealing_of("not applicable") == "no joints"
    assert joints_sealed("not applicable") == ""
    assert [sealing_of(one) for one in ("Tape ", "NONE", "Mixed", " ")] == [
        "sealed",
        "open",
        "mixed",
        "not recorded",
    ]


def test_photos_without_a_scale_are_not_weighed_where_others_are():
    assert by_area([1.0, 4.0], [None, 2000.0]) == 4.0
    assert by_area([1.0, None], [1.0, 1.0]) == 1.0
    assert by_area([], []) is None
    head = "piece,pour,void_area_percent,face_area_mm2,void_count\n"
    one = pooled(read_table(head + "1,A,1,,2\n1,A,4,2000,3\n2,A,5,,1\n2,A,7,,\n"))
    assert one.number["void_area_percent"].tolist() == [4.0, 6.0]
    assert np.isnan(one.number["face_area_mm2"]).all()
    assert one.number["void_count"][0] == 5
    assert np.isnan(one.number["void_count"][1])


def test_photos_of_a_piece_must_agree_about_what_is_asked():
    table = read_table("piece,pour,mix\n1,A,C25\n1,A,C40\n")
    with pytest.raises(TableError, match="has mix 'C40' here and 'C25' before"):
        pooled(table, alike=("mix",))


def test_pours_of_a_day_go_by_time_then_as_saved():
    rows = (
        "1,late,2026-03-30,09:30\n2,early,2026-03-30,07:15\n3,untimed,2026-03-30,\n"
        "4,second,2026-03-30,\n5,dayless,,\n6,before,2026-03-29,23:00\n"
    )
    table = read_table("piece,pour,cast_on,cast_at\n" + rows)
    order = table.text["pour"][np.argsort(casting_order(table))].tolist()
    assert order == ["before", "untimed", "second", "early", "late", "dayless"]
    assert casting_order(table.taken(np.zeros(6, dtype=bool))).tolist() == []


def test_like_with_like():
    assert size_class(np.array([0.5, 0.7, 1.2, np.nan])).tolist() == [1, 1, 2, 0]
    assert common_size([0.5, 2.0, None]) == 2.0
    cells = np.array(["ground", "ground", "as struck"])
    assert first_choice(cells, ["ground", "as struck"]) == "as struck"
    assert first_choice(cells, ["ground"]) == "ground"
