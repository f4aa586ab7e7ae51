import io
from dataclasses import replace
from datetime import date

import openpyxl
import pytest
import sqlalchemy as sa

from analysis.errors import InputError, TableError
from analysis.model.log import Piece, Pour
from analysis.model.log_views import PieceRow
from analysis.model.workshop import Form
from analysis.storage.engine import writing
from analysis.storage.exchange import (
    COLUMNS,
    export_csv,
    export_xlsx,
    import_pieces,
    preview_import,
)
from analysis.storage.piece_table import piece_table
from analysis.storage.records import add, list_all
from analysis.storage.tables import PIECE

# Every trap at once: marks, dates, 'None', 'NA', a number with a point.
TRAPS = (
    "Stück;Guss;datum;form;trennmittel;leere_%;dauer_s\r\n"
    "007;1;01.02.2026;Bank A;None;1,25;60\r\n"
    "12E5;2;13.02.2026;NA;Öl;0,80;1.200\r\n"
)
OWN_NAMES = {
    "Stück": "piece",
    "Guss": "pour",
    "Datum": "cast_on",
    "trennmittel": "release_agent",
    "leere_%": "void_area_percent",
    "dauer_s": "vibration_s",
}
FULL = PieceRow(
    piece="007",
    pour="1:2:3",
    cast_on=date(2026, 3, 31),
    form="Bench/A: [60 s] long name over 31 chars",
    form_type="bench leg",
    form_use=13,
    joint_sealing="none",
    release_agent="None",
    vibration_method="table",
    vibration_s=1.2,
    void_area_percent=1.25,
    face_area_mm2=1234.0,
    void_count=17,
    product_line="planters",
    stage="as_struck",
    light="plain",
    set_up="lamp from the left",
    smallest_counted_mm=0.5,
    method_version="1.0",
    joint_band_percent=2.125,
    open_face_percent=0.1,
    honeycomb_percent=0.0,
    consistency="NA",
    face_material="rubber",
    gloss="not applicable",
    face_kind="ribbed",
    flute_pitch_mm=30.0,
    flute_depth_mm=4.5,
    mix="1-2",
    leak="slight",
    release_application="wiped off",
    casting_process="wet cast",
    orientation="face down",
    curing="tarpaulin",
    lifts=2,
    strike_after_h=24.0,
    air_c=-5.0,
    mix_c=18.5,
    humidity_percent=65.3,
    water_added_l=0.8,
    note='=HYPERLINK("http://x","y")',
)
NOTES = (
    '=HYPERLINK("http://x","y")',
    "+1 drop oil",
    "@mix",
    "-5 % oil",
    "\t=1",
    "'quoted",
    "'=quoted",
    "1/3",
    "007",
    'a "b"; c, d\r\nnext line',
    "bänk 椅子 🪴",
)


def table(*lines, header="piece,pour,cast_on,void_area_percent"):
    return "\r\n".join([header, *lines]).encode()


def told(log, data, **options):
    preview = preview_import(log, data, **options)
    return [(p.line, p.column, p.given, p.why) for p in preview.problems]


def taken_in(log, data, **options):
    preview = preview_import(log, data, **options)
    assert preview.problems == ()
    import_pieces(log, preview, save_token="import")
    return piece_table(log)


def quoted(value):
    return "" if value is None else str(value).replace('"', '""')


@pytest.fixture
def full(log):
    """A log of one full row and one nearly blank, from a table written by hand."""
    blank = PieceRow(piece="8", pour="1:2:3", cast_on=FULL.cast_on)
    cells = [
        [quoted(getattr(row, name)) for name in COLUMNS]
        for row in (
            replace(FULL, note="'" + FULL.note),
            replace(blank, **{n: getattr(FULL, n) for n in POUR_COLUMNS}),
        )
    ]
    lines = [",".join(f'"{cell}"' for cell in row) for row in cells]
    taken_in(log, table(*lines, header=",".join(COLUMNS)), decimal=".")
    return log


POUR_COLUMNS = (
    "consistency",
    "mix",
    "air_c",
    "mix_c",
    "humidity_percent",
    "water_added_l",
)


def test_a_full_row_is_read_as_written(full):
    assert piece_table(full)[0] == FULL


@pytest.mark.parametrize("decimal", [".", ","])
def test_csv_goes_round(full, another_log, decimal):
    data = export_csv(full, decimal=decimal)
    assert data.startswith(b"\xef\xbb\xbf") == (decimal == ",")
    other = another_log()
    assert taken_in(other, data) == piece_table(full)
    assert export_csv(other, decimal=decimal) == data


def test_xlsx_goes_round(full, another_log):
    data, remarks = export_xlsx(full)
    assert remarks == ()
    other = another_log()
    assert taken_in(other, data) == piece_table(full)
    assert {cell.data_type for row in sheet_of(data) for cell in row} <= {"s", "n"}


def sheet_of(data):
    return openpyxl.load_workbook(io.BytesIO(data)).active


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16", "utf-16-le"])
def test_a_table_of_any_make_is_read(log, encoding):
    preview = preview_import(
        log, TRAPS.encode(encoding), date_order="dmy", columns=OWN_NAMES
    )
    assert (preview.separator, preview.decimal) == (";", ",")
    assert [(p.line, p.column, p.given, p.why) for p in preview.problems] == [
        (3, "vibration_s", "1.200", "could be 1200 or 1,200: write it without doubt")
    ]
    (row,) = preview.rows
    assert row == PieceRow(
        piece="007",
        pour="1",
        cast_on=date(2026, 2, 1),
        form="Bank A",
        release_agent="None",
        void_area_percent=1.25,
        vibration_s=60.0,
    )
    mended = TRAPS.replace("1.200", "1200").encode(encoding)
    rows = taken_in(log, mended, date_order="dmy", columns=OWN_NAMES)
    assert [(row.form, row.release_agent, row.vibration_s) for row in rows] == [
        ("Bank A", "None", 60.0),
        ("NA", "Öl", 1200.0),
    ]


def test_a_line_that_names_the_separator_is_passed_over(log):
    data = b"sep=;\r\npiece;pour;cast_on\r\n1;1;2026-01-01\r\n;;\r\n2;1;x\r\n"
    assert told(log, data) == [(5, "cast_on", "x", "is not a date")]


def test_the_order_of_day_and_month_is_asked_not_guessed(log):
    data = table("1,1,01.02.2026,1", "2,2,13.02.2026,1", "3,3,2026-02-14,1")
    why = "could be two dates: say whether the day or the month comes first"
    assert told(log, data) == [
        (2, "cast_on", "01.02.2026", why),
        (3, "cast_on", "13.02.2026", why),
    ]
    assert told(log, data, date_order="mdy") == [
        (3, "cast_on", "13.02.2026", "is not a date in that order")
    ]
    rows = preview_import(log, data, date_order="dmy").rows
    assert [row.cast_on for row in rows] == [
        date(2026, 2, 1),
        date(2026, 2, 13),
        date(2026, 2, 14),
    ]
    short = preview_import(log, table("1,1,1/3/26,1"), date_order="mdy")
    assert short.rows[0].cast_on == date(2026, 1, 3)


def test_a_time_behind_the_day_does_not_move_it(log):
    data = table("1,1,2026-03-31T23:30:00+02:00,1")
    assert preview_import(log, data).rows[0].cast_on == date(2026, 3, 31)


def test_numbers_that_could_mean_two_things_are_told(log):
    data = table('1,1,2026-01-01,"1,200"')
    why = "could be 1200 or 1,200: write it without doubt"
    assert told(log, data) == [(2, "void_area_percent", "1,200", why)]
    assert preview_import(log, data, decimal=",").rows[0].void_area_percent == 1.2
    both = table('1,1,2026-01-01,"1,25"', "2,1,2026-01-01,1.25")
    why = "has another decimal mark than other numbers: say which mark is used"
    assert [problem[3] for problem in told(log, both)] == [why, why]


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        ("abc", "is not a number"),
        ("1e999", "is too large a number"),
        ("nan", "is not a number"),
        ("inf", "is not a number"),
        ("-3", "must be between 0 and 100"),
        ("250", "must be between 0 and 100"),
        ("1 200", "is not a number"),
    ],
)
def test_figures_that_cannot_be_are_told(log, cell, why):
    assert [problem[3] for problem in told(log, table(f"1,1,2026-01-01,{cell}"))] == [
        why
    ]


def test_what_stands_behind_a_day_must_be_a_time(log):
    assert told(log, table("1,1,2026-01-05T12:30,1")) == []
    ((*_, why),) = told(log, table("1,1,2026-01-05T99garbage,1"))
    assert why == "is not a date"


HEAD = "piece,pour,cast_on,void_area_percent,"


@pytest.mark.parametrize(
    ("column", "cell", "why"),
    [
        ("face_area_mm2", "0", "must be more than 0"),
        ("smallest_counted_mm", "0", "must be more than 0"),
        ("void_count", "1e20", "must be between 0 and 1,000,000,000"),
        ("form_use", "1e400", "is too large a number"),
        ("form_use", "-1", "must be between 0 and 1,000,000,000"),
    ],
)
def test_figures_beside_the_share_are_checked_too(log, column, cell, why):
    data = table(f"1,1,2026-01-01,0.3,{cell}", header=HEAD + column)
    assert [problem[1:] for problem in told(log, data)] == [
        (column, problem[2], why) for problem in told(log, data)
    ]
    assert len(told(log, data)) == 1


def test_figures_without_a_share_are_not_dropped_in_silence(log):
    data = table("1,1,2026-01-01,,12", header=HEAD + "void_count")
    ((_, column, given, why),) = told(log, data)
    assert (column, given) == ("void_count", "12")
    assert "stands without void area" in why


def test_open_quote_swallows_no_line(log):
    data = table(
        '1,1,2026-01-01,0.1,"open', "2,1,2026-01-01,0.2,", header=HEAD + "note"
    )
    with pytest.raises(TableError, match="cannot be read"):
        preview_import(log, data)


def test_pour_of_two_mixes_is_told(log):
    data = table(
        "1,1,2026-01-01,0.2,grey", "2,1,2026-01-01,0.8,white", header=HEAD + "mix"
    )
    assert told(log, data) == [(3, "mix", "white", "but pour 1 has grey")]


def test_form_of_another_type_than_the_log_has_is_told(log):
    header = HEAD + "form,form_type"
    taken_in(log, table("1,1,2026-01-01,0.2,F,pot", header=header))
    again = table("2,2,2026-01-02,0.2,F,trough", header=header)
    assert told(log, again) == [(2, "form_type", "trough", "but form F has pot")]


def test_what_one_line_tells_of_a_pour_holds_for_it(log):
    data = table(
        "1,1,2026-01-01,0.2,,", "2,1,2026-01-01,0.8,grey,12", header=HEAD + "mix,air_c"
    )
    rows = taken_in(log, data)
    assert {(row.mix, row.air_c) for row in rows} == {("grey", 12.0)}


def test_uses_that_are_counted_otherwise_are_told(log):
    header = HEAD + "form,form_use"
    gaps = table("1,1,2026-01-01,0.2,F,10", "2,2,2026-01-02,0.2,F,20", header=header)
    (note,) = preview_import(log, gaps).notes
    assert "1 line gives another number" in note
    runs = table("1,1,2026-01-01,0.2,F,10", "2,2,2026-01-02,0.2,F,11", header=header)
    assert preview_import(log, runs).notes == ()
    assert [row.form_use for row in taken_in(log, runs)] == [10, 11]


def test_blank_is_not_measured_and_never_zero(log):
    assert taken_in(log, table("1,1,2026-01-01,"))[0].void_area_percent is None


def test_every_line_that_will_not_go_in_is_told_and_nothing_goes_in(log, piece_id):
    del piece_id  # piece 007 of pour 12, cast on 31 March
    data = table(
        "007,12,2026-03-31,1",
        "8,12,2026-04-01,1",
        ",13,2026-04-01,1",
        "9,13,,1",
        "10,13,2026-04-01,1",
        "10,13,2026-04-01,1",
        "11,13,2026-04-01,1,too much",
        "1.20E+06,13,2026-04-01,1",
    )
    assert told(log, data) == [
        (2, "piece", "007", "is in the log already"),
        (
            3,
            "cast_on",
            "1 April 2026",
            "is another day than that of pour 12, 31 March 2026",
        ),
        (4, "piece", "", "is blank"),
        (5, "cast_on", "", "is blank"),
        (6, "piece", "10", "is in the table more than once"),
        (7, "piece", "10", "is in the table more than once"),
        (
            8,
            "",
            "too much",
            "is beyond the last column: put quotes around such text",
        ),
        (
            9,
            "piece",
            "1.20E+06",
            "looks like a name a spreadsheet turned into a number: type it as text",
        ),
    ]
    preview = preview_import(log, data)
    with pytest.raises(InputError, match="Nothing was imported: 8 cells"):
        import_pieces(log, preview, save_token="i")
    assert len(list_all(log, Piece)) == len(list_all(log, Pour)) == 1


def test_a_name_taken_meanwhile_undoes_the_whole_import(log):
    data = table("1,1,2026-01-01,1", "2,1,2026-01-01,1")
    preview = preview_import(log, data)
    pour = add(log, Pour(name="other", cast_on=date(2026, 1, 1)), save_token="p").id
    add(log, Piece(name="2", pour_id=pour), save_token="2")
    with pytest.raises(InputError, match="already a piece named '2'"):
        import_pieces(log, preview, save_token="i")
    assert [piece.name for piece in list_all(log, Piece)] == ["2"]
    assert [kept.name for kept in list_all(log, Pour)] == ["other"]


def test_an_import_pressed_twice_goes_in_once(log):
    preview = preview_import(log, table("1,1,2026-01-01,1"))
    first = import_pieces(log, preview, save_token="i")
    second = import_pieces(log, preview, save_token="i")
    assert (second.id, second.already_saved) == (first.id, True)


def test_an_import_joins_the_pours_and_forms_that_are_there(log, piece_id):
    del piece_id
    data = table("8,12,2026-03-31,Trough A", header="piece,pour,cast_on,form")
    rows = taken_in(log, data)
    assert [(row.piece, row.form_use) for row in rows] == [("007", 1), ("8", 2)]
    assert len(list_all(log, Form)) == len(list_all(log, Pour)) == 1


def test_notes_go_round_and_never_run(log, another_log):
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 1)), save_token="p").id
    for number, note in enumerate(NOTES):
        piece = Piece(name=f"{number:02}", pour_id=pour, note=note)
        add(log, piece, save_token=f"{number}")
    text = export_csv(log).decode()
    for note in NOTES:
        guard = "'" if note[0] in "=+-@\t'" else ""
        assert f"{guard}{note}".replace('"', '""') in text
    rows = taken_in(another_log(), export_csv(log))
    assert tuple(row.note for row in rows) == NOTES
    rows = taken_in(another_log(), export_xlsx(log)[0])
    assert tuple(row.note for row in rows) == tuple(
        note.replace("\r\n", "\n") for note in NOTES
    )


def test_control_characters_leave_a_spreadsheet_with_a_remark(log):
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 1)), save_token="p").id
    add(log, Piece(name="1", pour_id=pour), save_token="c")
    with writing(log) as connection:  # as logs of before may hold it
        connection.execute(sa.update(PIECE).values(note="x\x0by"))
    data, remarks = export_xlsx(log)
    assert remarks == ("Line 2, note: a control character was left out.",)
    assert "xy" in [cell.value for cell in sheet_of(data)[2]]
    assert piece_table(log)[0].note == "x\x0by"


def test_what_a_spreadsheet_did_to_a_cell_is_told(log):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["piece", "pour", "cast_on", "vibration_s"])
    sheet.append([7, "1", date(2026, 1, 2), 60])
    sheet.append([date(2026, 2, 1), "1", date(2026, 1, 2), "1,25"])
    sheet.append(["=A2+1", "1", "02.01.2026", True])
    out = io.BytesIO()
    book.save(out)
    preview = preview_import(log, out.getvalue())
    assert preview.rows[0].piece == "7"
    assert preview.rows[0].cast_on == date(2026, 1, 2)
    assert [(p.line, p.column, p.why) for p in preview.problems] == [
        (3, "piece", "was turned into a date by a spreadsheet: type it as text"),
        (4, "piece", "is a formula: paste its value"),
        (
            4,
            "cast_on",
            "could be two dates: say whether the day or the month comes first",
        ),
        (4, "vibration_s", "is not a number"),
    ]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "is empty"),
        (b" \r\n ", "is empty"),
        (b"PK\x03\x04broken", "spreadsheet cannot be read"),
        (b"\x81\x8d\x8f", "is not text"),
        (b"\xff\xfe\x00\xd8", "is not text"),
        (b"a,b\r\n1,2\r\n", "no column piece, pour, casting date"),
        (b"piece,pour,cast_on,Piece\r\n", "column 'piece' twice"),
        (b'piece,pour,cast_on\r\n"' + b"x" * 200_000, "cannot be read"),
    ],
)
def test_what_is_no_table_is_refused(log, data, message):
    with pytest.raises(TableError, match=message):
        preview_import(log, data)


def test_a_spreadsheet_without_cells_is_refused(log):
    out = io.BytesIO()
    openpyxl.Workbook().save(out)
    with pytest.raises(TableError, match="no header line"):
        preview_import(log, out.getvalue())


def test_a_spreadsheet_that_unpacks_without_end_is_refused(log, monkeypatch):
    monkeypatch.setattr("analysis.pieces.grid._LARGEST_XLSX", 1000)
    with pytest.raises(TableError, match="unpacks to"):
        preview_import(log, export_xlsx(log)[0])


def test_an_endless_table_is_refused(log, monkeypatch):
    monkeypatch.setattr("analysis.pieces.grid.LARGEST_ROWS", 1)
    with pytest.raises(TableError, match="split it"):
        preview_import(log, table("1,1,2026-01-01,1", "2,1,2026-01-01,1"))


def test_a_table_of_a_header_alone_is_refused(log):
    preview = preview_import(log, table())
    with pytest.raises(InputError, match="no line below its header"):
        import_pieces(log, preview, save_token="i")


def test_columns_left_out_are_told(log):
    data = table("1,1,2026-01-01,x", header="Piece,pour,cast on,moon phase")
    preview = preview_import(log, data)
    assert preview.columns_read == ("Piece", "pour", "cast on")
    assert preview.columns_left_out == ("moon phase",)


def test_words_the_import_does_not_know_are_refused(log):
    with pytest.raises(InputError, match="Decimal mark must be one of"):
        preview_import(log, table(), decimal=";")
    with pytest.raises(InputError, match="Order of dates must be one of"):
        preview_import(log, table(), date_order="ydm")
    with pytest.raises(TableError, match="Column must be one of"):
        preview_import(log, table(), columns={"x": "moon"})


def test_a_form_use_sets_the_count_of_a_new_form(log):
    data = table(
        "2,2,2026-01-02,A,8",
        "1,1,2026-01-01,A,7",
        header="piece,pour,cast_on,form,form_use",
    )
    assert [row.form_use for row in taken_in(log, data)] == [7, 8]
    assert list_all(log, Form)[0].starting_use_count == 6


def test_stages_and_settings_that_cannot_be_are_told(log):
    data = table(
        "1,1,2026-01-01,washed,-1,200",
        header="piece,pour,cast_on,stage,vibration_s,humidity_percent",
    )
    found = told(log, data)
    assert [problem[1] for problem in found] == ["stage", "piece"]
    assert "Vibration must be between" in found[1][3]


def test_a_new_form_is_judged_by_all_its_lines_together(log):
    header = "piece,pour,cast_on,form,face_kind,flute_pitch_mm"
    apart = table("1,A,2026-01-02,C,,30", "2,A,2026-01-02,C,ribbed,", header=header)
    assert told(log, apart) == []
    wrong = table("1,A,2026-01-02,C,flat,30", "2,A,2026-01-02,D,oval,", header=header)
    problems = told(log, wrong)
    assert [one[1:3] for one in problems] == [("form", "C"), ("form", "D")]
    assert "belongs to a ribbed face" in problems[0][3]
    assert "Kind of face must be one of" in problems[1][3]


@pytest.mark.parametrize("column", ["piece", "pour", "mix", "note"])
def test_nul_in_a_cell_goes_into_no_log(log, column):
    row = {"piece": "1", "pour": "A", "cast_on": "2026-03-02", "mix": "c", "note": "n"}
    row[column] += "\0"
    table = ",".join(row) + "\n" + ",".join(row.values()) + "\n"
    preview = preview_import(log, table.encode())
    assert [(p.line, p.column) for p in preview.problems] == [(2, column)]
    assert preview.problems[0].why.startswith("holds a NUL sign")
    with pytest.raises(InputError, match="Nothing was imported: 1 cells cannot"):
        import_pieces(log, preview, save_token="nul")


@pytest.mark.parametrize("given", ["9999-12-31", "0001-01-01", "1026-03-31"])
def test_days_of_another_century_go_into_no_log(log, given):
    preview = preview_import(log, f"piece,pour,cast_on\n1,A,{given}\n".encode())
    assert [(p.line, p.column) for p in preview.problems] == [(2, "cast_on")]
    assert preview.problems[0].why == (
        "is not in the years 1900 to 2099: correct the year"
    )
    with pytest.raises(InputError, match="Nothing was imported: 1 cells cannot"):
        import_pieces(log, preview, save_token="year")


def test_control_characters_go_into_no_log(log):
    table = "piece,pour,cast_on,note\n1,A,2026-03-02,wet\x1b[31m\n"
    preview = preview_import(log, table.encode())
    assert [(p.line, p.column) for p in preview.problems] == [(2, "note")]
    assert preview.problems[0].why.startswith("holds a control character (U+001B)")
