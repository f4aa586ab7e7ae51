"""Every field a number is typed into: a comma arrives as meant, doubt is refused."""

from __future__ import annotations

import ast
import dataclasses
from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from analysis.errors import InputError
from analysis.model.afterwards import HandFigures
from analysis.model.log import Piece, Pour, Step
from analysis.model.workshop import FinishTarget, Form, Mix, MixPart
from analysis.services import entry
from analysis.typed import typed_number

UI = Path(__file__).resolve().parents[2] / "ui"


def calls(name):
    """All calls of a function in ui/, with their file."""
    for path in sorted(UI.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and name in {
                getattr(node.func, "id", ""),
                getattr(node.func, "attr", ""),
            }:
                yield path, node


def fields():
    """Key and unit of each field that `number` makes, as they are written."""
    found = []
    for path, node in calls("number"):
        if path.name in {"picture.py", "fields.py"}:
            continue
        source = path.read_text(encoding="utf-8")
        if "from ui.widgets.fields import" not in source or len(node.args) < 2:
            continue
        key = ast.unparse(node.args[1])
        unit = next(
            (ast.unparse(k.value) for k in node.keywords if k.arg == "unit"), "''"
        )
        found.append((f"{path.relative_to(UI)} {key}", unit))
    return found


def page(unit):
    import streamlit as st  # noqa: PLC0415

    from ui.widgets.fields import number  # noqa: PLC0415  runs by itself

    st.session_state["read"] = number("Asked", "asked", unit=unit)


def typed(text, unit):
    app = AppTest.from_function(page, kwargs={"unit": unit}).run()
    return app.text_input(key="asked").set_value(text).run()


def test_no_field_takes_numbers_in_any_other_way():
    assert list(calls("number_input")) == []


def test_all_fields_are_looked_at():
    assert len(fields()) >= 20


@pytest.mark.parametrize(("place", "unit"), fields())
def test_a_comma_arrives_as_meant_in_every_field(place, unit):
    # A unit that depends on another answer is that of a length, for one.
    plain = unit.startswith("'") and " if " not in unit
    known = ast.literal_eval(unit) if plain else "mm"

    for text in ("0,14", "0.14"):
        app = typed(text, known)
        assert not app.exception, place
        assert app.session_state["read"] == 0.14


def entered(kind):
    """Names of the numbers of a record that are typed into its form."""
    return [
        (kind, item.name)
        for item in dataclasses.fields(kind)
        if entry.is_number(item.name) and item.type in {"float | None", "int | None"}
    ]


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        pair
        for kind in (Piece, Pour, Step, Form, Mix, MixPart, FinishTarget, HandFigures)
        for pair in entered(kind)
    ],
)
def test_a_comma_arrives_as_meant_in_every_field_of_a_record(kind, name):
    (item,) = (one for one in dataclasses.fields(kind) if one.name == name)
    whole = item.type == "int | None"
    needed = {
        "name": "7", "pour_id": 1, "piece_id": 1, "product_line_id": 1,
        "cast_on": date(2026, 5, 4), "material": "sand", "part": "sand",
    }  # fmt: skip
    known = {
        one.name: needed[one.name]
        for one in dataclasses.fields(kind)
        if one.default is dataclasses.MISSING and one.name in needed
    }
    if kind is Form and name in {"pitch_mm", "depth_mm"}:
        known["face_kind"] = "ribbed"  # flutes have them, other faces do not
    typed = "1.5" if name == "pitch_mm" else "0.5"
    texts = {name: "2,0" if whole else typed.replace(".", ",")}
    value = getattr(entry.from_texts(kind, texts, **known), name)
    of_percent = float(typed) / (100 if entry.unit_of(name) == "%" else 1)
    assert value == (2 if whole else pytest.approx(of_percent))
    assert entry.echo(name, texts[name]).startswith("2" if whole else typed)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("air_c", "68 F", 20.0),
        ("air_c", "12,5 °C", 12.5),
        ("seconds", "1:30", 90.0),
        ("water_added_l", "500 ml", 0.5),
    ],
)
def test_other_units_are_taken_in_records_too(name, text, value):
    kind = Step if name == "seconds" else Pour
    known = {} if kind is Step else {"name": "1", "cast_on": date(2026, 5, 4)}
    read = entry.from_texts(kind, {name: text}, **known)
    assert getattr(read, name) == pytest.approx(value)


def test_what_was_understood_is_said_back():
    (said,) = typed("5 1/2 in", "mm").markdown
    assert "= 139.7 mm" in said.value.replace("\\", "")
    assert not typed("12", "mm").markdown


def test_doubt_is_refused_where_it_is_typed():
    assert len(typed("1.200", "mm").exception) == 1
    with pytest.raises(InputError, match="could be"):
        typed_number("1.200", "mm", what="Asked")
