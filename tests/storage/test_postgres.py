"""The log on PostgreSQL, where its programs are installed."""

from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa

from analysis.errors import ConflictError, InputError, NotInLogError, RecordError
from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form, FormCare, FormReminder, PhotoRecipe
from analysis.services import photo_queue
from analysis.services.folders.run import measure_folder
from analysis.storage import migrations
from analysis.storage.castings import last_casting, list_castings
from analysis.storage.drafts import load_draft, save_draft
from analysis.storage.engine import reading as reading_from
from analysis.storage.engine import writing
from analysis.storage.exchange import export_csv, import_pieces, preview_import
from analysis.storage.leases import claimed
from analysis.storage.photo_store import path_of, photo_bytes
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading
from analysis.storage.records import add, change, hide, list_all, load
from analysis.storage.store import open_log
from analysis.storage.tables import METADATA
from analysis.storage.terms import list_terms, merge_terms
from tests.support.crowd import all_at_once, photo_for, save_one
from tests.support.folder_photos import folder_of, in_this_process, small_photo
from tests.support.kept_readings import same
from tests.support.old_logs import AS_0001, AS_0002
from tests.support.stored_readings import photo_of, reading_of

pytest.importorskip("psycopg", reason="the driver is a test requirement")


@pytest.fixture
def log(databases, tmp_path, monkeypatch):
    """An empty log on the server."""
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    lent, back = databases
    url = lent()
    yield open_log(url)
    back(url)


@pytest.fixture
def piece_id(log):
    form = add(log, Form(name="A", form_type="pot"), save_token="f").id
    pour = add(log, Pour(name="1", cast_on=date(2026, 3, 31)), save_token="p").id
    piece = Piece(name="007", pour_id=pour, form_id=form, release_agent="oil")
    return add(log, piece, save_token="c").id


def test_a_reading_comes_back_as_it_was(log, piece_id):
    saved = save_one(log, piece_id, "t")
    data = photo_for("t")
    assert same(load_reading(log, saved.id), reading_of(data, n=40))
    assert photo_bytes(log, photo_of(data).sha256) == data
    again = save_one(log, piece_id, "t")
    assert (again.id, again.already_saved) == (saved.id, True)
    assert len(list_readings(log)) == 1


def test_the_steps_lead_to_the_tables_in_use(log):
    with reading_from(log) as connection:
        found = sa.inspect(connection)
        for name, table in METADATA.tables.items():
            assert {column["name"] for column in found.get_columns(name)} == {
                column.name for column in table.columns
            }


@pytest.mark.parametrize(("state", "script"), [("0001", AS_0001), ("0002", AS_0002)])
def test_a_log_of_an_older_state_is_brought_up(log, state, script):
    with writing(log) as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE; CREATE SCHEMA public")
    with writing(log) as connection:
        migrations.upgrade(connection, state)
        for statement in filter(str.strip, script.replace("x''", "''").split(";\n")):
            connection.exec_driver_sql(statement)
    open_log(log.url)
    assert list_all(log, Form)[0].starting_use_count == 3
    assert load_reading(log, 10).voids.area_px.tolist() == [12.5]
    assert piece_table(log)[0].void_count == 1


@pytest.mark.parametrize("state", ["0017", "0019", "0020", "0021"])
def test_a_form_of_an_older_state_takes_what_the_newest_steps_bring(log, state):
    with writing(log) as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE; CREATE SCHEMA public")
    with writing(log) as connection:
        migrations.upgrade(connection, "0002")
        for statement in filter(str.strip, AS_0002.replace("x''", "''").split(";\n")):
            connection.exec_driver_sql(statement)
        migrations.upgrade(connection, state)
    open_log(log.url)
    form = list_all(log, Form)[0]
    assert (form.set_up_recipe, form.face_kind) == ("", None)
    assert load_reading(log, 10).settings.face_kind is None
    change(log, replace(form, face_kind="ribbed", pitch_mm=30.0, depth_mm=5.0))
    day = date(2026, 3, 1)
    for token, one in (
        ("care", FormCare(form_id=form.id, kind="waxed", done_on=day)),
        ("reminder", FormReminder(form_id=form.id, kind="waxed", every_uses=20)),
        (
            "recipe",
            PhotoRecipe(
                form_id=form.id, face_name="front", light_deg=-90.0, taken_on=day
            ),
        ),
    ):
        add(log, one, save_token=token)
        assert [replace(one, id=None, version=0)] == [
            replace(kept, id=None, version=0)
            for kept in list_all(log, type(one), form_id=form.id)
        ]
    assert list_all(log, Form)[0].pitch_mm == 30.0
    for wrong in (
        "UPDATE form SET face_kind = 'oval'",
        "UPDATE photo_recipe SET brightness_share = 2",
    ):
        with (
            reading_from(log) as connection,
            pytest.raises(sa.exc.IntegrityError, match="check constraint"),
        ):
            connection.exec_driver_sql(wrong)


def test_a_folder_and_the_queue_are_measured_into_it(log, piece_id, tmp_path):
    place = folder_of(tmp_path / "photos", 2)
    (place / "000").rename(place / "007")
    done = measure_folder(log, str(place), hands=in_this_process())
    assert (done.measured, done.failed) == (1, 1)
    photo_queue.give(log, small_photo(1), "a.png")
    (waiting,) = photo_queue.list_waiting(log)
    photo_queue.confirm(log, waiting, piece_id, None)
    with claimed(log, f"waiting photo {waiting.id}", holder="other"):
        assert photo_queue.measure_ready(log) == 0
    assert photo_queue.measure_ready(log) == 1
    assert len(list_readings(log, piece_id=piece_id)) == 2


def test_a_log_opens_again(log, piece_id):
    again = open_log(log.url)
    assert load(again, Piece, piece_id).name == "007"


def test_the_log_works_as_on_sqlite(log, piece_id):
    hide(log, Form, load(log, Piece, piece_id).form_id)
    add(log, Form(name="A", release_agent="Oil"), save_token="again")
    merge_terms(log, "release_agent", "Oil", "oil")
    assert [(t.name, t.uses) for t in list_terms(log, "release_agent")] == [("oil", 2)]
    save_draft(log, "pour", {"name": "12"})
    assert load_draft(log, "pour") == {"name": "12"}
    assert [casting.form_use for casting in list_castings(log)] == [1]
    assert last_casting(log, load(log, Piece, piece_id).form_id).piece.id == piece_id
    save_one(log, piece_id, "t")
    for even in (False, True):
        assert piece_table(log, common_floor=even)[0].void_count is not None
    mine = load(log, Piece, piece_id)
    change(log, replace(mine, note="theirs"))
    with pytest.raises(ConflictError, match="now 'theirs', yours 'mine'"):
        change(log, replace(mine, note="mine"))


def test_a_table_goes_round(log):
    data = b"piece,pour,cast_on,void_area_percent\r\n007,1,2026-01-01,1.25\r\n"
    import_pieces(log, preview_import(log, data), save_token="i")
    assert b"007,1,2026-01-01," in export_csv(log)


def test_names_and_references_are_refused_in_words(log, piece_id):
    del piece_id
    with pytest.raises(InputError, match="already a form named 'A'"):
        add(log, Form(name="A"), save_token="x")
    with pytest.raises(NotInLogError, match="refers to pour 999"):
        add(log, Piece(name="9", pour_id=999), save_token="y")
    assert len(list_all(log, Piece)) == 1


@pytest.mark.parametrize("value", ["'NaN'", "'Infinity'", "-1", "100000"])
def test_the_tables_themselves_refuse(log, piece_id, value):
    with (
        pytest.raises(RecordError, match="violates check constraint"),
        writing(log) as connection,
    ):
        connection.exec_driver_sql(
            "INSERT INTO step (piece_id, position, seconds) "
            f"VALUES ({piece_id}, 0, {value})"
        )


def test_a_reading_that_is_refused_leaves_nothing(log, piece_id):
    with pytest.raises(NotInLogError, match="no piece"):
        save_one(log, piece_id + 1, "t")
    assert not path_of(log, photo_of(photo_for("t")).sha256).exists()


@pytest.mark.slow
def test_saves_of_several_processes_all_arrive(log, piece_id):
    codes, came_back = all_at_once(log, piece_id, processes=3, saves=5)
    assert codes == [0] * 3
    assert came_back == len(list_readings(log)) == 15


def test_a_lost_connection_is_a_sentence(log):
    with (
        pytest.raises(RecordError, match="connection to the database server was lost"),
        reading_from(log) as connection,
    ):
        connection.exec_driver_sql("SELECT pg_terminate_backend(pg_backend_pid())")


def test_a_server_that_is_not_there_is_a_sentence(tmp_path):
    with pytest.raises(RecordError, match=r"database server could not be used"):
        open_log(f"postgresql+psycopg://maker@/x?host={tmp_path}")
