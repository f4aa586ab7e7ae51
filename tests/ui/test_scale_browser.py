"""Scale by corners and round pieces in a real browser."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.support import live as server
from tests.support.browser import APP, MARGIN_PX, SIDES, Screen
from tests.support.screens import face_png

pytestmark = [pytest.mark.browser, pytest.mark.slow]
DESK = {"width": 1400, "height": 900}


def give(page, data, name="face.png"):
    page.locator(".st-key-choose-photo input[type=file]").set_input_files(
        {"name": name, "mimeType": "image/png", "buffer": data}
    )
    expect(page.get_by_text(f"{name}, ")).to_be_attached()
    server.settled(page)


def way(page, name):
    page.get_by_test_id("stButtonGroup").get_by_text(name, exact=True).first.click()
    server.settled(page)


FACE_PX = (480, 320)
CORNERS_PX = ((40, 40), (440, 40), (440, 280), (40, 280))


def tap(page, at_px):
    """Tap the first picture where a point of the photo is seen."""
    box = server.in_sight(page.get_by_role("application").first)
    inner = [box[side] - 2 * MARGIN_PX for side in SIDES]
    fit = min(inner[0] / FACE_PX[0], inner[1] / FACE_PX[1])
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    x, y = (
        start + (at + 0.5 - length / 2) * fit
        for start, at, length in zip(middle, at_px, FACE_PX, strict=True)
    )
    server.assert_meets_picture(page, x, y)
    page.mouse.click(x, y)
    server.settled(page)


def test_corners_and_round_pieces_are_measured(tmp_path, chromium):
    page = chromium.new_page(viewport=DESK)
    screen = Screen(page)
    with server.served(APP, data=tmp_path / "data") as address:
        page.goto(address + "measure")
        give(page, face_png(size=FACE_PX))
        way(page, "Scale")
        way(page, "Width and height")
        for corner in CORNERS_PX:
            tap(page, corner)
        screen.write("Width of the face", "200")
        screen.write("Height of the face", "120")
        scale = page.get_by_text(re.compile(r"mm per px, give or take")).inner_text()
        assert float(scale.split()[0]) == pytest.approx(0.5, rel=0.05)
        screen.press("Measure")
        expect(page.get_by_role("heading", name="% void area")).to_be_visible()

        way(page, "Scale")
        way(page, "Round piece")
        for edge in ((20, 20), (460, 20), (20, 300), (460, 300)):
            tap(page, edge)
        screen.write("Diameter at the top", "220")
        expect(page.get_by_text("within 45 degrees")).to_be_visible()
        screen.press("Measure")
        expect(page.get_by_role("heading", name="% void area")).to_be_visible()
        page.close()
    assert screen.complaints == []
