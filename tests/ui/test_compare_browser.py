"""Comparing in a real browser, on a phone and on a laptop."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from analysis.services import log as log_service
from tests.support import live as server
from tests.support.browser import PATIENCE_MS
from tests.support.compare_log import fill

APP = server.ROOT / "ui" / "app.py"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    data = tmp_path_factory.mktemp("shop")
    fill(log_service.open_log(data), zeros=True, kinds=3, pours=18)
    with server.served(APP, data=data) as at:
        yield at


def settle(page):
    server.settled(page)


def test_answer_chart_and_downloads(address, chromium):
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.set_default_timeout(PATIENCE_MS)
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{address}compare")

    expect(page.get_by_text("Sealed joints had").first).to_be_visible()
    expect(page.get_by_text("what else differed may be the cause")).to_be_visible()
    chart = page.get_by_test_id("stVegaLiteChart")
    expect(chart).to_be_visible()
    server.at_both(page)

    # A run that still goes on would close the list again.
    settle(page)
    page.get_by_role("combobox").first.click()
    # A long list draws only what is seen of it.
    page.keyboard.type("Kind of joint")
    page.get_by_role("option", name="Kind of joint sealing").click()
    expect(page.get_by_text("Joints sealed with silicone had").first).to_be_visible()

    settle(page)
    page.locator("summary", has_text="Paper and files").click()
    starts = {
        "Table (CSV)": b"piece,pour,",
        "Chart (SVG)": b"<svg",
        "Chart (PNG)": b"\x89PNG",
    }
    for name, start in starts.items():
        button = page.get_by_role("button", name=name)
        expect(button).to_be_visible()
        server.assert_touchable(button)
        settle(page)
        with page.expect_download() as taken:
            button.click()
        assert Path(taken.value.path()).read_bytes().startswith(start)

    server.at_both(page)
    assert complaints == []
    page.close()
