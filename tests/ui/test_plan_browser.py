"""Into the example and to a logged pour of a plan, on a phone and on a laptop."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from analysis.model.workshop import Form
from analysis.services import example
from analysis.services import log as log_service
from analysis.services.records import add
from tests.support import live as server
from tests.support.browser import PATIENCE_MS

APP = server.ROOT / "ui" / "app.py"
TANGLED = "So far the log cannot tell release agent from mix."

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def address(tmp_path):
    for name in ("Trough A", "Trough B"):
        form = Form(name=name, form_type="trough")
        add(log_service.open_log(tmp_path), form, save_token=name)
    example.build_example(log_service.open_log(tmp_path / "example"), photos=False)
    with server.served(APP, data=tmp_path) as at:
        yield at


def test_example_and_back_then_a_plan_into_the_log(address, chromium):
    page = chromium.new_page(viewport={"width": 390, "height": 900})
    page.set_default_timeout(PATIENCE_MS)
    complaints = []
    page.on("pageerror", lambda error: complaints.append(str(error)))

    def press(name):
        button = page.get_by_role("button", name=name).first
        expect(button).to_be_visible()
        server.assert_touchable(button)
        server.settled(page)
        button.click()

    def fits():
        server.at_both(page)

    page.goto(f"{address}plan")
    press("Open the example workshop")
    expect(page.get_by_text(TANGLED, exact=True)).to_be_visible()
    fits()
    press("Back to my log")
    expect(page.get_by_text("Pour 1 of 7", exact=True)).to_be_visible()
    fits()

    press("Keep this plan")
    expect(page.get_by_text("0 of 7 pours are cast")).to_be_visible()
    fits()
    server.settled(page)
    with page.expect_download() as taken:
        page.get_by_role("button", name="Bench sheet (PDF)").click()
    assert Path(taken.value.path()).read_bytes().startswith(b"%PDF-")

    press("Log this pour")
    press("Save the pour")
    expect(page.get_by_text("Saved: pour 1")).to_be_visible()
    page.goto(f"{address}plan")
    expect(page.get_by_text("1 of 7 pours are cast")).to_be_visible()
    away = page.get_by_role("button", name="Delete this plan")
    expect(away).to_be_visible()
    server.assert_touchable(away)
    fits()

    assert complaints == []
    page.close()
