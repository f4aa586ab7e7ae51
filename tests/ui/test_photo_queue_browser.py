"""The photo queue in a real browser: closed at once, opened again, nothing lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from analysis.services import log as log_service
from tests.support import live as server
from tests.support.browser import APP, Screen
from tests.support.cast_pieces import filled
from tests.support.queue_photos import photo, piece_card

pytestmark = [pytest.mark.browser, pytest.mark.slow]
PHONE = {"width": 390, "height": 900}


def test_batch_outlives_the_browser(tmp_path, chromium):
    data = tmp_path / "data"
    log = log_service.open_log(data)
    _, pieces = filled(log, 3)
    files = [
        {
            "name": f"{n}.jpg",
            "mimeType": "image/jpeg",
            "buffer": photo(n, piece_card(log, piece), 9 * n),
        }
        for n, piece in enumerate(pieces)
    ]
    said = tmp_path / "server.log"
    with server.served(APP, data=data, log=said) as address:
        first = chromium.new_context(viewport=PHONE)
        page = first.new_page()
        page.goto(address + "evening")
        page.locator("input[type=file]").first.set_input_files(files)
        expect(page.get_by_text("All photos (3)")).to_be_visible()
        first.close()

        again = chromium.new_context(viewport=PHONE)
        page = again.new_page()
        screen = Screen(page)
        page.goto(address + "evening")
        right = page.get_by_role("button", name="All 3 with a card are right")
        expect(right).to_be_visible()
        screen.settle()
        server.at_both(page)
        right.click()
        expect(right).to_have_count(0)
        again.close()

        last = chromium.new_context(viewport=PHONE)
        page = last.new_page()
        screen = Screen(page)
        page.goto(address + "evening")
        expect(page.get_by_role("link", name="Open the piece")).to_have_count(3)
        screen.settle()
        server.at_both(page)
        screen.press("Clear the list")
        expect(page.get_by_text("No photo waits.")).to_be_visible()
        last.close()
    found = {line.piece_id for line in log_service.list_readings(log)}
    assert found == set(pieces)
    assert screen.complaints == []
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")
