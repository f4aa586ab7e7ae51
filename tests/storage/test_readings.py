from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import sqlalchemy as sa

from analysis.errors import ConflictError, InputError, NotInLogError
from analysis.model.log import PhotoUse, Piece, Pour
from analysis.model.reading import JointMarks, Share
from analysis.model.workshop import Form
from analysis.storage.castings import list_castings
from analysis.storage.engine import reading as reading_from
from analysis.storage.photo_store import path_of, photo_bytes
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import (
    correct_reading,
    delete_reading,
    load_reading,
    restore_reading,
    save_with_new_piece,
)
from analysis.storage.records import add, load
from analysis.storage.tables import METADATA, READING
from tests.support.kept_readings import DATA, keep, same
from tests.support.stored_readings import catalog, photo_of, reading_of, summary_of


def counts(log):
    with reading_from(log) as connection:
        return {
            name: connection.scalar(sa.select(sa.func.count()).select_from(table))
            for name, table in METADATA.tables.items()
        }


@pytest.mark.parametrize("scale", [True, False])
@pytest.mark.parametrize("n", [0, 1, 40])
def test_a_reading_comes_back_as_it_was(log, piece_id, scale, n):
    reading = reading_of(DATA, scale=scale, n=n)
    saved = keep(log, piece_id, reading=reading)
    back = load_reading(log, saved.id)
    assert same(reading, back)
    assert not back.voids.area_px.flags.writeable


def test_intervals_of_parts_and_marks_of_joints_come_back(log, piece_id):
    marks = JointMarks(
        length_mm=300.5,
        sand_length_mm=120.0,
        fin_length_mm=0.0,
        arris_loss_mm2_per_m=41.25,
    )
    made = reading_of(DATA)
    summary = replace(
        made.summary,
        joint_band_share=0.03,
        joint_band_ends=(0.02, 0.05),
        open_face_share=0.01,
        open_face_ends=(0.0, 0.02),
        honeycomb_ends=(0.0, 0.125),
        joint_marks=marks,
    )
    saved = keep(log, piece_id, reading=replace(made, summary=summary))
    back = load_reading(log, saved.id).summary
    assert back == summary
    line = list_readings(log)[0]
    assert (line.joint_length_mm, line.sand_length_mm) == (300.5, 120.0)
    row = piece_table(log)[0]
    assert (row.sand_length_mm, row.fin_length_mm) == (120.0, 0.0)
    assert row.arris_loss_mm2_per_m == 41.25


def test_the_comparison_used_here_sees_the_last_bit():
    reading = reading_of(DATA)
    moved = replace(reading.voids, row_px=np.nextafter(reading.voids.row_px, np.inf))
    assert not same(reading, replace(reading, voids=moved))


def test_the_original_comes_back_bit_for_bit(log, piece_id):
    data = bytes(range(256)) * 1000
    keep(log, piece_id, data=data)
    assert photo_bytes(log, photo_of(data).sha256) == data


def test_a_second_press_saves_nothing_again(log, piece_id):
    first = keep(log, piece_id)
    before = counts(log)
    second = keep(log, piece_id)
    assert (second.id, second.already_saved) == (first.id, True)
    assert counts(log) == before


def test_a_token_of_another_record_is_refused(log, piece_id):
    with pytest.raises(InputError, match="belongs to a piece, not to a reading"):
        keep(log, piece_id, token="c")


def test_a_blank_token_is_refused(log, piece_id):
    with pytest.raises(InputError, match="needs a token"):
        keep(log, piece_id, token=" ")


def test_measuring_again_adds_a_reading_beside_the_old_one(log, piece_id):
    first = keep(log, piece_id, token="1")
    second = keep(log, piece_id, token="2", reading=reading_of(DATA, n=7))
    lines = list_readings(log, piece_id=piece_id)
    assert {line.id for line in lines} == {first.id, second.id}
    assert counts(log)["photo"] == counts(log)["photo_use"] == 1


def test_the_same_photo_at_another_stage_is_another_use(log, piece_id):
    keep(log, piece_id, token="1", use=PhotoUse(stage="as_struck"))
    keep(log, piece_id, token="2", use=PhotoUse(stage="ground"))
    stages = {line.use.stage for line in list_readings(log, piece_id=piece_id)}
    assert stages == {"as_struck", "ground"}
    assert counts(log)["photo_use"] == 2


def test_camera_time_without_a_zone_stays_without(log, piece_id):
    keep(log, piece_id)
    assert list_readings(log)[0].taken_at == "2026-03-29T01:30:00"


def test_names_are_composed_alike(log, piece_id):
    keep(log, piece_id, name="Pflanzku\u0308bel.jpg")
    assert list_readings(log)[0].photo_name == "Pflanzk\u00fcbel.jpg"


@pytest.mark.parametrize(
    "name",
    ["../../x.jpg", "/etc/x.jpg", "..\\..\\x.jpg", "a/b.jpg", "", ".", "CON.jpg"],
)
def test_file_names_never_reach_the_disk(log, piece_id, name, tmp_path):
    keep(log, piece_id, name=name)
    files = {path.name for path in tmp_path.rglob("*") if path.is_file()}
    assert files <= {"log.sqlite", "log.sqlite-wal", "log.sqlite-shm"} | {
        photo_of(DATA).sha256
    }
    assert list_readings(log)[0].photo_name == name


def test_a_reading_of_another_photo_is_refused(log, piece_id):
    with pytest.raises(InputError, match="not made on this photo"):
        keep(log, piece_id, reading=reading_of(b"other"))


def test_a_reading_of_no_piece_leaves_nothing(log):
    before = counts(log)
    with pytest.raises(NotInLogError, match="no piece 999"):
        keep(log, 999)
    assert counts(log) == before
    assert not path_of(log, photo_of(DATA).sha256).exists()


@pytest.mark.parametrize("bad", [np.nan, np.inf, "1,25", True])
def test_what_is_no_number_leaves_nothing(log, piece_id, bad):
    before = counts(log)
    reading = reading_of(DATA, summary=summary_of(face_area_px=bad))
    with pytest.raises(InputError, match="Face area px must be a"):
        keep(log, piece_id, reading=reading)
    assert counts(log) == before
    assert not path_of(log, photo_of(DATA).sha256).exists()


def test_a_void_that_is_no_number_leaves_nothing(log, piece_id):
    before = counts(log)
    voids = catalog(2, area_px=[4.0, np.nan])
    with pytest.raises(InputError, match="Area px must be a finite number"):
        keep(log, piece_id, reading=reading_of(DATA, voids=voids))
    assert counts(log) == before
    assert not path_of(log, photo_of(DATA).sha256).exists()


def test_a_share_out_of_range_is_refused(log, piece_id):
    summary = summary_of(void_share=Share(value=1.25, low=0, high=1))
    with pytest.raises(InputError, match="has a value the log cannot keep"):
        keep(log, piece_id, reading=reading_of(DATA, summary=summary))


@pytest.mark.of_sqlite
def test_numpy_numbers_become_plain_ones(log, piece_id):
    summary = summary_of(
        void_count=np.int64(5), face_area_px=np.float32(8.5), smallest_counted_px=3
    )
    keep(log, piece_id, reading=reading_of(DATA, summary=summary))
    with reading_from(log) as connection:
        kinds = connection.execute(
            sa.select(
                sa.func.typeof(READING.c.void_count),
                sa.func.typeof(READING.c.face_area_px),
                sa.func.typeof(READING.c.smallest_counted_px),
            )
        ).one()
    assert tuple(kinds) == ("integer", "real", "real")


def test_a_deleted_reading_is_hidden_and_comes_back(log, piece_id):
    saved = keep(log, piece_id)
    delete_reading(log, saved.id)
    assert list_readings(log, piece_id=piece_id) == ()
    restore_reading(log, saved.id)
    assert [line.id for line in list_readings(log, piece_id=piece_id)] == [saved.id]


def test_a_reading_that_is_not_there(log):
    with pytest.raises(NotInLogError, match="no reading 5"):
        load_reading(log, 5)
    with pytest.raises(NotInLogError, match="no reading 5"):
        delete_reading(log, 5)


def keep_new(log, *, token="t", piece="007", pour="12", form="Trough A"):
    return save_with_new_piece(
        log,
        piece=Piece(name=piece, pour_id=0),
        pour=Pour(name=pour, cast_on=date(2026, 3, 31)),
        form=Form(name=form),
        photo_bytes=DATA,
        photo=photo_of(DATA),
        reading=reading_of(DATA),
        save_token=token,
    )


def test_new_piece_is_kept_with_its_reading(log):
    saved = keep_new(log)

    (casting,) = list_castings(log)
    (line,) = list_readings(log, piece_id=casting.piece.id)
    assert (line.id, casting.pour.name, casting.form_use) == (saved.id, "12", 1)
    assert keep_new(log) == replace(saved, already_saved=True)
    assert len(list_castings(log)) == 1


def test_name_in_use_leaves_nothing_of_the_new_piece(log):
    keep_new(log)
    before = counts(log)

    with pytest.raises(InputError, match="already a form named 'Trough A'"):
        keep_new(log, token="u", piece="008", pour="13")

    assert counts(log) == before


def test_a_reading_on_the_wrong_piece_is_put_right(log, piece_id):
    pour_id = load(log, Piece, piece_id).pour_id
    other = add(log, Piece(name="8", pour_id=pour_id), save_token="8").id
    saved = keep(log, piece_id, use=PhotoUse(stage="as_struck"))
    reading = load_reading(log, saved.id)
    (line,) = list_readings(log, piece_id=piece_id)
    right = PhotoUse(stage="ground", surface_state="dry", set_up="light table")
    correct_reading(log, line, piece_id=other, use=right)
    assert list_readings(log, piece_id=piece_id) == ()
    (moved,) = list_readings(log, piece_id=other)
    assert (moved.id, moved.use, moved.version) == (saved.id, right, 2)
    assert same(load_reading(log, saved.id), reading)
    with pytest.raises(ConflictError, match="Someone else changed reading"):
        correct_reading(log, line, use=right)
    with pytest.raises(NotInLogError, match="no piece 99"):
        correct_reading(log, moved, piece_id=99, use=right)
    with pytest.raises(NotInLogError, match="no reading 99"):
        correct_reading(log, replace(moved, id=99), use=right)
    correct_reading(log, moved, piece_id=piece_id, use=line.use)
    assert counts(log)["photo_use"] == 2
    assert [kept.use for kept in list_readings(log, piece_id=piece_id)] == [line.use]
