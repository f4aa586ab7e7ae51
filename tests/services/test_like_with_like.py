"""One stage, the ordinary part of a face, each piece: as the comparing does."""

from __future__ import annotations

import json

import numpy as np
import pytest

from analysis.errors import NotInLogError
from analysis.imaging.face_grid import UNNAMED, face_grid
from analysis.imaging.viewing import seen, to_photo
from analysis.model.afterwards import Outcome
from analysis.model.card import Code
from analysis.model.log import PhotoUse
from analysis.model.photo import Face, JointLine
from analysis.model.workshop import Form
from analysis.services import cards, diagnosis, exports, report_sheets
from analysis.services import log as log_service
from analysis.services.photos import read_photo
from analysis.services.sheets import plane_from_corners, straightened
from analysis.storage.log_mark import log_mark
from analysis.storage.piece_table import piece_columns, piece_table
from analysis.storage.records import add, hide
from tests.support.cast_pieces import filled
from tests.support.drawn_faces import HEIGHT, WIDTH, drawn, reading_of
from tests.support.pictures import file_of


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


def kept(log, piece_id, seed, *, face=None, **use):
    data = file_of(np.array(drawn(seed=seed).pixels))
    photo = read_photo(data, f"face {seed}.png")
    reading, _ = reading_of(photo, face=face)
    return log_service.save_reading(
        log,
        piece_id=piece_id,
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token=f"{piece_id} {seed}",
        use=PhotoUse(**use),
    )


def test_sheets_and_maps_take_what_the_comparing_takes(log, monkeypatch):
    form, pieces = filled(log, 2)
    kept(log, pieces[0], 1, stage="as_struck")
    kept(log, pieces[0], 2, stage="surface_sealed")
    kept(log, pieces[1], 3, stage="as_struck")
    kept(log, pieces[1], 4, stage="as_struck", purpose="show")
    sheet = {}
    monkeypatch.setattr(
        report_sheets.log_sheets, "pour_sheet", lambda **told: sheet.update(told)
    )
    report_sheets.pour_sheet(log, "12")

    wanted = {row.piece: row.void_area_percent for row in piece_table(log)}
    printed = {
        row.piece: float(row.void_area.partition(" ")[0]) for row in sheet["rows"]
    }
    assert printed == pytest.approx(wanted, rel=0.01)
    assert diagnosis.of_form(log, form)[""].placement.faces == 2


def test_photo_of_two_pieces_counts_for_both(log):
    form, pieces = filled(log, 2)
    for piece in pieces:
        kept(log, piece, 1)
    assert diagnosis.of_form(log, form)[""].placement.faces == 2


def test_two_photos_of_a_piece_are_pooled_on_the_sheet(log, monkeypatch):
    _, pieces = filled(log, 1)
    for seed in (1, 2):
        kept(log, pieces[0], seed)
    sheet = {}
    monkeypatch.setattr(
        report_sheets.log_sheets, "pour_sheet", lambda **told: sheet.update(told)
    )
    report_sheets.pour_sheet(log, "12")
    (row,) = piece_table(log)
    assert sheet["rows"][0].void_area.endswith("%, 2 photos")
    share = float(sheet["rows"][0].void_area.partition(" ")[0])
    assert share == pytest.approx(row.void_area_percent, rel=0.01)


def test_map_leaves_out_what_the_photo_does_not_show():
    # A face askew, its outline not drawn: corners of the view lie beside the photo.
    photo = read_photo(file_of(np.array(drawn(seed=4).pixels)), "face.png")
    corners = np.array(
        [[0, 0], [0, WIDTH - 1], [HEIGHT - 1, 0.75 * WIDTH], [HEIGHT - 1, 0.25 * WIDTH]]
    )
    plane = plane_from_corners(corners.astype(float), 60, 45)
    view, scale = straightened(plane, (HEIGHT, WIDTH))
    reading, _ = reading_of(photo, face=Face(view=view), mm_per_px=scale.mm_per_px)
    shown = seen(photo, view).opaque.mean()
    grid = face_grid(reading)
    assert shown < 0.9
    assert grid.on_face.mean() == pytest.approx(shown, abs=0.02)
    # The outermost cells may count more of a side than there is.
    area = grid.on_face.sum() * grid.cell_mm**2
    assert area == pytest.approx(reading.summary.face_area_mm2, rel=0.04)


def test_unnamed_joints_are_a_band_too():
    line = np.array([[0.0, 200.0], [HEIGHT - 1.0, 200.0]])
    face = Face(joints=(JointLine(line_px=line, name=""),))
    reading, _ = reading_of(np.array(drawn(seed=4).pixels), face=face)
    grid = face_grid(reading)
    assert grid.joint_names == (UNNAMED,)
    assert (grid.joint == 1).any()


def test_annotations_of_a_straightened_face_lie_on_its_photo(log):
    _, pieces = filled(log, 1)
    corners = np.array([[20.0, 60], [20, 340], [280, 380], [280, 20]])
    view, _ = straightened(plane_from_corners(corners, 60, 45), (HEIGHT, WIDTH))
    kept(log, pieces[0], 4, face=Face(view=view))
    (line,) = log_service.list_readings(log)
    voids = log_service.load_reading(log, line.id).voids

    coco = json.loads(exports.annotations_json(log))
    (image,) = coco["images"]
    assert (image["width"], image["height"]) == (WIDTH, HEIGHT)
    found = [one for one in coco["annotations"] if one["category_id"] == 1]
    middle = [(x + w / 2, y + h / 2) for x, y, w, h in (one["bbox"] for one in found)]
    true = to_photo(view, np.column_stack([voids.row_px, voids.col_px]))[:, ::-1] + 0.5
    off = np.abs(np.array(middle) - true)
    assert np.median(off) < 0.75
    assert off.max() < 4  # the middle of a lopsided void's frame is not its centroid


def test_card_of_a_form_taken_out_is_told(log):
    form, _ = filled(log, 1)
    hide(log, Form, form)
    code = Code(layout="A", kind="form", number=str(form), log_mark=log_mark(log))
    with pytest.raises(NotInLogError, match="not in the log any more"):
        cards.whose(log, code)


def test_patched_piece_without_a_noted_repair_has_no_repair_time(log):
    _, pieces = filled(log, 2)
    for n, outcome in enumerate(("second", "patched")):
        add(log, Outcome(piece_id=pieces[0], outcome=outcome), save_token=f"o{n}")
    add(log, Outcome(piece_id=pieces[1], outcome="second"), save_token="o")
    minutes = piece_columns(log, outcomes=True)["repair_minutes"]
    assert minutes.cells() == [None, 0.0]
