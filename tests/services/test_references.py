"""Approved pieces, and a piece beside one in true size."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from analysis.errors import InputError
from analysis.model.log import PhotoUse, Piece
from analysis.model.workshop import ProductLine
from analysis.services import log as log_service
from analysis.services import references
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage import records
from tests.support.cast_pieces import filled


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


def png(stripes_px, size=(600, 500)):
    """A face in waves of so many px, so that its scale can be read off."""
    cols, rows = size
    grey = np.random.default_rng(1).normal(160, 2, (rows, cols))
    grey -= 60 * (1 + np.cos(2 * np.pi * np.arange(cols) / stripes_px)) / 2
    file = io.BytesIO()
    Image.fromarray(grey.clip(0, 255).astype(np.uint8)).save(file, "PNG")
    return file.getvalue()


def measured(log, piece_id, mm_per_px, stripes_px, *, scale=True):
    data = png(stripes_px)
    photo = read_photo(data, "a.png")
    reading, _ = measure(photo, scale=scale_typed(mm_per_px) if scale else None)
    log_service.save_reading(
        log,
        piece_id=piece_id,
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token=f"{piece_id} {mm_per_px}",
        use=PhotoUse(stage="as_struck"),
    )
    return log_service.casting(log, piece_id)


def pitch(jpeg, side_mm):
    """Return the length of the waves, mm."""
    grey = np.asarray(Image.open(io.BytesIO(jpeg)).convert("L"), float).mean(axis=0)
    strength = np.abs(np.fft.rfft(grey - grey.mean()))
    lines = np.argmax(strength[4:]) + 4
    return side_mm / lines


def test_both_faces_are_shown_at_one_scale(log):
    _, (one, two) = filled(log, 2)
    # Waves of 5 mm, photographed at 0.1 and at 0.25 mm per px.
    piece = measured(log, one, 0.1, 50)
    other = measured(log, two, 0.25, 20)
    references.approve(log, other, save_token="a")

    (found,) = references.references(log, piece)
    assert found.piece.id == two
    pair = references.beside(log, piece, found)
    assert pair.side_mm == pytest.approx(50, abs=0.5)  # what the nearer photo shows
    for shown in (face.picture for face in pair.faces):
        assert Image.open(io.BytesIO(shown)).size == (400, 400)
        assert pitch(shown, pair.side_mm) == pytest.approx(5, rel=0.06)


def test_printed_faces_are_as_large_as_they_are(log):
    _, (one, two) = filled(log, 2)
    piece, other = measured(log, one, 0.1, 50), measured(log, two, 0.25, 20)
    pdf = references.beside_pdf(log, piece, other, page="A4")
    with pypdfium2.PdfDocument(pdf) as document:
        page = np.asarray(
            document[0].render(scale=10 * 25.4 / 72).to_pil().convert("L")
        )
        text = document[0].get_textpage().get_text_range()
    # Ten px per mm: 50 mm out of the left face, from the margin of 15 mm on.
    rows = np.flatnonzero(np.ptp(page[:, 160:640], axis=1) > 40)
    band = page[rows[len(rows) // 2], 150:650].astype(float)
    strength = np.abs(np.fft.rfft(band - band.mean()))
    assert 50 / (np.argmax(strength[4:]) + 4) == pytest.approx(5, rel=0.06)
    assert "Print at 100 %" in text
    assert "nothing about strength" in text


def test_references_are_of_the_same_product_line(log):
    line = records.add(log, ProductLine(name="panels"), save_token="l").id
    form, (one, two) = filled(log, 2)
    three = records.add(
        log,
        Piece(name="9", pour_id=1, form_id=form, product_line_id=line),
        save_token="9",
    ).id
    for number, piece in enumerate((one, two, three)):
        casting = measured(log, piece, 0.1 + number / 100, 50)
        references.approve(log, casting, save_token=f"{piece}")
    found = references.references(log, log_service.casting(log, one))
    assert [other.piece.id for other in found] == [two]
    assert references.references(log, log_service.casting(log, three)) == ()


def test_approval_is_taken_back_and_given_again(log):
    _, (one, _) = filled(log, 2)
    casting = measured(log, one, 0.1, 50)
    references.approve(log, casting, save_token="a")
    references.approve(log, casting, save_token="in another window")
    found = references.approval(log, one)
    assert found.approved_on is not None
    references.take_back(log, found)
    assert references.approval(log, one) is None
    assert references.times_approved(log, one) == 1
    references.approve(log, casting, save_token="b")
    assert references.times_approved(log, one) == 2


def test_piece_without_a_scaled_face_is_no_reference(log):
    _, (one, two) = filled(log, 2)
    bare = measured(log, one, 0.1, 50, scale=False)
    with pytest.raises(InputError, match="no measured face with a scale"):
        references.approve(log, bare, save_token="a")
    other = measured(log, two, 0.2, 50)
    assert references.beside(log, bare, other) is None
    with pytest.raises(InputError, match="One of the two has no measured face"):
        references.beside_pdf(log, bare, other, page="A4")
