"""From the answer to the pieces behind it, in a real browser on a live server."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.support import live as server
from tests.support.browser import PATIENCE_MS
from tests.support.shop_log import shop_log
from tests.support.track_tables import shares_of

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_signal_leads_to_its_piece_and_a_change_to_a_break(tmp_path, chromium):
    data, said = tmp_path / "data", tmp_path / "server.log"
    shop_log(data, shares_of(24, late_factor=2.5), gap_at=12, late_agent="wax")
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.set_default_timeout(PATIENCE_MS)
    with server.served(APP, data=data, log=said) as address:
        page.goto(address + "batches")
        answer = page.get_by_role("heading", name="Drifting to more voids")
        expect(answer).to_be_visible()
        expect(page.get_by_test_id("stVegaLiteChart")).to_be_visible()
        expect(page.get_by_text("release agent: wax (4 of 4)")).to_be_visible()
        server.at_both(page, lambda: assert_large_enough(page))

        page.get_by_text("Baseline: what counts as usual").click()
        server.settled(page)
        server.choose(page, "From pour", "B021")
        expect(page.get_by_role("button", name="Start a new baseline")).to_be_enabled()
        page.get_by_label("What was changed").fill("wax")
        page.get_by_label("What was changed").press("Tab")
        server.settled(page)
        page.get_by_role("button", name="Start a new baseline").click()
        expect(page.get_by_role("heading", name="4 pours since")).to_be_visible()
        page.get_by_role("button", name="Undo").click()
        expect(answer).to_be_visible()
        server.at_both(page, lambda: assert_large_enough(page))

        page.get_by_role("link", name="Open").first.click()
        expect(page.get_by_role("heading", name="Piece 0047")).to_be_visible()

        page.goto(address + "forms")
        expect(page.get_by_text("Trough B")).to_be_visible()
        page.get_by_role("button", name="Open").first.click()
        expect(page.get_by_role("heading", name="Last castings")).to_be_visible()
        server.at_both(page, lambda: assert_large_enough(page))
        page.close()
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")


def assert_large_enough(page):
    """What is pressed is large enough for a glove."""
    small = page.evaluate(
        """[...document.querySelectorAll('[data-testid=stMain] *')]
          .filter(one => one.matches('.stButton button, .stPageLink a'))
          .filter(one => one.getBoundingClientRect().height > 0)
          .filter(one => one.getBoundingClientRect().height < 44)
          .map(one => one.textContent)"""
    )
    assert small == []
