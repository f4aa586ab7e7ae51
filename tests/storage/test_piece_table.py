from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.flags import Flag
from analysis.model.log import JointState, PhotoUse, Piece, Pour, Step
from analysis.model.photo import Scale
from analysis.model.reading import Share
from analysis.model.workshop import FinishTarget, Form, ProductLine
from analysis.storage.castings import list_castings
from analysis.storage.library import places_since
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import pieces_of_readings, readings_by_piece
from analysis.storage.readings import delete_reading, save_reading
from analysis.storage.records import add, change, hide, load
from tests.support.stored_readings import catalog, photo_of, reading_of, summary_of


def photographed(
    log,
    piece_id,
    name,
    *,
    face_px,
    void_px,
    mm_per_px=1.0,
    smallest_mm=1.0,
    use=None,
    reviews_id=None,
    day=1,
    **changes,
):
    """Save a reading with voids of the areas given, in px2."""
    data = name.encode()
    has_scale = mm_per_px is not None
    square = (mm_per_px or 1) ** 2
    total = float(sum(void_px))
    share = total / face_px
    summary = summary_of(
        face_area_px=float(face_px),
        face_area_mm2=face_px * square if has_scale else None,
        void_area_px=total,
        void_area_mm2=total * square if has_scale else None,
        void_share=Share(value=share, low=share, high=share),
        void_count=len(void_px),
        smallest_counted_mm=smallest_mm if has_scale else None,
        joint_band_share=0.02,
        open_face_share=None,
        honeycomb_share=0.0,
    )
    scale = Scale(mm_per_px=mm_per_px or 1, relative_uncertainty=0, method="typed")
    reading = reading_of(
        data,
        summary=summary,
        scale=scale if has_scale else None,
        voids=catalog(len(void_px), area_px=np.array(void_px, dtype=float)),
        measured_at=datetime(2026, 4, day, tzinfo=UTC),
    )
    reading = replace(
        reading,
        scale=scale if has_scale else None,
        **({"light_flags": frozenset()} | changes),
    )
    return save_reading(
        log,
        photo_bytes=data,
        photo=photo_of(data),
        reading=reading,
        piece_id=piece_id,
        save_token=f"{name} {day} {reviews_id}",
        use=use or PhotoUse(stage="as_struck"),
        reviews_id=reviews_id,
    ).id


def only(log, **options):
    (row,) = piece_table(log, **options)
    return row


def test_a_piece_without_a_reading_has_its_settings(log, piece_id):
    line = add(log, ProductLine(name="planters"), save_token="l").id
    piece = load(log, Piece, piece_id)
    row = only(log)
    assert (row.piece, row.pour, row.cast_on) == ("007", "12", date(2026, 3, 31))
    assert (row.form, row.form_type, row.form_use) == ("Trough A", "trough", 1)
    assert (row.joint_sealing, row.release_agent) == ("tape", "oil")
    assert (row.vibration_method, row.vibration_s) == ("table", 40.0)
    assert row.void_area_percent is None
    assert row.stage is None
    add(
        log,
        Piece(name="8", pour_id=piece.pour_id, product_line_id=line),
        save_token="8",
    )
    assert [row.product_line for row in piece_table(log)] == [None, "planters"]


def test_photos_of_a_piece_are_pooled_by_area(log, piece_id):
    # 10 of 1000 mm2 and 4 x 5 px2 at 2 mm per px = 80 of 4000 mm2: 90 of 5000 = 1.8 %,
    # not the plain mean of 1 and 2 %.
    photographed(log, piece_id, "a", face_px=1000, void_px=[10])
    photographed(log, piece_id, "b", face_px=1000, void_px=[5] * 4, mm_per_px=2.0)
    row = only(log)
    assert row.void_area_percent == pytest.approx(1.8, rel=1e-12)
    assert row.face_area_mm2 == 5000
    assert row.void_count == 5
    assert (row.light, row.method_version, row.stage) == ("plain", "1", "as_struck")
    assert row.joint_band_percent == pytest.approx(2.0)
    assert row.open_face_percent is None


def test_close_ups_and_show_photos_are_never_pooled(log, piece_id):
    photographed(log, piece_id, "a", face_px=1000, void_px=[10])
    for purpose in ("worst_spot", "show", "relief"):
        use = PhotoUse(purpose=purpose, stage="as_struck")
        photographed(log, piece_id, purpose, face_px=1000, void_px=[500], use=use)
    assert only(log).void_area_percent == pytest.approx(1.0)


def test_measuring_again_does_not_count_twice_and_the_latest_counts(log, piece_id):
    photographed(log, piece_id, "a", face_px=1000, void_px=[10], day=1)
    later = photographed(log, piece_id, "a", face_px=1000, void_px=[20], day=2)
    assert only(log).void_area_percent == pytest.approx(2.0)
    assert only(log).face_area_mm2 == 1000
    delete_reading(log, later)
    assert only(log).void_area_percent == pytest.approx(1.0)


def test_a_review_counts_before_a_later_reading(log, piece_id):
    first = photographed(log, piece_id, "a", face_px=1000, void_px=[10], day=1)
    photographed(
        log, piece_id, "a", face_px=1000, void_px=[12], day=2, reviews_id=first
    )
    photographed(log, piece_id, "a", face_px=1000, void_px=[20], day=3)
    assert only(log).void_area_percent == pytest.approx(1.2)


def test_stages_are_never_pooled(log, piece_id):
    photographed(
        log,
        piece_id,
        "g",
        face_px=1000,
        void_px=[30],
        use=PhotoUse(stage="ground"),
    )
    assert (only(log).stage, only(log).void_area_percent) == ("ground", 3.0)
    photographed(log, piece_id, "a", face_px=1000, void_px=[10])
    assert (only(log).stage, only(log).void_area_percent) == ("as_struck", 1.0)
    assert only(log, stage="ground").void_area_percent == 3.0
    assert only(log, stage="polished").void_area_percent is None
    with pytest.raises(InputError, match="Stage must be one of"):
        piece_table(log, stage="washed")


def test_photos_without_a_scale_or_of_a_wet_face_give_way(log, piece_id):
    photographed(log, piece_id, "n", face_px=1000, void_px=[30], mm_per_px=None)
    row = only(log)
    assert (row.void_area_percent, row.face_area_mm2) == (3.0, None)
    assert row.smallest_counted_mm is None
    wet = PhotoUse(stage="as_struck", surface_state="wet")
    photographed(log, piece_id, "w", face_px=1000, void_px=[50], use=wet)
    assert only(log).void_area_percent == 5.0
    photographed(log, piece_id, "a", face_px=1000, void_px=[10])
    assert only(log).void_area_percent == 1.0


def test_what_differs_between_photos_is_mixed(log, piece_id):
    photographed(log, piece_id, "a", face_px=1000, void_px=[10])
    photographed(
        log,
        piece_id,
        "b",
        face_px=1000,
        void_px=[10],
        light_flags=frozenset({Flag.UNEVEN_LIGHT, Flag.TOO_DARK}),
        method_version="2",
    )
    assert (only(log).light, only(log).method_version) == ("mixed", "mixed")


def test_a_common_floor_counts_again_from_the_stored_voids(log, piece_id):
    # Diameters at 1 mm per px: area 1 -> 1.128 mm, 3 -> 1.954, 4 -> 2.257.
    pour_id = load(log, Piece, piece_id).pour_id
    other = add(log, Piece(name="8", pour_id=pour_id), save_token="8").id
    photographed(log, piece_id, "a", face_px=1000, void_px=[1, 3, 4], smallest_mm=1.0)
    photographed(log, other, "b", face_px=1000, void_px=[5], smallest_mm=2.0)
    plain = piece_table(log)
    assert [row.void_count for row in plain] == [3, 1]
    even = piece_table(log, common_floor=True)
    assert [row.void_count for row in even] == [1, 1]
    assert even[0].void_area_percent == pytest.approx(0.4)
    assert [row.smallest_counted_mm for row in even] == [2.0, 2.0]
    assert (even[0].joint_band_percent, even[1].joint_band_percent) == (None, 2.0)


def test_a_void_of_just_the_floor_is_counted(log, piece_id):
    floor = 2.0
    pour_id = load(log, Piece, piece_id).pour_id
    other = add(log, Piece(name="8", pour_id=pour_id), save_token="8").id
    area = np.pi / 4 * floor**2
    photographed(log, piece_id, "a", face_px=1000, void_px=[area, 3.0])
    photographed(log, other, "b", face_px=1000, void_px=[], smallest_mm=floor)
    even = piece_table(log, common_floor=True)
    assert [row.void_count for row in even] == [1, 0]
    assert even[1].void_area_percent == 0.0


def test_rows_come_by_date_and_hidden_ones_do_not(log, piece_id):
    early = add(log, Pour(name="early", cast_on=date(2025, 1, 1)), save_token="e").id
    add(log, Piece(name="first", pour_id=early), save_token="1")
    assert [row.piece for row in piece_table(log)] == ["first", "007"]
    hide(log, Piece, piece_id)
    assert [row.piece for row in piece_table(log)] == ["first"]


def test_mixed_sealing_and_methods_are_told(log):
    form = add(log, Form(name="F"), save_token="f").id
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 1)), save_token="p").id
    piece = Piece(
        name="1",
        pour_id=pour,
        form_id=form,
        joints=(
            JointState(joint="l", sealing="tape"),
            JointState(joint="r", sealing="none"),
        ),
        steps=(Step(method="table", seconds=9), Step(method="poker", seconds=9)),
    )
    add(log, piece, save_token="1")
    row = only(log)
    assert (row.joint_sealing, row.vibration_method, row.vibration_s) == (
        "mixed",
        "table then poker",
        None,
    )


def test_castings_of_a_form_are_counted_as_their_records_say(log):
    """Against the database's own numbering: days, times, hidden ones, no form."""
    rng = np.random.default_rng(20261127)
    forms = [
        add(log, Form(name=f"F{n}", starting_use_count=7 * n), save_token=f"f{n}").id
        for n in range(3)
    ]
    for number in range(12):
        hour = rng.integers(3)
        pour = Pour(
            name=f"{number}",
            cast_on=date(2026, 1, 1 + int(rng.integers(4))),
            cast_at=time(int(hour)) if hour else None,
        )
        pour_id = add(log, pour, save_token=f"p{number}").id
        for place in range(3):
            at = int(rng.integers(4))
            piece = Piece(
                name=f"{number}-{place}",
                pour_id=pour_id,
                form_id=forms[at] if at < 3 else None,
            )
            key = add(log, piece, save_token=f"{number}-{place}").id
            if rng.random() < 0.2:
                hide(log, Piece, key)
        if number in {3, 8}:
            hide(log, Pour, pour_id)
    told = [(row.piece, row.form_use) for row in piece_table(log)]
    assert told == [
        (one.piece.name, one.form_use) for one in reversed(list_castings(log))
    ]
    assert {use for _, use in told} >= {None, 1, 8, 15}


def test_a_log_whose_pours_are_all_hidden_has_no_rows(log, piece_id):
    hide(log, Pour, load(log, Piece, piece_id).pour_id)
    assert piece_table(log) == ()


def test_readings_are_counted_piece_by_piece_without_the_deleted(log, piece_id):
    first = photographed(log, piece_id, "a", face_px=1e4, void_px=[10])
    second = photographed(log, piece_id, "b", face_px=1e4, void_px=[10], day=2)
    review = photographed(
        log, piece_id, "a", face_px=1e4, void_px=[9], day=3, reviews_id=first
    )
    assert readings_by_piece(log) == {piece_id: (3, review)}
    assert readings_by_piece(log, automatic=True) == {piece_id: (2, second)}
    delete_reading(log, second)
    assert readings_by_piece(log, automatic=True) == {piece_id: (1, first)}
    assert pieces_of_readings(log, [first, second, 99]) == {first: piece_id}


def test_pieces_cast_lately_are_counted_by_their_target(log, piece_id):
    line = add(log, ProductLine(name="planters"), save_token="line").id
    piece = load(log, Piece, piece_id)
    change(log, replace(piece, product_line_id=line))
    first = load(log, Pour, piece.pour_id).cast_on
    assert places_since(log, first) == {}  # nothing to be held against
    add(log, FinishTarget(product_line_id=line, high_share=0.01), save_token="t")
    assert places_since(log, first) == {"not measured": 1}
    photographed(log, piece_id, "a", face_px=1e4, void_px=[900])
    assert places_since(log, first) == {"above": 1}
    assert places_since(log, first + timedelta(days=1)) == {}
