"""Pours and pieces: what was saved is found and shown again."""

from __future__ import annotations

import re
from datetime import date

import pytest

from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support.screens import HOSTILE, face_png, labels, press, ran, start, texts

pytestmark = pytest.mark.usefixtures("log")


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

    app = start("pieces")

    said = texts(app)
    assert said.index("Pour 2 (5 March 2026)") < said.index("Pour 1 (5 January 2026)")
    assert cards(app) == ["new, Form new", "old, Form old"]
    assert "2 pieces\nNo voids\n" in said


def test_piece_is_opened_with_its_reading(log):
    keep(log)
    app = opened(start("pieces"), "007, Form 007")

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

    opened(app, cards(app)[0])

    assert f"Piece {HOSTILE}" in texts(app).replace("\u2060", "")


def test_next_face_of_a_piece_is_measured_for_that_piece(log):
    keep(log)
    app = press(start("pieces", piece="1"), "Measure a face of this piece")

    assert "Measure a face" in texts(app)
    assert app.session_state["piece known"] == 1


def test_long_log_is_shown_in_pages(log):
    pour = Pour(name="1", cast_on=date(2026, 1, 5))
    pieces = [Piece(name=f"{k:02d}", pour_id=0) for k in range(50)]
    log_service.add_pour_with_pieces(log, pour, pieces, save_token="many")
    app = start("pieces")
    assert shown_names(app) == [f"{k:02d}" for k in range(49, 25, -1)]
    assert "1 to 24 of 50 pieces" in texts(app)

    press(press(app, "Next page"), "Next page")

    assert shown_names(app) == ["01", "00"]
    assert "49 to 50 of 50 pieces" in texts(app)
    press(app, "Page before")
    assert shown_names(app)[0] == "25"


def shown_names(app):
    return [one for one in labels(app) if one.isdecimal()]


def test_search_and_filters_choose_and_survive_a_look_at_a_piece(log):
    for name, voids in (("a1", 0), ("a2", 5), ("b1", 3)):
        keep(log, piece=name, pour=f"pour {name}", voids=voids)
    app = start("pieces")

    ran(app.text_input(key="library text").set_value("a").run())
    ran(app.selectbox(key="library order").set_value("most voids").run())

    assert cards(app) == ["a2, Form a2", "a1, Form a1"]
    opened(app, "a2, Form a2")
    assert "1 of 2" in texts(app)
    press(app, "Next")
    assert "Piece a1" in texts(app)
    press(app, "All pieces")
    assert cards(app) == ["a2, Form a2", "a1, Form a1"]
    press(app, "Clear filters")
    assert len(cards(app)) == 3
    assert cards(app)[0].startswith("a2")  # the order stays


def as_read(label):
    return re.sub(r"\\(.)", r"\1", label)


def cards(app):
    return [one for one in map(as_read, labels(app)) if ", Form" in one]


def opened(app, name):
    (card,) = (one for one in app.button if as_read(one.label) == name)
    return ran(card.click().run())


def test_address_asks_as_it_was_asked(log):
    for name in ("a1", "b1"):
        keep(log, piece=name, pour=f"pour {name}")

    assert cards(start("pieces", text="b")) == ["b1, Form b1"]
    assert cards(start("pieces", sealing="sealed")) == []
    assert len(cards(start("pieces", sealing="wet", form_id="x", to_day="soon"))) == 2
    upside_down = start("pieces", from_day="2026-05-02", to_day="2026-05-01")
    assert len(cards(upside_down)) == 2


def test_nothing_found_is_told_and_can_be_cleared(log):
    keep(log)
    app = start("pieces", text="nowhere")
    assert "No piece meets all of this." in texts(app)

    assert cards(press(app, "Clear filters")) == ["007, Form 007"]


def test_upside_down_period_is_refused(log):
    keep(log)
    app = start("pieces")
    app.date_input(key="library from_day").set_value(date(2026, 5, 2))
    app.date_input(key="library to_day").set_value(date(2026, 5, 1))

    ran(app.run())

    assert "before it begins" in texts(app)
    assert cards(app) == ["007, Form 007"]


def test_card_shows_the_photo_and_a_lost_one_stays_blank(log):
    keep(log)
    assert "thumbnails" not in {one.name for one in log.photo_folder.parent.iterdir()}
    start("pieces")
    assert len([*log.photo_folder.parent.glob("thumbnails/*/*.jpg")]) == 1
    for file in log.photo_folder.glob("*/*"):
        file.unlink()
    for file in log.photo_folder.parent.glob("thumbnails/*/*"):
        file.unlink()

    app = start("pieces")

    assert not [*log.photo_folder.parent.glob("thumbnails/*/*.jpg")]
    assert cards(app) == ["007, Form 007"]


@pytest.mark.parametrize("view", ["pieces", "forms"])
def test_a_record_that_is_not_there_is_told_under_the_page_s_title(view):
    app = start(view, **{view.removesuffix("s"): "99999"})

    assert len(app.title) == 1
    assert "99999" in app.error[0].value
    back = next(one for one in labels(app) if one.startswith("All "))
    assert not press(app, back).error
