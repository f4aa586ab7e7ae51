"""How to photograph a face, in drawings."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from tests.support.screens import start, texts
from ui.capture import words as capture_words

PICTURES = Path(__file__).resolve().parents[2] / "ui" / "pictures"


pytestmark = pytest.mark.usefixtures("data")


def test_every_step_is_shown():
    said = texts(start("capture"))
    for _, title, text in capture_words.STEPS:
        assert title in said
        assert text in said


def test_faces_that_are_not_flat_are_told_too():
    said = texts(start("capture"))
    for kind, text in capture_words.FACES:
        assert kind in said
        assert text in said
    assert "not wire-brushed" in said


@pytest.mark.parametrize("file", [step[0] for step in capture_words.STEPS])
def test_drawing_says_what_it_shows(file):
    # Our own file, as it lies in the repository.
    drawing = ET.parse(PICTURES / f"{file}.svg").getroot()
    title = drawing.find("{http://www.w3.org/2000/svg}title")
    assert len(title.text) > 20


def test_how_to_photograph_is_reached_where_a_photo_is_asked_for():
    pages = [link.page for link in start().get("page_link")]
    assert "capture" in pages
