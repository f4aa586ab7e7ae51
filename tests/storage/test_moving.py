"""A log copied from one database into another, and compared."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import sqlalchemy as sa

from analysis.errors import InputError, RecordError
from analysis.model.log import Piece
from analysis.model.pair import SecondLight
from analysis.model.workshop import Form, FormCare, PhotoRecipe
from analysis.point_count.drawing import draw_even
from analysis.storage import moving
from analysis.storage.drafts import draft_photo, keep_draft_photo
from analysis.storage.engine import reading, writing
from analysis.storage.log_mark import log_mark
from analysis.storage.moving import migrate_log
from analysis.storage.photo_store import path_of, photo_bytes
from analysis.storage.point_counts import begin_count, counts_of, pack_plan
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading, save_reading
from analysis.storage.records import add, list_all, load
from analysis.storage.tables import METADATA
from analysis.storage.terms import add_term, merge_terms
from tests.storage.conftest import sqlite_logs
from tests.support.crowd import photo_for, save_one
from tests.support.kept_readings import same
from tests.support.stored_readings import photo_of, reading_of


@pytest.fixture
def old(log, piece_id):
    """A log with readings, words merged into later ones, a draft's photo."""
    for token in ("a", "b"):
        save_one(log, piece_id, token)
    add_term(log, "release_agent", "wax")
    merge_terms(log, "release_agent", "oil", "wax")
    keep_draft_photo(log, b"begun")
    log_mark(log)
    return log


def everything(log):
    with reading(log) as connection:
        return {
            name: [tuple(row) for row in connection.execute(sa.select(table))]
            for name, table in METADATA.tables.items()
        }


def by_key(rows):
    return {name: sorted(map(repr, its)) for name, its in rows.items()}


@pytest.fixture
def new(tmp_path, empty_log):
    return sqlite_logs(tmp_path / "new", empty_log)()


def test_every_row_and_photo_is_in_the_new_log(old, new):
    told = []
    moved = migrate_log(old, new, told.append)
    assert by_key(everything(new)) == by_key(everything(old))
    assert (moved.photos, moved.missing) == (2, ())
    assert (moved.rows["reading"], moved.rows["piece"]) == (2, 1)
    assert told[0] == "Copying the photos"
    first, again = (list_readings(one)[0] for one in (old, new))
    assert same(load_reading(new, again.id), load_reading(old, first.id))
    for token in ("a", "b"):
        assert photo_bytes(new, photo_of(photo_for(token)).sha256) == photo_for(token)
    drafts = moving.draft_folder(new)
    assert draft_photo(new, next(drafts.iterdir()).name) == b"begun"
    assert list(new.photo_folder.rglob("*.pending")) == []


def test_recipes_second_lights_and_counts_go_there_and_back(
    log, piece_id, new, another_log
):
    form_id = load(log, Piece, piece_id).form_id
    recipe = PhotoRecipe(
        form_id=form_id,
        face_name="front",
        light_deg=-90.0,
        lamp="left",
        taken_on=date(2026, 3, 1),
    )
    add(log, recipe, save_token="recipe")
    care = FormCare(form_id=form_id, kind="waxed", done_on=date(2026, 3, 1))
    add(log, care, save_token="care")
    first, second = photo_for("left"), photo_for("right")
    pair = SecondLight(
        photo_sha256=photo_of(second).sha256,
        to_second=(1.0, 0.0, 3.1, 0.0, 1.0, 0.1 + 0.2, 0.0, 1e-7, 1.0),
        shift_px=3.1,
        rotation_deg=-0.4,
        registration_rms_px=0.21,
        light_angle_deg=None,
    )
    reading_id = save_reading(
        log,
        photo_bytes=first,
        photo=photo_of(first),
        reading=reading_of(first, second_light=pair),
        piece_id=piece_id,
        save_token="pair",
        second=(second, photo_of(second, "b.jpg")),
    ).id
    plan = draw_even(np.ones((30, 40), bool), 50, void_px2=0, seed=1)
    begin_count(log, reading_id=reading_id, who="bench", plan=plan, save_token="count")
    back = another_log()
    for source, target in ((log, new), (new, back)):
        moved = migrate_log(source, target)
        assert (moved.photos, moved.missing) == (2, ())
        (kept,) = list_all(target, PhotoRecipe, form_id=form_id)
        assert kept == list_all(log, PhotoRecipe, form_id=form_id)[0]
        assert list_all(target, FormCare, form_id=form_id)[0].kind == "waxed"
        assert load_reading(target, reading_id).second_light == pair
        assert photo_bytes(target, pair.photo_sha256) == second
        (counted,) = counts_of(target, reading_id)
        assert pack_plan(counted.plan) == pack_plan(plan)
    assert by_key(everything(back)) == by_key(everything(log))


def test_there_and_back_it_can_be_written_to_again(old, new, another_log):
    back = another_log()
    migrate_log(old, new)
    migrate_log(new, back)
    assert by_key(everything(back)) == by_key(everything(old))
    assert add(back, Form(name="B"), save_token="new").id == 2


def test_a_lost_original_is_told_and_stops_nothing(old, new):
    lost = list_readings(old)[0].photo_sha256
    path_of(old, lost).unlink()
    moved = migrate_log(old, new)
    assert (moved.photos, moved.missing) == (1, (lost,))
    assert len(list_readings(new)) == 2


def test_a_log_that_holds_something_is_not_written_over(old, new):
    add(new, Form(name="B"), save_token="x")
    with pytest.raises(InputError, match="The new log is not empty"):
        migrate_log(old, new)
    assert list_readings(new) == ()


def test_a_log_is_not_copied_into_itself(old):
    with pytest.raises(InputError, match="addresses are of one log"):
        migrate_log(old, old)


def test_a_row_that_comes_out_otherwise_leaves_nothing(old, new, monkeypatch):
    copied = moving._copied

    def wrong(source, target, table):
        copied(source, target, table)
        if table.name == "piece":
            target.execute(sa.update(table).values(note="changed"))

    monkeypatch.setattr(moving, "_copied", wrong)
    with pytest.raises(RecordError, match="Row 1 of piece came out otherwise"):
        migrate_log(old, new)
    assert sum(map(len, everything(new).values())) == 0


def test_a_photo_that_comes_out_otherwise_leaves_nothing(old, new, monkeypatch):
    def spoilt(log, _data, sha256):
        path_of(log, sha256).parent.mkdir(parents=True, exist_ok=True)
        path_of(log, sha256).write_bytes(b"other")

    monkeypatch.setattr(moving, "put", spoilt)
    with pytest.raises(RecordError, match="came out otherwise than it went in"):
        migrate_log(old, new)
    assert sum(map(len, everything(new).values())) == 0


def test_many_rows_go_over_in_parts(old, new, monkeypatch):
    monkeypatch.setattr(moving, "_ROWS_AT_A_TIME", 7)
    migrate_log(old, new)
    with writing(new) as connection:
        count = connection.scalar(sa.text("SELECT count(*) FROM void_pack"))
    assert count == len(everything(old)["void_pack"])
