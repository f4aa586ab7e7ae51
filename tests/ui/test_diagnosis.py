"""The map of the voids and what may be behind it, on the piece and form pages."""

from __future__ import annotations

import pytest

from analysis.services import example
from analysis.services import log as log_service
from tests.support.screens import start, texts


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("example")
    example.build_example(log_service.open_log(made))
    return made


@pytest.fixture(autouse=True)
def log(folder, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(folder))
    return log_service.open_log(folder)


def test_piece_with_an_open_joint(log):
    (piece,) = (
        one.piece for one in log_service.list_castings(log) if one.piece.name == "214"
    )
    said = texts(start("pieces", piece=str(piece.id)))

    assert "Where the voids sit" in said
    assert "joint left" in said.lower()
    assert "Source: ACI 347, form tightness" in said
    assert "A photo says nothing about strength." in said
    assert "Leave them" in said or "will show from" in said
    assert "Silica dust" in said


def test_form_with_an_open_joint(log):
    (form,) = (one for one in log_service.forms(log) if one.name == "Trough B")
    said = texts(start("forms", form=str(form.id)))

    assert "on all faces of this form" in said
    assert "3 faces" in said or "4 faces" in said
    assert "joint left" in said.lower()
    assert "top third as cast" in said


def test_piece_without_a_photo_shows_no_map(log):
    (piece,) = (
        one.piece for one in log_service.list_castings(log) if one.piece.name == "215"
    )

    assert "Where the voids sit" not in texts(start("pieces", piece=str(piece.id)))
