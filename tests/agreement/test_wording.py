"""Columns and codes of the log reach no sentence, wherever it is read."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from analysis.cli import main
from analysis.errors import ConflictError, InputError, TableError
from analysis.fields import FIELDS
from analysis.model.field_words import column_words, field_words, label_of
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form, FormJoint, Mix, MixPart
from analysis.services import log as log_service
from analysis.storage.exchange import COLUMNS, import_pieces, preview_import
from analysis.storage.moving import migrate_log
from analysis.storage.records import add, change, load
from tests.support.screens import ran, start, texts
from tests.support.wording import codes_in, names_in, sentences_of

POURS, EACH = 24, 3


def rows(**changed):
    """Pieces with every kind of column; `changed` gives a column by pour and piece."""
    random = np.random.default_rng(11)
    for pour in range(POURS):
        for number in range(EACH):
            yield {
                "piece": f"{pour}-{number}",
                "pour": f"P{pour}",
                "cast_on": f"{date(2026, 1, 5) + timedelta(days=3 * pour)}",
                "form": f"Trough {'ABC'[number]}",
                "form_type": "trough",
                "form_use": pour + 1,
                "product_line": "planter" if number else "bench",
                "joint_sealing": "tape" if (pour + number) % 2 else "none",
                "release_agent": "wax" if pour % 4 < 2 else "oil",
                "release_application": "wiped on" if pour % 3 else "sprayed",
                "vibration_method": "table",
                "vibration_s": 30 if (pour + number) % 2 else 60,
                "strokes": 25 if pour % 2 else 50,
                "casting_process": "wet cast" if pour % 5 else "sprayed",
                "air_c": 12 + pour % 7,
                "humidity_percent": 50 + pour % 5,
                "cement_lot": f"lot {pour // 12}",
                "stage": "as_struck",
                "method_version": "3.1",
                "smallest_counted_mm": 0.5,
                "light": "plain",
                "void_area_percent": f"{np.exp(random.normal(-0.5, 0.2)):.4f}",
                "void_count": 40,
                "face_area_mm2": 120000,
                "joint_band_percent": f"{np.exp(random.normal(0.5, 0.1)):.4f}",
                "open_face_percent": f"{np.exp(random.normal(-0.9, 0.1)):.4f}",
                "honeycomb_percent": 0.9,
                "consistency": "stiff",
            } | {name: give(pour, number) for name, give in changed.items()}


def csv_of(given):
    given = list(given)
    lines = [",".join(given[0])]
    lines += [",".join(map(str, row.values())) for row in given]
    return "\n".join(lines) + "\n"


# What makes a sentence about a column appear.
SHOPS = {
    "plain": {},
    "one went along": {
        "release_application": lambda p, n: "wiped on" if (p + n) % 2 else "sprayed"
    },
    "two went along": {
        "joint_sealing": lambda p, _: "tape" if p % 4 == 0 else "none",
        "release_agent": lambda p, _: "wax" if p % 2 else "oil",
        "release_application": lambda p, _: "wiped on" if p // 2 % 2 else "sprayed",
    },
    "not alike": {
        "smallest_counted_mm": lambda p, _: 0.5 if p % 4 < 2 else 2.0,
        "light": lambda p, _: "uneven_light+too_dark" if p % 4 < 2 else "plain",
        "stage": lambda p, _: "surface_sealed" if p > 20 else "as_struck",
        "method_version": lambda p, _: "2.9" if p < 2 else "3.1",
    },
    "unknown and zero": {
        "joint_sealing": lambda p, n: ("", "tape", "none")[(p + n) % 3],
        "void_area_percent": lambda p, n: ("", 0, 0.5 + p % 4 / 9)[(p + 2 * n) % 3],
        "void_count": lambda p, n: ("", 0, 40)[(p + 2 * n) % 3],
        "vibration_s": lambda p, n: "" if p == n else 30 + 10 * (p % 3),
    },
    "in turn": {
        "joint_sealing": lambda p, _: "tape" if p < 12 else "none",
        "vibration_s": lambda p, _: 30 if p < 12 else 60,
        "release_agent": lambda p, _: "wax" if p < 12 else "oil",
        "void_area_percent": lambda p, n: f"{(1 + p // 12) * (0.5 + n / 40):.3f}",
    },
}
TARGETS = ["--target-low", "0.1", "--target-high", "0.4"]
VERBS = {
    "sealing": ["compare", "--by", "joint_sealing"],
    "inside": ["compare", "--by", "joints_sealed", "--within", "product_line"],
    "adjusted": ["compare", "--by", "vibration_s", "--adjust-for", "humidity_percent"],
    "several": ["compare", "--by", "release_agent", "--by", "release_application"],
    "track": ["track"],
    "track of a line": ["track", "--product-line", "planter"],
    "vibration": ["vibration", "--form-type", "trough", "--method", "table", *TARGETS],
}
VERBS["strokes"] = [*VERBS["vibration"], "--dose", "strokes"]


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("shop", SHOPS)
def test_command_line_says_no_column(shop, verb, tmp_path, capsys):
    table = tmp_path / "pieces.csv"
    table.write_text(csv_of(rows(**SHOPS[shop])), encoding="utf-8")
    asked = [*VERBS[verb], "--table", str(table)]

    assert main(asked) == 0
    said = capsys.readouterr().out
    assert main([*asked, "--json", "-"]) == 0
    told = sentences_of(json.loads(capsys.readouterr().out))

    assert len(said) > 60
    assert told
    assert codes_in("\n".join([said, *told])) == []


def test_checker_finds_what_it_looks_for():
    assert codes_in("Beware of product_line: as_struck, and too_dark.") == [
        "product_line",
        "as_struck",
        "too_dark",
    ]
    assert codes_in("Pour form_A of 3 March, C25_own") == []


@pytest.mark.parametrize("shop", ["one went along", "not alike"])
def test_screens_say_no_column(shop, tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    log = log_service.open_log(tmp_path)
    made = [
        {name: cell for name, cell in row.items() if name != "light"}
        for row in rows(**SHOPS[shop])
    ]
    data = csv_of(made).encode()
    preview = preview_import(log, data)
    import_pieces(log, preview, save_token="wording")

    for view in ("compare", "vibration", "batches", "plan"):
        app = start(view)
        read = texts(app)
        for box in app.expander:
            read += "\n".join(part.value for part in box.markdown)
        assert codes_in(read) == [], view
    assert ran(start("compare")).selectbox[0].value == "joints_sealed"


def test_checker_finds_names_with_an_underscore():
    assert names_in("The log has form_joint already; mix id is given") == ["form_joint"]
    assert names_in("Row 3 of waiting_photo in /tmp/a_b/c") == ["waiting_photo"]


@pytest.mark.parametrize(
    ("first", "theirs", "yours", "said"),
    [
        (
            Pour(name="12", cast_on=date(2026, 3, 31)),
            {"air_c": 12.5, "mix_c": 20.0},
            {"note": "late"},
            "air temperature: now 12.5, yours blank",
        ),
        (
            Piece(name="7", pour_id=1),
            {"joints": (JointState(sealing="tape", leak="grout"),)},
            {"steps": (Step(method="table", seconds=30.0),)},
            "kind of joint sealing 'tape'",
        ),
        (
            Form(name="Trough A"),
            {"starting_use_count": 4, "joints": (FormJoint(name="left"),)},
            {"face_material": "steel"},
            "joints: now name of the joint 'left'",
        ),
        (
            Mix(name="Grey"),
            {"parts": (MixPart(kind="cement", name="white cement"),)},
            {"note": "new"},
            "'white cement'",
        ),
    ],
)
def test_edit_conflicts_name_fields_by_their_labels(
    first, theirs, yours, said, tmp_path
):
    log = log_service.open_log(tmp_path)
    add(log, Pour(name="1", cast_on=date(2026, 3, 1)), save_token="pour")
    key = add(log, first, save_token="first").id
    opened = load(log, type(first), key)
    change(log, replace(opened, **theirs))

    with pytest.raises(ConflictError, match="Someone else changed") as caught:
        change(log, replace(opened, **yours))

    told = str(caught.value)
    assert said in told
    assert names_in(told) == []
    assert "None" not in told


def test_every_field_has_words_without_underscores():
    for one in FIELDS:
        assert "_" not in field_words(one.owner, one.name), one
        assert "_" not in column_words(one.column), one


def test_copying_a_log_names_no_table(tmp_path):
    old, new = (log_service.open_log(tmp_path / name) for name in ("old", "new"))
    told = []
    migrate_log(old, new, told.append)
    assert len(told) > 60
    assert [names_in(line) for line in told if names_in(line)] == []

    form = Form(name="Trough A", joints=(FormJoint(name="left"),))
    add(new, form, save_token="form")
    with pytest.raises(InputError, match="The new log is not empty") as caught:
        migrate_log(old, new)
    assert names_in(str(caught.value)) == []


BROKEN = {
    "void_area_percent": (101, "x"),
    "joint_band_percent": (-1, "x"),
    "void_count": (-4, 1.5),
    "form_use": (-2, "2,5"),
    "face_area_mm2": (0, "wide"),
    "smallest_counted_mm": (0, "-"),
    "stage": ("as_cast", "x"),
    "cast_on": ("2026-02-31", "1/2/2026"),
    "air_c": (999, "hot"),
    "vibration_s": (-1, "long"),
}


@pytest.mark.parametrize("column", BROKEN)
def test_import_refuses_without_a_column_name(column, tmp_path):
    log = log_service.open_log(tmp_path)
    said = []
    for given in BROKEN[column]:
        made = [{**row, column: given} for row in rows()][:2]
        preview = preview_import(log, csv_of(made).encode())
        said += [one.sentence for one in preview.problems]
        if preview.problems:
            with pytest.raises(InputError, match="Nothing was imported") as caught:
                import_pieces(log, preview, save_token="wording")
            said.append(str(caught.value))

    assert said
    assert codes_in("\n".join(said)) == []


@pytest.mark.parametrize(
    "table", [b"a,b\n1,2\n", b"piece,pour,cast_on,cast on\n", b"piece,pour\n1,2\n"]
)
def test_import_of_other_tables_says_no_column(table, tmp_path):
    with pytest.raises(TableError, match=r"no column|twice") as caught:
        preview_import(log_service.open_log(tmp_path), table)
    assert codes_in(str(caught.value)) == []


def test_a_header_may_be_what_a_column_is_called(tmp_path):
    log = log_service.open_log(tmp_path)
    for words in (column_words, label_of):
        header = ";".join(f'"{words(name)}"' for name in ("piece", "pour", "cast_on"))
        table = f"{header};Stage\n1;2;2026-03-31;as struck\n"
        (row,) = preview_import(log, table.encode()).rows
        assert (row.piece, row.pour, row.stage) == ("1", "2", "as_struck")
    # What is said of one column is never said of another.
    for words in (column_words, label_of):
        assert len({words(name).casefold() for name in COLUMNS}) == len(COLUMNS)
