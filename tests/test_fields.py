"""The registry of fields: what a new field needs, and what every field has."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from analysis.errors import InputError
from analysis.fields import FIELDS, column_field, columns_of_role, role_of
from analysis.model.field_words import label_of
from analysis.model.log import Pour, Step
from analysis.vocabulary import VOCABULARIES

ROOT = Path(__file__).parents[1]
# A field that nobody wrote code for: an entry of the registry, and what its migration
# would do. Everything else follows.
PRETEND = """
from dataclasses import replace
from datetime import date
import csv, io, sys, tempfile

from analysis import fields

cover = fields.Field(
    owner="pour", name="rain_mm", label="Rain", kind="number", role="condition_of_day",
    unit="mm", high=500.0, column="rain_mm",
)
fields.FIELDS = (*fields.FIELDS, cover)
fields._OF_OWNER = {(one.owner, one.name): one for one in fields.FIELDS}
fields._OF_COLUMN = {one.column: one for one in fields.FIELDS if one.column}

import sqlalchemy as sa
from analysis.compare.choices import factors
from analysis.errors import InputError
from analysis.model.log import Piece, Pour
from analysis.pieces.table import read_table
from analysis.services import log as log_service, records
from analysis.services.tables import trials_of_log
from analysis.services.entry import from_texts, to_texts, unit_of
from analysis.storage.engine import writing
from analysis.storage.exchange import export_csv, import_pieces, preview_import
from ui.widgets.record_words import label


def opened(folder):
    log = log_service.open_log(folder)
    with writing(log) as connection:  # the migration
        connection.execute(sa.text("ALTER TABLE pour ADD COLUMN rain_mm DOUBLE"))
    return log


pour = Pour(name="1", cast_on=date(2026, 3, 31), rain_mm=2.5)
try:
    replace(pour, rain_mm=501.0)
except InputError as error:
    assert "Rain must be between 0 and 500 mm, 501 was given" in str(error), error
else:
    raise AssertionError("bounds")
assert to_texts(pour)["rain_mm"] == "2.5"
assert from_texts(Pour, to_texts(pour) | {"rain_mm": "3,5"}).rain_mm == 3.5
assert unit_of("rain_mm") == "mm" and label("rain_mm") == "Rain, mm"
with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as two:
    log = opened(one)
    log_service.add_pour_with_pieces(
        log, pour, [Piece(name="7", pour_id=0)], save_token="a"
    )
    (kept,) = records.list_all(log, Pour)
    assert kept.rain_mm == 2.5
    data = export_csv(log)
    (row,) = csv.DictReader(io.StringIO(data.decode()))
    assert row["rain_mm"] == "2.5"
    other = opened(two)
    import_pieces(other, preview_import(other, data), save_token="b")
    (back,) = records.list_all(other, Pour)
    assert back.rain_mm == 2.5
    assert trials_of_log(other).number["rain_mm"].tolist() == [2.5]
table = read_table("piece,pour,rain_mm\\n1,A,2.5\\n")
assert table.number["rain_mm"].tolist() == [2.5]
assert fields.role_of("rain_mm") == "condition_of_day"
print("all of it")
"""


def test_new_field_needs_an_entry_and_a_migration():
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", PRETEND],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "all of it\n", done.stderr[-1500:]


def test_every_field_is_known_once_and_says_what_it_is():
    assert len({(one.owner, one.name) for one in FIELDS}) == len(FIELDS)
    columns = [one.column for one in FIELDS if one.column]
    assert len(set(columns)) == len(columns)
    for one in FIELDS:
        assert one.label, one
        assert (one.kind == "choice") == bool(one.words), one
        assert one.low < one.high, one
        if one.vocabulary:
            assert one.vocabulary in VOCABULARIES, one


def test_settings_results_and_conditions_are_told_apart():
    assert role_of("joint_sealing") == role_of("vibration_s") == "setting"
    assert role_of("leak") == role_of("void_area_percent") == role_of("fin_mm")
    assert role_of("air_c") == role_of("form_use") == role_of("cast_on")
    assert role_of("light") == role_of("smallest_counted_mm") == role_of("stage")
    assert role_of("anything else") == "setting"
    every = columns_of_role(
        "setting", "result", "condition_of_day", "condition_of_measuring", "name"
    )
    assert len(every) == len([one for one in FIELDS if one.column])


def test_columns_are_named_with_their_unit():
    assert label_of("vibration_s") == "Vibration, seconds"
    assert label_of("humidity_percent") == "Humidity, %"
    assert label_of("voids_per_m2") == "Voids per m²"
    assert label_of("cement_bag") == "Cement bag"
    assert column_field("cement_bag") is None


def test_what_is_not_known_is_refused():
    with pytest.raises(InputError, match="Role must be one of"):
        columns_of_role("colour")


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: Step(seconds=float("nan")), "Vibration must be a finite number"),
        (lambda: Step(certainty="sure"), "How the time is known must be one of"),
        (
            lambda: Pour(name="1", cast_on=None, air_c=90.0),
            "Air temperature must be between -50 and 80 °C",
        ),
    ],
)
def test_values_are_held_to_their_bounds(make, why):
    with pytest.raises(InputError, match=why):
        make()
