"""Back, reload and a phone locked meanwhile leave what was typed and chosen."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from analysis.model.afterwards import Repair
from analysis.services import records
from tests.support import live as server
from tests.support.browser import APP, PATIENCE_MS, ROOT, Screen
from tests.support.small_workshop import workshop

PHOTO = ROOT / "sample_images" / "trough_joints_sealed.jpg"
# Ends of the drawn ruler, 200 mm apart, in px of the 1600 x 1200 photo.
RULER_PX = ((160, 1080), (1160, 1080))
PHONE = {"width": 390, "height": 844}
# A phone that is locked loses its connections; those of the page are remembered here.
REMEMBER_SOCKETS = """
(() => {
  const Plain = window.WebSocket;
  window.sockets = [];
  window.WebSocket = class extends Plain {
    constructor(...given) { super(...given); window.sockets.push(this); }
  };
})()
"""
CUT = """
() => window.sockets.filter((one) => one.readyState === WebSocket.OPEN)
  .map((one) => one.close()).length
"""

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def yard(tmp_path, chromium):
    """Serve a small workshop; give its log, its address and a phone's page."""
    log = workshop(tmp_path / "data")
    context = chromium.new_context(viewport=PHONE)
    context.add_init_script(REMEMBER_SOCKETS)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    said = tmp_path / "server.log"
    with server.served(APP, data=tmp_path / "data", log=said) as address:
        yield log, address, page
        context.close()
    assert "Traceback" not in said.read_text(encoding="utf-8", errors="replace")


def open_page(page, title):
    menu = page.get_by_test_id("stExpandSidebarButton")
    if menu.is_visible():
        menu.click()
        server.settled(page)
    page.get_by_role("link", name=title).first.click()
    expect(page.get_by_role("heading", name=title, level=1)).to_be_visible()
    close = page.get_by_test_id("stSidebarCollapseButton").get_by_role("button")
    if close.is_visible():
        close.click()
    server.settled(page)


def back(page):
    page.go_back()
    server.settled(page)


def again(page):
    page.reload()
    server.settled(page)


def lock(page):
    """Cut the page's connections; it takes them up again by itself."""
    assert page.evaluate(CUT) > 0
    page.wait_for_function("window.sockets.at(-1).readyState === WebSocket.OPEN")
    server.settled(page)


def other_tab(page):
    """Open the address anew, as a browser does that had to let the page go."""
    tab = page.context.new_page()
    tab.set_default_timeout(PATIENCE_MS)
    tab.goto(page.url)
    server.settled(tab)
    return tab


def is_as_typed(page):
    expect(page.get_by_label("Between the two marks", exact=True)).to_have_value("200")
    expect(page.get_by_role("radio", name="Ruler", exact=True)).to_be_checked()
    expect(page.get_by_text(re.compile("mm per px, give or take"))).to_be_visible()
    expect(page.get_by_role("button", name="Measure", exact=True)).to_be_enabled()


def test_a_photo_being_measured_is_as_it_was_left(yard):
    _, address, page = yard
    screen = Screen(page)
    page.goto(address)
    server.settled(page)
    open_page(page, "Measure a face")
    page.locator(".st-key-choose-photo input[type=file]").set_input_files(PHOTO)
    expect(page.get_by_text("1600 x 1200 px")).to_be_visible()
    server.accept_face(page)
    server.pick(page, "Ruler", exact=True)
    page.locator("canvas").first.scroll_into_view_if_needed()
    for end in RULER_PX:
        screen.tap(end)
    screen.write("Between the two marks", "200")
    is_as_typed(page)

    open_page(page, "Pours and pieces")
    back(page)
    is_as_typed(page)
    lock(page)
    is_as_typed(page)
    again(page)
    is_as_typed(page)
    is_as_typed(other_tab(page))

    # The draft's key in the address is no step of its own.
    back(page)
    expect(page.get_by_role("heading", name="Home", level=1)).to_be_visible()
    page.go_forward()
    server.settled(page)
    is_as_typed(page)


def open_piece(page):
    page.get_by_role("button", name="P-003").first.click()
    expect(page.get_by_role("heading", name="Piece P-003")).to_be_visible()
    server.settled(page)


def is_half_written(page):
    expect(page.get_by_role("heading", name="Piece P-003")).to_be_visible()
    expect(page.get_by_label("Repair time, min", exact=True)).to_have_value("25")


def test_a_piece_is_as_it_was_left(yard):
    log, address, page = yard
    page.goto(address + "pieces")
    server.settled(page)
    open_piece(page)
    page.get_by_role("button", name="Add a repair").click()
    server.settled(page)
    minutes = page.get_by_label("Repair time, min", exact=True)
    minutes.fill("25")
    minutes.press("Tab")
    server.settled(page)
    is_half_written(page)

    lock(page)
    is_half_written(page)
    again(page)
    is_half_written(page)
    is_half_written(other_tab(page))
    open_page(page, "Measure a face")
    back(page)
    is_half_written(page)
    # Back leads to the list, from which the piece opens as it was left.
    for _ in range(3):
        if page.get_by_role("heading", name="Pours and pieces", level=1).count():
            break
        back(page)
    expect(
        page.get_by_role("heading", name="Pours and pieces", level=1)
    ).to_be_visible()
    again(page)
    open_piece(page)
    is_half_written(page)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("25 min").first).to_be_visible()
    (repair,) = records.list_all(log, Repair, piece_id=3)
    assert repair.minutes == 25
