"""Pours and pieces: what was saved is found and shown again."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support.screens import HOSTILE, face_png, press, ran, start, texts


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    return log_service.open_log(tmp_path)


def keep(log, *, voids=3, piece="007", pour="12", cast_on=date(2026, 3, 31)):
    data = face_png(voids)
    photo = read_photo(data, "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    return log_service.save_with_new_piece(
        log,
        piece=Piece(
            name=piece,
            pour_id=0,
            joints=(JointState(sealing="none"),),
            steps=(Step(method="table", seconds=40.0),),
        ),
        pour=Pour(name=pour, cast_on=cast_on),
        form=Form(name=f"Form {piece}", form_type="trough"),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token=piece,
    ).id


def test_empty_log_says_what_to_do_next():
    app = start("pieces")

    assert "Nothing is logged yet." in texts(app)
    assert "measure it and save it" in texts(app)
    assert [link.label for link in app.get("page_link")] == ["Measure a face"]


def test_newest_pour_stands_first(log):
    keep(log, piece="old", pour="1", cast_on=date(2026, 1, 5))
    keep(log, piece="new", pour="2", cast_on=date(2026, 3, 5), voids=0)

    said = texts(start("pieces"))

    assert said.index("Pour 2 (5 March 2026)") < said.index("Pour 1 (5 January 2026)")
    assert "new, Form new  \nNo voids" in said
    assert "old, Form old  \n" in said


def test_piece_is_opened_with_its_reading(log):
    keep(log)
    app = press(start("pieces"), "Open")

    said = texts(app)
    assert "Piece 007" in said
    assert "Form Form 007 (trough), casting 1 in it" in said
    assert "Joint sealing: none, joints left open" in said
    assert "Vibration: table, 40 s" in said
    assert "% void area" in said
    assert "Method version" in said
    assert app.metric[0].value == "3"

    press(app, "All pieces")
    assert "Pours and pieces" in texts(app)


def test_address_of_a_piece_opens_it_after_a_reload(log):
    keep(log)

    app = start("pieces", piece="1")

    assert "Piece 007" in texts(app)


def test_piece_that_is_not_there_is_told(log):
    keep(log)
    app = start("pieces", piece="99")

    assert len(app.error) == 1

    press(app, "All pieces")
    assert "Pour 12" in texts(app)


@pytest.mark.parametrize("given", ["", "x", "-1", "9" * 30])
def test_address_that_names_no_piece_shows_all(given, log):
    keep(log)

    assert "Pour 12" in texts(start("pieces", piece=given))


def test_every_reading_of_a_piece_can_be_seen(log):
    keep(log)
    data = face_png(5)
    photo = read_photo(data, "later.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_reading(
        log,
        piece_id=1,
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="later",
    )
    app = start("pieces", piece="1")
    assert app.metric[0].value == "5"
    assert "2 photos together" in texts(app)

    ran(app.selectbox[0].select_index(1).run())

    assert app.metric[0].value == "3"


def test_lost_photo_is_told_and_the_figures_stay(log):
    keep(log)
    for file in log.photo_folder.glob("*/*"):
        file.unlink()

    app = start("pieces", piece="1")

    assert "restore it from a backup" in texts(app)
    assert app.metric[0].value == "3"


def test_damaged_log_is_told_in_one_sentence(tmp_path, monkeypatch):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "log.sqlite").write_bytes(b"no database" * 1000)
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path / "other"))

    app = start("pieces")

    assert "is damaged" in texts(app)


def test_what_the_user_wrote_is_shown_as_written(log):
    keep(log, piece=HOSTILE, pour=HOSTILE)
    app = start("pieces")
    assert f"Pour {HOSTILE}" in texts(app).replace("\u2060", "")

    press(app, "Open")

    assert f"Piece {HOSTILE}" in texts(app).replace("\u2060", "")


def test_next_face_of_a_piece_is_measured_for_that_piece(log):
    keep(log)
    app = press(start("pieces", piece="1"), "Measure a face of this piece")

    assert "Measure a face" in texts(app)
    assert app.session_state["piece known"] == 1


def test_long_log_is_shown_in_parts(log):
    pour = Pour(name="1", cast_on=date(2026, 1, 5))
    pieces = [Piece(name=f"{k:02d}", pour_id=0) for k in range(25)]
    log_service.add_pour_with_pieces(log, pour, pieces, save_token="many")
    app = start("pieces")
    assert len([one for one in app.button if one.label == "Open"]) == 20

    press(app, "Show more")

    assert len([one for one in app.button if one.label == "Open"]) == 25
