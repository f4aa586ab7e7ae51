"""A piece held against limits; figures by hand; sheets and files on offer."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analysis.model.afterwards import HandFigures
from analysis.model.log import PhotoUse, Piece, Pour
from analysis.model.workshop import FinishTarget, ProductLine
from analysis.services import grading, records
from analysis.services import log as log_service
from analysis.services.photos import read_photo
from tests.support.drawn_faces import drawn, reading_of
from tests.support.pictures import file_of
from tests.support.screens import labels, press, ran, start, texts

KEEP = "Keep this verdict"


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    kept = log_service.open_log(tmp_path)
    line = records.add(kept, ProductLine(name="pots"), save_token="line").id
    target = FinishTarget(product_line_id=line, low_share=0.0, high_share=0.2)
    records.add(kept, target, save_token="target")
    data = file_of(np.array(drawn().pixels))
    photo = read_photo(data, "face.png")
    found, _ = reading_of(photo)
    log_service.save_with_new_piece(
        kept,
        piece=Piece(name="7", pour_id=0, product_line_id=line),
        pour=Pour(name="P1", cast_on=date(2026, 3, 2)),
        photo_bytes=data,
        photo=photo,
        reading=found,
        save_token="piece",
        use=PhotoUse(stage="as_struck"),
    )
    return kept


def page():
    return start("pieces", piece="1")


def held_against(app, title):
    (box,) = (one for one in app.selectbox if one.label == "Limits")
    (code,) = (one for one in box.options if title in one)
    return ran(box.select(code).run())


def test_own_target_comes_first_and_its_verdict_is_kept_once(log):
    app = page()
    assert "Own finish target of pots: within the target" in texts(app)
    app = press(app, KEEP)

    assert "within the target, by the target in force" in texts(app)
    assert len(grading.verdicts(log, log_service.casting(log, 1))) == 1


def test_without_an_own_target_a_piece_is_held_against_nothing(log):
    (casting,) = log_service.list_castings(log)
    records.change(log, replace(casting.piece, product_line_id=None))
    app = page()

    said = texts(app)
    assert "No finish target is set, so this piece is held against nothing." in said
    assert "ÖNORM" not in said
    (box,) = (one for one in app.selectbox if one.label == "Limits")
    assert box.value is None
    assert "Void area: " in texts(held_against(app, "pore classes"))


def test_judging_the_past_again_is_a_separate_act(log):
    press(page(), KEEP)
    target = FinishTarget(product_line_id=1, low_share=0.0, high_share=0.001)
    records.add(log, target, save_token="stricter")
    app = page()

    assert "within the target, by an earlier target" in texts(app)
    app = press(app, KEEP)
    said = texts(app)
    assert "by the target in force" in said
    assert "within the target, by an earlier target" in said


def test_limits_from_memory_say_so_on_the_screen():
    said = texts(held_against(page(), "GOST"))

    assert "From memory: check against the document." in said
    assert "Source:" in said
    assert KEEP not in labels(held_against(page(), "GOST"))


def test_figures_by_hand_are_judged(log):
    app = press(page(), "Add what you measured by hand")
    (width,) = (one for one in app.text_input if one.label == "Joint leak, width, mm")
    width.set_value("12")
    press(ran(app.run()), "Save")
    (kept,) = records.list_all(log, HandFigures, piece_id=1)
    app = held_against(page(), "joint")

    assert kept.leak_width_mm == 12.0
    assert "By hand: joint leak, width 12 mm" in texts(app)
    assert "Width of the joint leak: 12 mm" in texts(app)


def test_sheets_and_files_are_on_offer():
    offered = [one.label for one in page().get("download_button")]

    assert offered == [
        "Piece sheet (PDF)",
        "Pour sheet with its faces (PDF)",
        "Photo with voids outlined (PNG)",
        "Figures and voids (JSON)",
        "Voids, one a row (CSV)",
        "Voids, one a row (xlsx)",
        "Voids as annotations (COCO)",
        "Cards (PDF)",
    ]


def test_piece_is_approved_and_shown_beside_another(log):
    app = page()
    assert "No other piece of this product line is approved" in texts(app)
    app = press(app, "Approve this piece as a reference")
    assert "Approved as a reference on" in texts(app)
    app = press(app, "Undo the approval")
    assert "Approve this piece as a reference" in labels(app)
    press(app, "Approve this piece as a reference")

    (first,) = log_service.list_castings(log)
    other = records.add(
        log,
        Piece(
            name="8", pour_id=first.pour.id, product_line_id=first.piece.product_line_id
        ),
        save_token="8",
    ).id
    data = file_of(np.array(drawn().pixels[:, ::-1]))
    photo = read_photo(data, "b.png")
    log_service.save_reading(
        log,
        piece_id=other,
        photo_bytes=data,
        photo=photo,
        reading=reading_of(photo)[0],
        save_token="r",
        use=PhotoUse(stage="as_struck"),
    )
    said = texts(start("pieces", piece=str(other)))
    assert "mm of the face." in said
    assert "Reference, piece " in said
