import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from analysis.errors import RecordError
from analysis.model.afterwards import Outcome, Repair, Verdict
from analysis.model.batch_marks import BatchMark
from analysis.model.log import Piece, Pour
from analysis.model.review import Mark
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormCare,
    Mix,
    PhotoRecipe,
    ProductLine,
)
from analysis.point_count.drawing import draw_even
from analysis.storage import migrations
from analysis.storage.drafts import load_draft
from analysis.storage.engine import reading, writing
from analysis.storage.piece_table import piece_table
from analysis.storage.point_counts import begin_count, counts_of
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading
from analysis.storage.records import add, change, history, list_all
from analysis.storage.reviews import save_review
from analysis.storage.store import open_log
from analysis.storage.tables import METADATA
from analysis.storage.terms import term_history
from tests.support.old_logs import AS_0001, AS_0002, at

pytestmark = pytest.mark.of_sqlite


# One index is over expressions, which reflection on SQLite passes over.
@pytest.mark.filterwarnings("ignore:Skipped unsupported reflection")
@pytest.mark.filterwarnings("ignore:autogenerate skipping metadata-specified")
def test_the_steps_lead_to_the_tables_in_use(log):
    with reading(log) as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []


def test_the_steps_lead_to_the_same_indexes(log):
    def indexes(connection):
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'index'"
        return {row.name: row.sql for row in connection.exec_driver_sql(query)}

    straight = sa.create_engine("sqlite://")
    METADATA.create_all(straight)
    with straight.connect() as connection:
        wanted = indexes(connection)
    straight.dispose()
    with reading(log) as connection:
        found = indexes(connection)
    assert {key: found[key] for key in wanted} == wanted


def test_the_steps_lead_to_the_same_checks(log):
    def checks(bind):
        found = sa.inspect(bind)
        return {
            table: {
                (check["name"], check["sqltext"])
                for check in found.get_check_constraints(table)
            }
            for table in METADATA.tables
        }

    straight = sa.create_engine("sqlite://")
    METADATA.create_all(straight)
    with reading(log) as connection:
        migrated = checks(connection)
    assert migrated == checks(straight)
    assert sum(map(len, migrated.values())) > 100
    straight.dispose()


def test_every_state_has_its_test():
    assert migrations.revisions() == (
        "0001",
        "0002",
        "0003",
        "0004",
        "0005",
        "0006",
        "0007",
        "0008",
        "0009",
        "0010",
        "0011",
        "0012",
        "0013",
        "0014",
        "0015",
        "0016",
        "0017",
        "0018",
        "0019",
        "0020",
        "0021",
        "0022",
        "0023",
    )


def test_files_are_named_as_the_steps_follow_each_other():
    script = ScriptDirectory(str(Path(migrations.__file__).parent))
    chain = [step.revision for step in script.walk_revisions()]
    assert migrations.revisions() == tuple(chain[::-1])


def test_a_log_of_the_first_state_is_brought_up_with_all_in_it(tmp_path):
    old = at(tmp_path / "log", "0001", AS_0001)
    log = open_log(old.file.parent)
    form = list_all(log, Form)[0]
    assert (form.name, form.form_type, form.starting_use_count) == ("A", "trough", 3)
    assert (form.note, form.version, form.gloss) == ("old", 2, None)
    pour = list_all(log, Pour)[0]
    assert (pour.cast_on.isoformat(), pour.cast_at.isoformat()) == (
        "2026-03-31",
        "23:30:00",
    )
    assert (pour.zone, pour.air_c) == ("", None)
    piece = list_all(log, Piece)[0]
    assert (piece.name, piece.release_agent, piece.joint_sealing) == (
        "007",
        "oil",
        "none",
    )
    assert (piece.vibration_method, piece.vibration_s) == ("table", 40.5)
    line = list_readings(log, piece_id=7)[0]
    assert (line.use.stage, line.void_share) == ("as_struck", 0.0104)
    assert load_reading(log, 10).voids.area_px.tolist() == [12.5]
    assert [change.after for change in term_history(log, "release_agent")] == ["oil"]
    with reading(log) as connection:
        bad = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    assert bad == []


def test_a_log_of_the_second_state_is_brought_up_with_all_in_it(tmp_path):
    log = open_log(at(tmp_path / "log", "0002", AS_0002).file.parent)
    form, pour, piece = (list_all(log, kind)[0] for kind in (Form, Pour, Piece))
    line = list_all(log, ProductLine)[0]
    assert line.name == "planters"
    assert form.product_line_id == piece.product_line_id == line.id
    assert (form.joints[0].name, form.joints[0].default_sealing) == ("left", "none")
    assert form.made_on.isoformat() == "2024-02-29"
    assert (pour.humidity_share, pour.zone) == (0.65, "Europe/Oslo")
    assert list_all(log, Mix)[0].id == pour.mix_id
    assert (piece.lifts, piece.show_faces) == (2, "front")
    assert (piece.steps[0].strokes, piece.steps[0].certainty) == (5, "guessed")
    assert list_all(log, FinishTarget)[0].high_share == 0.02
    assert list_all(log, Outcome, piece_id=7)[0].eye_score == 6
    assert list_all(log, Repair, piece_id=7)[0].minutes == 12.5
    assert list_all(log, Verdict, reading_id=10)[0].verdict == "within"
    assert load_draft(log, "pour") == {"name": "13"}
    assert history(log, Piece, 7) == ({"name": "7"},)
    reading_line = list_readings(log, piece_id=7)[0]
    assert (reading_line.use.stage, reading_line.use.set_up) == ("as_struck", None)
    assert piece_table(log)[0].void_count == 1
    with reading(log) as connection:
        bad = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    assert bad == []


def test_a_log_of_the_third_state_takes_batch_marks(tmp_path):
    log = open_log(at(tmp_path / "log", "0003", AS_0002).file.parent)
    assert list_all(log, BatchMark) == ()
    mark = BatchMark(
        kind="change", from_day=date(2026, 4, 1), product_line_id=1, note="new mix"
    )
    add(log, mark, save_token="mark")
    assert list_all(log, BatchMark, product_line_id=1)[0].note == "new mix"
    assert piece_table(log)[0].void_count == 1
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE batch_mark SET to_day = '2026-03-01'")


def test_a_form_of_the_ninth_state_takes_its_volume(tmp_path):
    log = open_log(at(tmp_path / "log", "0009", AS_0002).file.parent)
    form = list_all(log, Form)[0]
    assert form.volume_l is None
    change(log, replace(form, volume_l=22.5))
    assert list_all(log, Form)[0].volume_l == 22.5
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE form SET volume_l = 0")


@pytest.mark.parametrize(
    ("state", "script"),
    [("0001", AS_0001), ("0002", AS_0002), ("0003", AS_0002), ("0004", AS_0002)],
)
def test_a_reading_of_every_state_can_be_reviewed(tmp_path, state, script):
    log = open_log(at(tmp_path / "log", state, script).file.parent)
    before = load_reading(log, 10)
    mark = Mark(action="reject", spot=0, reason="stain")
    save_review(
        log,
        reviews_id=10,
        reading=before,
        marks=[mark],
        signed_by="R",
        save_token="review",
    )
    new, old = list_readings(log, piece_id=7)
    assert (new.reviews_id, new.reviewed_by) == (10, "R")
    assert (old.id, old.reviewed_by) == (10, None)
    assert piece_table(log)[0].reviewed == "yes"


def test_a_reading_of_the_twelfth_state_is_of_one_photo(tmp_path):
    log = open_log(at(tmp_path / "log", "0012", AS_0002).file.parent)
    assert load_reading(log, 10).second_light is None


def test_a_reading_of_the_sixteenth_state_knows_no_marks_of_joints(tmp_path):
    log = open_log(at(tmp_path / "log", "0016", AS_0002).file.parent)
    summary = load_reading(log, 10).summary
    assert summary.joint_marks is None
    assert summary.joint_band_ends is None
    assert summary.honeycomb_ends is None
    assert piece_table(log)[0].sand_length_mm is None


def test_a_reading_of_the_fourteenth_state_takes_a_point_count(tmp_path):
    log = open_log(at(tmp_path / "log", "0014", AS_0002).file.parent)
    plan = draw_even(np.ones((30, 40), bool), 50, void_px2=0, seed=1)
    assert counts_of(log, 10) == ()
    begin_count(log, reading_id=10, who="bench", plan=plan, save_token="count")
    assert counts_of(log, 10)[0].plan.seed == 1
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE point_count SET share = 2")


def test_a_log_of_the_seventeenth_state_is_smaller_with_all_voids_in_it(
    tmp_path, caplog
):
    old = at(tmp_path / "log", "0017", AS_0002)
    columns = (
        "reading_id, position, kind, rejected, reason, row_px, col_px, area_px, "
        "area_sd_px, feret_max_px, contrast, rim_sharpness, shading, colour_shift, "
        "elongation, solidity, flags, outline"
    )
    line = np.array([[4.5, 5.0], [4.5, 7.0], [6.0, 6.0]], dtype="<f8")
    with writing(old) as connection:
        for n in range(1, 1500):
            kind, rejected = ("pinhole", 0) if n % 5 else ("stain", 1)
            connection.exec_driver_sql(
                f"INSERT INTO void ({columns}) VALUES (10, {n}, '{kind}', {rejected}, "
                f"'why', {n}.5, 6, {n}, 1, 5, 0.4, 0.9, 0.1, 0, 1.2, 0.9, "
                f"'[\"touches_edge\"]', x'{line.tobytes().hex()}')"
            )
    with closing(sqlite3.connect(old.file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = old.file.stat().st_size
    caplog.set_level("INFO")
    log = open_log(old.file.parent)
    found = load_reading(log, 10)
    assert len(found.voids) + len(found.rejected) == 1500
    assert found.voids.area_px.tolist()[:5] == [12.5, 1, 2, 3, 4]
    assert found.rejected.row_px.tolist()[:2] == [5.5, 10.5]
    assert found.rejected.outline_px[0].tolist() == line.tolist()
    assert (found.rejected.reason[0], *found.rejected.flags[0]) == (
        "why",
        "touches_edge",
    )
    assert log.file.stat().st_size < before / 1.2
    assert "MB and now takes" in caplog.text


def test_columns_added_later_refuse_too(tmp_path):
    log = open_log(at(tmp_path / "log", "0001", AS_0001).file.parent)
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE pour SET humidity_share = 65")
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="FOREIGN KEY"),
    ):
        connection.exec_driver_sql("UPDATE piece SET product_line_id = 9")


def test_a_step_that_fails_changes_nothing(tmp_path):
    old = at(tmp_path / "log", "0001", AS_0001)
    with writing(old) as connection:
        connection.exec_driver_sql("CREATE TABLE edit (x)")  # in the last step's way
    with pytest.raises(RecordError, match="could not be used"):
        open_log(old.file.parent)
    with reading(old) as connection:
        assert migrations.current_revision(connection) == "0001"
        names = sa.inspect(connection).get_table_names()
    assert "mix" not in names


def test_a_log_from_a_newer_program_is_refused(log):
    with writing(log) as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(RecordError, match="newer version of the program"):
        open_log(log.file.parent)


def test_a_reading_of_the_fifteenth_state_has_no_usual_interval(tmp_path):
    log = open_log(at(tmp_path / "log", "0015", AS_0002).file.parent)
    assert load_reading(log, 10).usual_share is None
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE reading SET usual_share_low = 2")


def test_a_form_of_an_older_state_takes_care_and_a_recipe(tmp_path):
    log = open_log(at(tmp_path / "log", "0017", AS_0002).file.parent)
    form = list_all(log, Form)[0]
    assert form.set_up_recipe == ""
    care = FormCare(form_id=form.id, kind="waxed", done_on=date(2026, 3, 1))
    add(log, care, save_token="care")
    assert list_all(log, FormCare, form_id=form.id)[0].kind == "waxed"


def test_a_form_and_a_reading_of_an_older_state_know_no_kind_of_face(tmp_path):
    log = open_log(at(tmp_path / "log", "0017", AS_0002).file.parent)
    assert load_reading(log, 10).settings.face_kind is None
    form = list_all(log, Form)[0]
    change(log, replace(form, face_kind="ribbed", pitch_mm=30.0, depth_mm=5.0))
    assert list_all(log, Form)[0].pitch_mm == 30.0
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE form SET face_kind = 'oval'")


def test_a_form_of_an_older_state_takes_how_it_is_photographed(tmp_path):
    log = open_log(at(tmp_path / "log", "0017", AS_0002).file.parent)
    form = list_all(log, Form)[0]
    assert list_all(log, PhotoRecipe, form_id=form.id) == ()
    recipe = PhotoRecipe(
        form_id=form.id, face_name="front", light_deg=-90.0, taken_on=date(2026, 3, 1)
    )
    add(log, recipe, save_token="recipe")
    (kept,) = list_all(log, PhotoRecipe, form_id=form.id)
    assert (kept.light_deg, kept.taken_on) == (-90.0, date(2026, 3, 1))
    with (
        reading(log) as connection,
        pytest.raises(sa.exc.IntegrityError, match="CHECK"),
    ):
        connection.exec_driver_sql("UPDATE photo_recipe SET brightness_share = 2")
