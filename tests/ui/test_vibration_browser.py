"""From the answer about vibration to its plan, on a phone and on a laptop."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from analysis.services import example
from analysis.services import log as log_service
from tests.support import live as server
from tests.support.browser import PATIENCE_MS

APP = server.ROOT / "ui" / "app.py"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    data = tmp_path_factory.mktemp("invented")
    example.build_example(log_service.open_log(data), photos=False)
    with server.served(APP, data=data) as at:
        yield at


def test_less_time_is_planned(address, chromium):
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.set_default_timeout(PATIENCE_MS)
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))

    page.goto(f"{address}vibration")
    server.settled(page)
    server.choose(page, "Form type", "bench leg")
    expect(page.get_by_text("Vibrate for less time: 60 s should give ")).to_be_visible()
    server.at_both(page)
    page.get_by_role("button", name="Plan it for your forms").click()
    expect(page.get_by_text("90 s of vibration and 1 with 60 s")).to_be_visible()

    assert complaints == []
    page.close()
