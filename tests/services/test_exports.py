"""Readings leave as files that others read back to the same figures."""

from __future__ import annotations

import contextlib
import csv
import io
import json
from datetime import date

import numpy as np
import openpyxl
import pytest
from PIL import Image
from pycocotools.coco import COCO

from analysis.errors import NotInLogError
from analysis.model.log import Piece, Pour
from analysis.model.photo import Face
from analysis.monitoring.charts import track
from analysis.monitoring.made_pieces import pieces
from analysis.report.coco import polygon_area
from analysis.services import exports
from analysis.services.log import list_readings, open_log, save_with_new_piece
from analysis.services.photos import read_photo
from analysis.storage.readings import load_reading
from tests.support.drawn_faces import HEIGHT, WIDTH, drawn, reading_of
from tests.support.pictures import file_of

# The reader itself is behind the present numpy.
pytestmark = pytest.mark.filterwarnings("ignore:__array__ implementation")
EDGE = 20.0
OUTLINE = np.array(
    [
        [EDGE, EDGE],
        [EDGE, WIDTH - EDGE],
        [HEIGHT - EDGE, WIDTH - EDGE],
        [HEIGHT - EDGE, EDGE],
    ]
)


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    kept = open_log(tmp_path_factory.mktemp("log"))
    for seed, face in ((4, None), (5, Face(outline_px=OUTLINE))):
        data = file_of(np.array(drawn(seed=seed).pixels))
        photo = read_photo(data, f"face {seed}.png")
        found, _ = reading_of(photo, face=face)
        save_with_new_piece(
            kept,
            piece=Piece(name=str(seed), pour_id=0),
            pour=Pour(name=f"P{seed}", cast_on=date(2026, 3, 2)),
            photo_bytes=data,
            photo=photo,
            reading=found,
            save_token=str(seed),
        )
    return kept


@pytest.fixture(scope="module")
def coco(log, tmp_path_factory):
    path = tmp_path_factory.mktemp("coco") / "voids.json"
    path.write_bytes(exports.annotations_json(log))
    with contextlib.redirect_stdout(io.StringIO()):
        return COCO(str(path))


def of_image(coco, name, category):
    (image,) = (one for one in coco.dataset["images"] if one["file_name"] == name)
    (number,) = coco.getCatIds(catNms=[category])
    ids = coco.getAnnIds(imgIds=[image["id"]], catIds=[number])
    return image, coco.loadAnns(ids)


def test_pycocotools_reads_the_same_voids_back(log, coco):
    for line in list_readings(log):
        reading = load_reading(log, line.id)
        image, found = of_image(coco, line.photo_name, "void")

        assert (image["width"], image["height"]) == (WIDTH, HEIGHT)
        assert len(found) == reading.summary.void_count > 5
        total = sum(one["area"] for one in found)
        assert total == pytest.approx(reading.summary.void_area_px)
        masks = [coco.annToMask(one) for one in found]
        assert sum(int(mask.sum()) for mask in masks) == pytest.approx(total, rel=0.03)
        for one in found:
            polygon = np.reshape(one["segmentation"][0], (-1, 2))
            assert polygon_area(polygon) == pytest.approx(one["area"], rel=0.02)
        for one, mask in zip(found, masks, strict=True):
            row, col = (axis.mean() for axis in np.nonzero(mask))
            at = np.hypot(reading.voids.row_px - row, reading.voids.col_px - col)
            assert at.min() < 1.5
            assert one["attributes"]["area_mm2"] == pytest.approx(
                one["area"] * reading.scale.mm_per_px**2
            )


def test_face_outline_is_read_back(coco):
    _, (face,) = of_image(coco, "face 5.png", "face")

    assert face["area"] == (HEIGHT - 2 * EDGE) * (WIDTH - 2 * EDGE)
    assert coco.annToMask(face).sum() == pytest.approx(face["area"], rel=0.01)
    assert of_image(coco, "face 4.png", "face")[1] == []


def test_reading_has_the_keys_of_the_command_line(log):
    line = exports.line_of_piece(log, 1)
    found = json.loads(exports.reading_json(log, line))

    assert found["void_area_percent"] == pytest.approx(100 * line.void_share)
    assert len(found["voids"]) == found["void_count"]


def test_annotated_photo_has_full_size(log):
    data = exports.annotated_png(log, exports.line_of_piece(log, 1))
    with Image.open(io.BytesIO(data)) as picture:
        seen = np.asarray(picture)

    assert seen.shape == (HEIGHT, WIDTH, 3)
    assert (seen != drawn(seed=4).pixels).any()


def test_piece_without_a_reading_is_refused(log):
    with pytest.raises(NotInLogError, match="no reading: measure a face"):
        exports.line_of_piece(log, 99)


def test_voids_leave_one_a_row_and_read_back(log):
    line = exports.line_of_piece(log, 1)
    table = exports.void_table(log, line)
    cells = list(openpyxl.load_workbook(io.BytesIO(exports.table_xlsx(table))).active)
    rows = list(csv.DictReader(io.StringIO(exports.table_csv(table).decode())))

    assert [cell.value for cell in cells[0]] == list(table[0])
    assert len(rows) == len(cells) - 1 == line.void_count
    total = sum(float(row["area_mm2"]) for row in rows)
    summary = load_reading(log, line.id).summary
    assert total / summary.face_area_mm2 == pytest.approx(line.void_share)


def test_no_cell_of_a_table_is_a_formula():
    found = track(pieces([0.01, 0.02], pours=["=1+1", "@x"]))
    table = exports.track_table(found)
    sheet = openpyxl.load_workbook(io.BytesIO(exports.table_xlsx(table))).active

    assert "\n'=1+1," in exports.table_csv(table).decode().replace("\r", "")
    assert (sheet["A2"].value, sheet["A2"].data_type) == ("=1+1", "s")
    assert table[1][0][3] == pytest.approx(1.0)
