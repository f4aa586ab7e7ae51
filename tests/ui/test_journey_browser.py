"""From a photo to a saved reading and back, in a real browser on a live server."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.support import live as server
from tests.support.browser import (
    APP,
    ROOT,
    Screen,
)

PHOTO = ROOT / "sample_images" / "trough_joints_sealed.jpg"
# Ends of the drawn ruler, 200 mm apart, in px of the 1600 x 1200 photo.
RULER_PX = ((160, 1080), (1160, 1080))

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_photo_is_measured_saved_and_found_again(tmp_path, chromium):  # noqa: PLR0915  one walk
    said = tmp_path / "server.log"
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    screen = Screen(page)
    with server.served(APP, data=tmp_path / "data", log=said) as address:
        page.goto(address + "measure")
        page.locator(".st-key-choose-photo input[type=file]").set_input_files(PHOTO)
        expect(page.get_by_text("1600 x 1200 px")).to_be_visible()
        server.accept_face(page)
        page.get_by_role("application").first.scroll_into_view_if_needed()
        for end in RULER_PX:
            screen.tap(end)
        screen.write("Between the two marks", "200")
        scale = page.get_by_text(re.compile(r"mm per px, give or take")).inner_text()
        assert float(scale.split()[0]) == pytest.approx(0.2, rel=0.02)
        # The photo is shown at a fifth: a tap is no better than that.
        assert 2 <= float(scale.split("take ")[1].split()[0]) <= 6
        expect(page.get_by_text("The photo shows 320 x 240 mm.").first).to_be_visible()
        screen.press("Measure")
        share = page.get_by_role("heading", name="% void area")
        expect(share).to_be_visible()
        found = share.inner_text()
        expect(page.get_by_text("95 % sure between")).to_be_visible()

        screen.press("Change")
        server.choose(page, "Form", "New form", exact=True)
        screen.write("Form name", "Trough A")
        _again(page, screen)
        expect(page.get_by_label("Form name", exact=True)).to_have_value("Trough A")
        screen.settle()
        screen.write("Pour name or number", "12")
        screen.write("Piece name or number", "007")
        screen.press("Save")
        said_saved = "Saved. New piece 007, Trough A, new pour 12"
        expect(page.get_by_text(said_saved)).to_be_visible()

        page.goto(address + "pieces")
        expect(page.get_by_text("007, Trough A")).to_have_count(1)
        screen.press("007, Trough A")
        _again(page, screen)
        expect(page.get_by_role("heading", name="Piece 007")).to_be_visible()
        expect(page.get_by_role("heading", name=found)).to_be_visible()
        # Tables keep canvases of their own, unseen.
        expect(page.get_by_role("application")).to_have_count(2)
        server.at_both(page)
        page.close()
    assert screen.complaints == []
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")


@pytest.mark.parametrize("width", [390, 1400])
@pytest.mark.parametrize("path", ["", "measure", "pieces", "guide"])
def test_page_fits_the_window(width, path, live, chromium):
    page = chromium.new_page(viewport={"width": width, "height": 900})
    screen = Screen(page)
    page.goto(live(APP) + path)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    screen.settle()

    server.assert_fits(page)
    page.close()
    assert screen.complaints == []


def _again(page, screen):
    """Reload once the server has taken what was done."""
    screen.settle()
    page.reload()
