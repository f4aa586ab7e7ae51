"""Control characters and days of another century: refused, and old logs still open."""

from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa

from analysis.errors import InputError
from analysis.model.afterwards import HandFigures, Repair
from analysis.model.batch_marks import BatchMark
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.settings import Settings
from analysis.model.workshop import Form, FormCare, FormJoint, Mix, MixPart, ProductLine
from analysis.services.overview import overview
from analysis.services.workshop_settings import keep_settings, settings
from analysis.storage.engine import writing
from analysis.storage.moving import migrate_log
from analysis.storage.records import add, change, list_all, load, write_all
from analysis.storage.store import open_log
from analysis.storage.tables import PIECE, POUR
from analysis.storage.terms import add_term, rename_term

DAY = date(2026, 3, 31)
BELL = "struck wet\x07"
LOADED = MixPart(kind="cement", name="c", amount=BELL)
BEHIND = r"has a control character \(U\+0007\) behind 'struck wet': delete it there"


@pytest.mark.parametrize(
    ("record", "said"),
    [
        (Pour(name="12", cast_on=DAY, note=BELL), "Note"),
        (Pour(name=BELL, cast_on=DAY), "Pour"),
        (Pour(name="12", cast_on=DAY, crew=BELL), "Crew"),
        (Pour(name="12", cast_on=DAY, consistency=BELL), "Consistency"),
        (Form(name="A", note=BELL), "Note"),
        (Form(name="A", set_up_recipe=BELL), "Set-up recipe"),
        (Form(name="A", joints=(FormJoint(name=BELL),)), "Name of the joint"),
        (
            Mix(name="A", parts=(MixPart(kind="cement", name="c", amount=BELL),)),
            "Amount",
        ),
        (ProductLine(name="A", note=BELL), "Note"),
        (BatchMark(kind="change", from_day=DAY, note=BELL), "Note"),
    ],
)
def test_no_record_takes_a_control_character(log, record, said):
    with pytest.raises(InputError, match=f"^{said} {BEHIND}"):
        add(log, record, save_token="a")
    assert list_all(log, type(record)) == ()


@pytest.mark.parametrize("sign", ["\0", "\x1b", "\x9b", "\ud83d"])
def test_nothing_is_dropped_from_a_note_without_a_word(log, sign):
    with pytest.raises(InputError, match=r"^Note has a .* behind 'two lifts'"):
        add(log, Pour(name="12", cast_on=DAY, note=f"two lifts{sign}"), save_token="a")
    kept = add(log, Pour(name="12", cast_on=DAY, note="two\n\tlifts"), save_token="a")
    assert load(log, Pour, kept.id).note == "two\n\tlifts"


def test_parts_and_many_at_once(log):
    pour = add(log, Pour(name="12", cast_on=DAY), save_token="a").id
    for piece in (
        Piece(name="1", pour_id=pour, joints=(JointState(joint=BELL),)),
        Piece(name="1", pour_id=pour, steps=(Step(speed=BELL),)),
        Piece(name="1", pour_id=pour, show_faces=BELL),
    ):
        with pytest.raises(InputError, match=BEHIND):
            add(log, piece, save_token="b")
        with pytest.raises(InputError, match=BEHIND), writing(log) as connection:
            write_all(connection, [Piece(name="0", pour_id=pour), piece])
    assert list_all(log, Piece) == ()


@pytest.mark.parametrize("day", [date.min, date(206, 3, 31), date.max])
def test_days_of_another_century(log, day):
    add(log, Form(name="A"), save_token="form")
    told = f"must lie in the years 1900 to 2099, {day} was given: correct the year"
    for record, said in (
        (Pour(name="12", cast_on=day), "Cast on"),
        (Form(name="B", made_on=day), "Made on"),
        (FormCare(form_id=1, kind="cleaned", done_on=day), "Done on"),
        (BatchMark(kind="change", from_day=day, note="n"), "From day"),
        (Repair(piece_id=1, repaired_on=day), "Repaired on"),
        (HandFigures(piece_id=1, measured_on=day, step_mm=1.0), "Measured on"),
    ):
        with pytest.raises(InputError, match=f"^{said} {told}"):
            add(log, record, save_token="a")


def test_words_settings_and_names(log):
    with pytest.raises(InputError, match=f"^The word {BEHIND}"):
        add_term(log, "leak", BELL)
    add_term(log, "leak", "weeping")
    with pytest.raises(InputError, match=f"^The new name {BEHIND}"):
        rename_term(log, "leak", "weeping", BELL)
    with pytest.raises(InputError, match=f"^The workshop's name {BEHIND}"):
        keep_settings(log, Settings(workshop=BELL))
    assert settings(log).workshop == ""


@pytest.mark.parametrize("day", [date.min, date.max])
def test_what_an_older_log_holds_opens_moves_and_is_edited(log, tmp_path, day):
    pour = add(log, Pour(name="12", cast_on=DAY), save_token="a").id
    piece = add(log, Piece(name="1", pour_id=pour), save_token="b").id
    with writing(log) as connection:
        connection.execute(sa.update(POUR).values(cast_on=day, note=BELL, name=BELL))
        connection.execute(sa.update(PIECE).values(note=BELL))
    old = load(log, Pour, pour)
    assert (old.cast_on, old.note, old.name) == (day, BELL, BELL)
    overview(log, DAY)
    change(log, replace(old, crew="two"))
    assert load(log, Pour, pour).crew == "two"
    with pytest.raises(InputError, match=f"^Cement lot {BEHIND}"):
        change(log, replace(load(log, Pour, pour), cement_lot=BELL + "!"))
    change(log, replace(load(log, Piece, piece), note="dry"))
    moved = open_log(tmp_path / "moved")
    migrate_log(log, moved)
    assert load(moved, Pour, pour).note == BELL
