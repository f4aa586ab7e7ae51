"""A piece's page: facts, judgement, repairs; two people at one; taking out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from analysis.errors import ConflictError
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services import records
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.vocabulary import NONE, NOT_APPLICABLE
from tests.support.screens import HOSTILE, face_png, labels, press, ran, start, texts
from tests.support.small_workshop import workshop


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    return workshop(tmp_path)


def page():
    return start("pieces", piece="1")


def piece(log):
    return records.load(log, Piece, 1)


def tapped(app, label, value):
    (found,) = (one for one in app.button_group if one.label == label)
    return ran(found.set_value(value).run())


def written(app, label, value):
    found = [one for one in app.text_input if one.label == label]
    return ran(found[0].set_value(value).run())


def chosen(app, label, value):
    found = [one for one in app.selectbox if one.label == label]
    return ran(found[0].set_value(value).run())


def test_all_facts_of_piece_and_pour_are_shown(log):
    records.change(log, replace(piece(log), note="=1+1 *x*", release_agent=NONE))
    said = texts(page())

    assert "Joint l: tape, no leak" in said
    assert "Consolidation: table 40 s" in said
    assert "Release agent: none" in said
    assert "Note: =1+1 *x*" in said
    assert "Mix: grey" in said
    assert "Air: 11 °C" in said
    assert "Not known: how it was applied" in said


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (None, "Release agent: not known"),
        (NONE, "Release agent: none"),
        (NOT_APPLICABLE, "Release agent: not applicable"),
    ],
)
def test_unknown_none_and_not_applicable_read_apart(given, said, log):
    records.change(log, replace(piece(log), release_agent=given))

    assert said in texts(page()).splitlines() or f"{said}  " in texts(page())


def test_judging_again_adds(log):
    app = press(page(), "Judge it")
    app = press(tapped(app, "Outcome", "second"), "Save")
    assert "Second" in texts(app)
    app = press(app, "Judge it again")
    app = tapped(app, "Outcome", "patched")
    press(tapped(app, "Eye score, 1 (worst) to 10", "7"), "Save")

    found = records.list_all(log, Outcome, piece_id=1)
    assert [(one.outcome, one.eye_score) for one in found] == [
        ("second", None),
        ("patched", 7),
    ]


def test_blank_judgement_is_told_and_not_saved(log):
    app = press(press(page(), "Judge it"), "Save")

    assert "Nothing to save yet" in texts(app)
    assert records.list_all(log, Outcome) == ()


def test_repairs_add_up(log):
    app = press(page(), "Add a repair")
    app = written(app, "Repair time, min", "12,5")
    app = press(chosen(app, "Filler", "cement slurry"), "Save")
    app = press(press(app, "Add a repair"), "Cancel")
    records.add(log, Repair(piece_id=1), save_token="no time")

    (first, _) = records.list_all(log, Repair, piece_id=1)
    assert (first.minutes, first.filler) == (12.5, "cement slurry")
    # Midnight may pass meanwhile.
    assert abs(first.repaired_on - records.today()) <= timedelta(days=1)
    said = texts(ran(app.run()))
    assert "Repairs: 12.5 min, and 1 whose time is not known." in said


def test_outcome_is_taken_out_and_brought_back(log):
    records.add(log, Outcome(piece_id=1, outcome="scrapped"), save_token="one")
    app = press(page(), "Delete")
    assert records.list_all(log, Outcome) == ()

    assert "Deleted: Scrapped" in texts(app)
    app = press(app, "All pieces")
    assert "Deleted: Scrapped" in texts(app)
    press(app, "Undo")
    assert len(records.list_all(log, Outcome)) == 1


def test_piece_is_taken_out_and_brought_back(log):
    app = press(page(), "Delete this piece")
    assert "Deleted: Piece P-001" in texts(app)
    assert len(records.list_castings(log)) == 5

    app = press(app, "Undo")
    assert r"P\-001\, Trough A" in [one.label for one in app.button]


def test_piece_is_corrected_and_how_it_was_is_kept(log):
    app = chosen(press(page(), "Correct the piece"), "Release agent", "wax")
    app = press(app, "Save")

    assert piece(log).release_agent == "wax"
    assert "Release agent: wax" in texts(app)
    assert records.history(log, Piece, 1)[0]["release_agent"] == "oil"


def test_pour_is_corrected(log):
    app = written(press(page(), "Correct its pour"), "Water actually added, l", "7,25")
    assert "= 7.25 l" in texts(app)
    press(app, "Save")

    assert records.load(log, Pour, 1).water_added_l == 7.25


def test_half_done_correction_outlives_the_session():
    app = written(press(page(), "Correct the piece"), "Name or number", "007")

    other = start("pieces", piece="1", entry=app.session_state["entry"])

    (name,) = (one for one in other.text_input if one.label == "Name or number")
    assert name.value == "007"


def test_second_of_two_people_is_shown_both_and_nothing_is_lost(log):
    app = written(press(page(), "Correct the piece"), "Name or number", "mine")
    records.change(log, replace(piece(log), release_agent="wax", name="theirs"))
    app = press(app, "Save")

    said = texts(app)
    assert "Someone else changed this meanwhile." in said
    assert "In the log now: theirs  \nYours: mine" in said
    assert "Release agent  \nwax: stays: you did not change it" in said
    assert piece(log).name == "theirs"

    press(app, "Save my changes over it")
    assert (piece(log).name, piece(log).release_agent) == ("mine", "wax")


def test_second_of_two_people_can_keep_the_others(log):
    app = written(press(page(), "Correct the piece"), "Name or number", "mine")
    records.change(log, replace(piece(log), name="theirs"))
    app = press(press(app, "Save"), "Keep what is in the log")

    assert piece(log).name == "theirs"
    assert "Correct the piece" in labels(app)


def test_change_between_showing_and_saving_is_shown_too(monkeypatch):
    app = written(press(page(), "Correct the piece"), "Name or number", "mine")
    change = records.change

    def other_first(where, record):
        change(where, replace(piece(where), name="theirs"))
        monkeypatch.setattr(records, "change", change)
        msg = "someone was faster"
        raise ConflictError(msg, stored=piece(where), given=record)

    monkeypatch.setattr(records, "change", other_first)

    assert "In the log now: theirs" in texts(press(app, "Save"))


def test_wrong_correction_is_told_and_nothing_is_saved(log):
    app = press(page(), "Correct the piece")
    app = press(written(app, "Name or number", " "), "Save")

    assert len(app.error) == 1
    assert piece(log).name == "P-001"


def test_readings_stand_side_by_side(log):
    for k, voids in enumerate((3, 5)):
        data = face_png(voids)
        photo = read_photo(data, "face.png")
        reading, _ = measure(photo, scale=scale_typed(0.5))
        log_service.save_reading(
            log,
            piece_id=1,
            photo_bytes=data,
            photo=photo,
            reading=reading,
            save_token=str(k),
        )

    tables = [one.value for one in page().dataframe]
    (beside,) = (one for one in tables if "Method" in one.columns)
    assert list(beside["Voids"]) == ["5", "3"]


def test_what_was_written_is_shown_as_written(log):
    records.change(log, replace(piece(log), name=HOSTILE, note=HOSTILE))
    app = page()

    assert f"Note: {HOSTILE}" in texts(app).replace("\u2060", "")


def test_form_page_answers_what_was_done_last_time():
    app = start("forms")
    app = ran(next(one for one in app.button if one.label == "Open").click().run())

    said = texts(app)
    assert "What did I do last time?" in said
    assert "31 March 2026: piece P-005, casting 3 in it" in said
    assert "Cast the same again" in [one.label for one in app.get("page_link")]
