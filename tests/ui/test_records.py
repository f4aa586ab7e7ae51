"""Records: what the log names; tables in and out; backups and the way back."""

from __future__ import annotations

import io
import sqlite3
from contextlib import closing
from datetime import date

import openpyxl
import pytest

from analysis.model.log import PhotoUse, Piece
from analysis.model.workshop import FinishTarget, Form, FormJoint, Mix, ProductLine
from analysis.services import log as log_service
from analysis.services import records
from analysis.services.photos import read_photo
from analysis.storage.backup import backup_folder
from analysis.storage.engine import writing
from analysis.storage.photos import keep_photo, tidied
from analysis.vocabulary import NONE
from tests.support.screens import HOSTILE, face_png, labels, press, ran, start, texts
from tests.support.small_workshop import workshop

CSV = "piece;pour;cast_on;form;void_area_percent;vibration_s"


pytestmark = pytest.mark.usefixtures("data")


def page(what, app=None):
    app = app or start("records")
    return ran(app.button_group(key="show").set_value(what).run())


def written(app, label, value):
    found = [one for one in app.text_input if one.label == label]
    return ran(found[0].set_value(value).run())


def chosen(app, label, value):
    found = [one for one in app.selectbox if one.label == label]
    return ran(found[0].set_value(value).run())


def open_first(app):
    return ran(next(one for one in app.button if one.label == "Open").click().run())


def with_table(text, encoding="utf-8"):
    data = text if isinstance(text, bytes) else text.encode(encoding)
    app = page("import")
    return ran(app.file_uploader(key="table").upload("table.csv", data).run())


# records


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("forms", "No form yet."),
        ("mixes", "No mix yet."),
        ("lines", "No product line yet."),
        ("words", "No word was used yet."),
        ("import", "One row per piece."),
        ("export", "one row per piece"),
        ("backup", "log alone"),
        ("out", "Nothing was removed."),
    ],
)
def test_empty_log_says_what_to_do(what, said):
    assert said in texts(page(what))


def test_form_is_written_down_with_its_joints(data):
    log = log_service.open_log(data)
    app = press(press(start("records"), "Add a form"), "Add a joint")
    app = written(app, "Name", "Trough A")
    app = written(app, "Joint", "left")
    app = chosen(app, "Usual sealing", NONE)
    app = chosen(app, "Form type", "trough")
    app = press(written(app, "Castings before this log", "12"), "Save")

    (form,) = records.list_all(log, Form)
    assert form.joints == (FormJoint(name="left", default_sealing=NONE),)
    assert (form.form_type, form.starting_use_count) == ("trough", 12)
    assert "Joints: left" in texts(app)
    assert "Joint left: none, joints left open" in texts(open_first(app))


def test_form_is_corrected_taken_out_and_brought_back(data):
    log = workshop(data)
    app = press(open_first(start("records")), "Correct")
    app = press(chosen(app, "Face material", "steel"), "Save")
    assert records.load(log, Form, 1).face_material == "steel"

    app = press(app, "Delete")
    assert [one.name for one in records.list_all(log, Form)] == ["Trough B"]
    app = page("out", app)
    (back,) = (one for one in app.button if one.key == "bring back Form 1")
    ran(back.click().run())
    assert len(records.list_all(log, Form)) == 2


def test_mix_by_feel_needs_no_number(data):
    log = log_service.open_log(data)
    app = press(press(page("mixes"), "Add a mix"), "Add a part")
    app = written(app, "Name", "grey")
    app = chosen(app, "Proportions count", "by_feel")
    app = chosen(app, "Kind", "fibre")
    app = press(chosen(app, "What it is", "glass fibre"), "Save")

    (mix,) = records.list_all(log, Mix)
    assert (mix.basis, mix.proportions) == ("by_feel", "")
    assert mix.parts[0].name == "glass fibre"
    assert "fibre: glass fibre" in texts(app)


def test_finish_targets_keep_their_versions(data):
    log = log_service.open_log(data)
    app = written(press(page("lines"), "Add a product line"), "Name", "smooth")
    app = open_first(press(app, "Save"))
    for upper in ("1", "0,6"):
        app = press(app, "Set a new finish target")
        app = press(written(app, "Void area, upper end, %", upper), "Save")

    found = records.list_all(log, FinishTarget)
    assert [one.high_share for one in found] == [0.006, 0.01]
    assert "Void area up to 0.60 %" in texts(app)
    assert "Before: Void area up to 1.00 %" in texts(app)


def test_target_upside_down_is_told(data):
    log = log_service.open_log(data)
    line = records.add(log, ProductLine(name="rough"), save_token="line").id
    app = press(open_first(page("lines")), "Set a new finish target")
    app = written(app, "Void area, lower end, %", "3")
    app = press(written(app, "Void area, upper end, %", "1"), "Save")

    assert "above its upper end" in app.error[0].value
    assert records.list_all(log, FinishTarget, product_line_id=line) == ()


def test_two_forms_of_equal_look_and_hostile_names(data):
    log = log_service.open_log(data)
    for name in (HOSTILE, "Bank", "bank"):
        records.add(log, Form(name=name), save_token=name)

    assert HOSTILE in texts(start("records")).replace("\u2060", "")


# words


def words_page(data):
    log = workshop(data)
    return log, chosen(page("words"), "Which words", "release_agent")


def test_words_are_added_renamed_and_records_follow(data):
    log, app = words_page(data)
    assert "oil: 6 uses" in texts(app)
    app = press(written(app, "New word", "wax"), "Add")
    assert "wax: 0 uses" in texts(app)
    app = chosen(app, "Word to change", "oil")
    press(written(app, "Rename to", "form oil"), "Rename")

    assert records.load(log, Piece, 1).release_agent == "form oil"


def test_words_are_merged_and_parted_without_loss(data):
    log, app = words_page(data)
    app = press(written(app, "New word", "Oil"), "Add")
    app = chosen(app, "Word to change", "oil")
    app = press(chosen(app, "Same as", "Oil"), "Merge")
    assert records.load(log, Piece, 1).release_agent == "Oil"
    assert "oil = Oil" in texts(app)

    app = press(app, "Separate again")
    assert records.load(log, Piece, 1).release_agent == "oil"
    assert "Merged words" not in texts(app)


def test_name_that_is_taken_is_told(data):
    _, app = words_page(data)
    app = press(written(app, "New word", "wax"), "Add")
    app = chosen(app, "Word to change", "oil")
    app = press(written(app, "Rename to", "wax"), "Rename")

    assert "merge the two instead" in app.error[0].value


# tables


def test_table_that_will_not_go_in_is_listed_line_by_line(data):
    log = workshop(data)
    app = with_table(
        f"{CSV}\n007;21;01.02.2026;Bank;1,25;60\n"
        "P-001;21;13.02.2026;NA;0,80;1.200\n;22;2026-02-14;Bank;viel;40"
    )
    said = texts(app)

    assert "Nothing imported yet: 5 cells cannot be read." in said
    assert "Line 2, casting date: '01.02.2026' could be two dates" in said
    assert "Line 3, vibration: '1.200' could be 1200 or 1,200" in said
    assert "Line 4, piece: is blank." in said
    assert "Line 4, void area: 'viel' is not a number." in said
    assert not [one for one in labels(app) if one.startswith("Import")]
    assert len(records.list_castings(log)) == 6


@pytest.mark.parametrize(
    ("order", "day"), [("dmy", date(2026, 2, 1)), ("mdy", date(2026, 1, 2))]
)
@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252"])
def test_order_of_day_and_month_is_asked(order, day, encoding, data):
    log = log_service.open_log(data)
    table = f"{CSV}\n007;21;01.02.2026;Bänk;1,25;60\n008;21;01.02.2026;None;0,80;NA"
    app = with_table(table.replace(";NA", ";"), encoding)
    assert "could be two dates" in texts(app)

    app = press(chosen(app, "Dates such as 01.02.2026 are", order), "Import 2 pieces")

    assert "Imported: 2." in texts(app)
    found = records.list_castings(log)
    assert {one.pour.cast_on for one in found} == {day}
    assert {one.piece.name for one in found} == {"007", "008"}
    forms = {form.name for form in records.list_all(log, Form)}
    assert forms == {"Bänk", "None"}
    app = ran(app.run())
    assert "Imported: 2." in texts(app)
    assert not [one for one in labels(app) if one.startswith("Import")]


def test_columns_with_own_names_are_asked(data):
    log = log_service.open_log(data)
    app = with_table("Stueck;pour;cast_on;colour\n007;21;2026-02-01;grey")
    assert "The table has no column piece" in texts(app)

    app = chosen(app, "Stueck", "piece")
    assert "not imported: colour" in texts(app)
    press(app, "Import 1 piece")

    assert records.list_castings(log)[0].piece.name == "007"


@pytest.mark.parametrize("table", [b"", b"\x00\x01\x02", b"PK\x03\x04broken"])
def test_what_is_no_table_is_told(table):
    assert len(with_table(table).error) == 1


def test_tables_are_offered_and_read_in_again(data, tmp_path):
    log = workshop(data)
    app = page("export")
    assert len(app.get("download_button")) == 3

    other = log_service.open_log(tmp_path / "other")
    sheet, _ = records.export_xlsx(log)
    names = [cell.value for cell in openpyxl.load_workbook(io.BytesIO(sheet)).active[1]]
    assert names[:3] == ["piece", "pour", "cast_on"]
    preview = records.preview_import(other, sheet)
    records.import_pieces(other, preview, save_token="again")
    assert records.export_csv(other) == records.export_csv(log)


# backups


def test_log_is_backed_up_every_day_and_on_demand(data):
    log = workshop(data)
    app = page("backup")
    assert len(records.daily_backups(log)) == 1

    app = press(app, "Back up now, with photos")
    assert "Backed up:" in texts(app)
    assert "with photos" in texts(app)
    assert len(app.get("download_button")) == 2


def test_backup_is_restored_and_the_log_before_is_kept(data):
    log = workshop(data)
    app = press(page("backup"), "Back up now, with photos")
    records.hide(log, Piece, 1)
    (zipped,) = backup_folder(log).glob("whole-*.zip")
    app = chosen(app, "Backup", zipped)
    app = press(ran(app.checkbox[0].check().run()), "Restore this backup")

    assert "Restored, every file checked: 6 pieces." in texts(app)
    assert len(records.list_castings(log)) == 6
    assert len(list(data.glob("replaced-*"))) >= 1


def test_what_is_no_backup_is_refused_and_nothing_changes(data):
    log = workshop(data)
    app = page("backup")
    app = ran(app.file_uploader(key="backup file").upload("a.zip", b"no zip").run())
    app = press(ran(app.checkbox[0].check().run()), "Restore this backup")

    assert len(app.error) == 1
    assert len(records.list_castings(log)) == 6


def damaged(data):
    log = workshop(data)
    page("backup")
    records.hide(log, Piece, 1)
    whole = log.file.read_bytes()
    for tail in ("-wal", "-shm"):
        log.file.with_name(log.file.name + tail).unlink(missing_ok=True)
    log.file.write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))
    # The next start of the app finds it.
    from ui import cache  # noqa: PLC0415  after the folder is set

    cache.reopen()
    return log


def test_damaged_log_leads_to_the_last_backup(data):
    log = damaged(data)
    app = start("pieces")
    assert "is damaged" in texts(app)
    assert "Backups" in [one.label for one in app.get("page_link")]

    app = start("records")
    assert "Go back to the last good state" in texts(app)
    app = press(app, "Restore this backup")

    assert "Restored, every file checked: 6 pieces." in texts(app)
    assert len(records.list_castings(log)) == 6
    assert len(list(data.glob("replaced-*"))) >= 1


def test_damaged_log_without_a_backup_asks_for_a_file(data):
    (data / "log.sqlite").write_bytes(b"no database" * 1000)
    app = start("records")

    assert "There is no backup beside the log." in texts(app)
    assert len(app.get("file_uploader")) == 1


def test_damaged_backups_are_passed_over_on_the_way_back(data):
    damaged(data)
    (good,) = (data / "backups").glob("log-*.zip")
    broken = data / "backups" / "whole-old.zip"  # a name nobody dated
    broken.write_bytes(b"x" * 1000)
    app = start("records")
    assert "log alone" in texts(app)
    press(app, "Restore this backup")
    assert len(records.list_castings(records.locate(data))) == 6
    assert good.exists()


def test_log_of_a_newer_program_leads_to_its_last_state(data):
    log = workshop(data)
    page("backup")
    with closing(sqlite3.connect(log.file)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    from ui import cache  # noqa: PLC0415  after the folder is set

    cache.reopen()
    assert "newer version of the program" in texts(start("pieces"))
    app = press(start("records"), "Restore this backup")
    assert "Restored, every file checked: 6 pieces." in texts(app)


def test_an_empty_log_can_be_begun_where_nothing_is_good(data):
    (data / "log.sqlite").write_bytes(b"no database" * 1000)
    app = start("records")
    app = ran(app.checkbox[0].check().run())
    app = press(app, "Begin an empty log instead")
    assert records.list_castings(records.locate(data)) == ()
    assert [path.read_bytes()[:11] for path in data.glob("replaced-*")] == [
        b"no database"
    ]


def test_backup_that_lacks_a_photo_says_which(data):
    log = workshop(data)
    photo = face_png()
    shown = read_photo(photo, "lost one.png")
    with tidied(log, shown.sha256), writing(log) as connection:
        keep_photo(connection, log, photo, shown, 1, PhotoUse())
    (file,) = log.photo_folder.glob("??/*")
    file.unlink()
    app = press(page("backup"), "Back up now, with photos")
    assert "1 photo is missing or changed and not in the backup:" in texts(app)
    assert "lost one.png" in texts(app)


def test_log_that_goes_while_the_app_runs_is_put_back_from_its_backup(data):
    log = workshop(data)
    start("home")  # which makes the day's backup
    log.file.unlink()
    app = start("records")
    assert "is missing or empty" in texts(app)
    press(app, "Restore this backup")
    assert len(records.list_castings(log_service.open_log(data))) == 6
