"""The second light in a real browser at a phone's width, with two drawn files."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.services.pair_photos import pair_of_photos
from tests.support import live as server
from tests.support.browser import PATIENCE_MS

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_two_photos_are_measured_together_on_a_phone(tmp_path, chromium):
    files = [tmp_path / "left.png", tmp_path / "right.png"]
    for path, data in zip(files, pair_of_photos(), strict=True):
        path.write_bytes(data)
    said = tmp_path / "server.log"
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.set_default_timeout(PATIENCE_MS)
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    with server.served(APP, data=tmp_path / "data", log=said) as address:
        page.goto(address + "measure")
        page.locator(".st-key-choose-photo input[type=file]").set_input_files(files[0])
        expect(page.get_by_text("480 x 360 px")).to_be_visible()
        server.settled(page)
        server.accept_face(page)
        server.pick(page, "None", exact=True)
        page.get_by_role("button", name="Measure", exact=True).click()
        expect(page.get_by_role("heading", name="% void area")).to_be_visible()
        server.settled(page)

        page.get_by_text("Second light", exact=True).click()
        page.locator("input[type=file]").last.set_input_files(files[1])
        ghost = page.get_by_role("img", name="over it the edges of the first in blue")
        expect(ghost).to_be_visible()
        server.settled(page)
        server.assert_fits(page)
        page.get_by_role("button", name="Measure both", exact=True).click()
        expect(page.get_by_text("between the lamps")).to_be_visible()
        server.settled(page)

        server.assert_fits(page)
        page.screenshot(path=str(tmp_path / "walked.png"), full_page=True)
        page.close()
    assert wrong == []
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")
