"""A pour of six pieces like the last one, in a real browser: taps are counted."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from analysis.services import records
from tests.support import live as server
from tests.support.browser import PATIENCE_MS
from tests.support.small_workshop import workshop

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"
MOST_TAPS = 8
# The menu closes by itself after a choice on what says it is a phone.
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "user_agent": "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 "
    "(KHTML, like Gecko) Chrome/130.0.0.0 Mobile Safari/537.36",
}
DESK = {"viewport": {"width": 1400, "height": 844}}

pytestmark = [pytest.mark.browser, pytest.mark.slow]


class Thumb:
    """One finger on a page; its taps are counted."""

    def __init__(self, page):
        self.page, self.taps = page, 0
        page.set_default_timeout(PATIENCE_MS)

    def tap(self, place):
        place.click()
        self.taps += 1
        server.settled(self.page)

    def tap_button(self, name):
        self.tap(self.page.get_by_role("button", name=name))

    def open_page(self, title):
        """Choose a page: behind the menu where the window is narrow."""
        menu = self.page.get_by_test_id("stExpandSidebarButton")
        if menu.is_visible():
            self.tap(menu)
        self.tap(self.page.get_by_role("link", name=title))


# Taps that are beyond the edge, to be found by scrolling.
_SIDEWAYS = """
() => [...document.querySelectorAll('[data-testid=stMain] [role=radiogroup]')]
  .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
  .map((one) => one.textContent.slice(0, 60))
"""


@pytest.mark.parametrize(
    ("device", "taps"), [(PHONE, 4), (DESK, 3)], ids=["390", "1400"]
)
def test_pour_of_six_like_the_last_takes_few_taps(device, taps, tmp_path, chromium):
    data, said = tmp_path / "data", tmp_path / "server.log"
    log = workshop(data)
    page = chromium.new_page(**device)
    thumb = Thumb(page)
    with server.served(APP, data=data, log=said) as address:
        page.goto(address + "measure")
        expect(page.get_by_role("heading", name="Measure a face")).to_be_visible()
        server.settled(page)
        thumb.open_page("Log a pour")
        thumb.tap_button("Like pour 11 of 31 March 2026")
        expect(page.get_by_text("P-012, Trough B")).to_be_visible()
        server.assert_fits(page)
        thumb.tap_button("Save the pour")
        expect(page.get_by_text("Saved: pour 12")).to_be_visible()
        server.assert_fits(page)
        page.close()
    assert len(records.list_castings(log)) == 12
    assert thumb.taps == taps
    assert thumb.taps <= MOST_TAPS
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")


def test_half_filled_pour_outlives_reload_session_and_server(tmp_path, chromium):
    data = tmp_path / "data"
    log = workshop(data)
    page = chromium.new_page(**PHONE)
    thumb = Thumb(page)
    with server.served(APP, data=data) as address:
        page.goto(address + "log_pour")
        thumb.tap_button("Like pour 11")
        seconds = page.get_by_label("Seconds")
        server.unfold(page, "Change all pieces at once", seconds)
        assert page.evaluate(_SIDEWAYS) == []
        seconds.fill("55")
        seconds.press("Tab")
        expect(page.get_by_text("table 55 s")).to_have_count(6)
        server.settled(page)
        page.reload()
        expect(page.get_by_text("table 55 s")).to_have_count(6)
        where = page.url.partition("?")[2]
        page.close()
    page = chromium.new_page(**PHONE)
    thumb = Thumb(page)
    with server.served(APP, data=data) as address:
        page.goto(f"{address}log_pour?{where}")
        expect(page.get_by_text("table 55 s")).to_have_count(6)
        server.settled(page)
        # An impatient second press finds the pour saved already.
        page.get_by_role("button", name="Save the pour").dblclick()
        expect(page.get_by_text("Saved: pour 12")).to_be_visible()
        page.close()
    assert len(records.list_castings(log)) == 12
