"""Reviewed photos as a training set: consent, contents, and read back."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import date

import numpy as np
import pytest
from pycocotools.coco import COCO

from analysis.errors import InputError
from analysis.model.log import Piece, Pour
from analysis.model.review import Review
from analysis.services import log as log_service
from analysis.services import review as review_service
from analysis.services import training_set as service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.training.reviewed import reviewed_photos
from tests.support.screens import face_png

AGREED = {"agreed_by": "bench", "agreed_on": date(2026, 4, 1), "consent": True}


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path / "log")


@pytest.fixture
def reviewed(log):
    data = face_png(3)
    photo = read_photo(data, "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name="secret piece", pour_id=0),
        pour=Pour(name="secret pour", cast_on=date(2026, 3, 31)),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="a",
    )
    (line,) = log_service.list_readings(log)
    case = review_service.open_case(log, line, photo)
    first = review_service.spots(case, Review())[0]
    review = review_service.decide(Review(), first, "stain")
    review = review_service.say_seen(review, seen=True)
    review_service.save_review(
        log,
        reviews_id=line.id,
        reading=review_service.reviewed_reading(case, review),
        marks=review.marks,
        signed_by="secret reviewer",
        save_token="r",
    )
    return photo


@pytest.mark.usefixtures("reviewed")
def test_without_consent_no_file_is_made(log):
    lines = service.reviewed_lines(log)
    with pytest.raises(InputError, match="No file is made without consent"):
        service.training_set(log, lines, **AGREED | {"consent": False})
    with pytest.raises(InputError, match="Whoever agrees needs a name"):
        service.training_set(log, lines, **AGREED | {"agreed_by": " "})


def test_only_reviewed_photos_are_taken(log):
    assert service.reviewed_lines(log) == ()
    with pytest.raises(InputError, match="No photo is reviewed yet"):
        service.training_set(log, (), **AGREED)


@pytest.mark.filterwarnings("ignore:__array__ implementation")
def test_the_file_is_read_back_by_the_layout_s_own_library(log, reviewed, tmp_path):
    """pycocotools, the library of those who made the layout."""
    lines = service.reviewed_lines(log)
    made = service.training_set(log, lines, **AGREED)
    assert (made.photos, made.voids, made.turned_down) == (1, 2, 1)
    with zipfile.ZipFile(io.BytesIO(made.data)) as archive:
        archive.extractall(tmp_path)
    coco = COCO(str(tmp_path / "annotations.json"))
    (image,) = coco.imgs.values()
    shown = read_photo((tmp_path / "images" / image["file_name"]).read_bytes(), "x")
    assert np.array_equal(shown.pixels, reviewed.pixels)
    assert image["whole_face_seen"] is True
    named = {one["name"]: one["id"] for one in coco.cats.values()}
    voids = coco.loadAnns(coco.getAnnIds(catIds=named["void"]))
    assert len(voids) == 2
    (out,) = coco.loadAnns(coco.getAnnIds(catIds=named["turned down"]))
    assert out["attributes"]["reason"] == "stain or damp"
    area = sum(int(coco.annToMask(one).sum()) for one in voids)
    assert area == pytest.approx(2 * np.pi * 25, rel=0.25)


@pytest.mark.usefixtures("reviewed")
def test_no_name_is_in_the_file(log):
    made = service.training_set(log, service.reviewed_lines(log), **AGREED)
    with zipfile.ZipFile(io.BytesIO(made.data)) as archive:
        for name in archive.namelist():
            assert b"secret" not in archive.read(name)
            assert "secret" not in name
        said = archive.read("CONSENT.txt").decode()
    assert "Agreed by bench on 2026-04-01" in said
    assert service.CONSENT in said


def test_the_training_room_reads_it(log, reviewed, tmp_path):
    made = service.training_set(log, service.reviewed_lines(log), **AGREED)
    path = tmp_path / "set.zip"
    path.write_bytes(made.data)
    (one,) = reviewed_photos(path)
    assert np.array_equal(one.pixels, reviewed.pixels)
    assert one.voids.sum() == pytest.approx(2 * np.pi * 25, rel=0.3)
    assert one.turned_down.sum() == pytest.approx(np.pi * 25, rel=0.3)
    assert not (one.voids & one.turned_down).any()
    assert one.face.all()
    assert (one.mm_per_px, one.whole_face_seen) == (0.5, True)


def test_the_training_room_refuses_what_nobody_agreed_to(tmp_path):
    path = tmp_path / "set.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("annotations.json", json.dumps({"images": []}))
    with pytest.raises(InputError, match="holds no consent and outlines"):
        next(reviewed_photos(path))
    path.write_bytes(b"no zip")
    with pytest.raises(InputError, match="is no zip"):
        next(reviewed_photos(path))


@pytest.mark.usefixtures("reviewed")
def test_a_picture_that_cannot_be_read_is_told(log, tmp_path):
    made = service.training_set(log, service.reviewed_lines(log), **AGREED)
    path = tmp_path / "set.zip"
    with (
        zipfile.ZipFile(io.BytesIO(made.data)) as whole,
        zipfile.ZipFile(path, "w") as cut,
    ):
        for name in whole.namelist():
            data = whole.read(name)
            cut.writestr(name, b"no picture" if name.endswith(".png") else data)
    with pytest.raises(InputError, match="of the training set cannot be read"):
        next(reviewed_photos(path))
