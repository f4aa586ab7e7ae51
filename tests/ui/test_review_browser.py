"""Ten voids of 3 mm on a 12-megapixel photo, reviewed by thumb and by keys."""

from __future__ import annotations

import contextlib
import io
import re
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support import live as server
from tests.support.browser import PATIENCE_MS, look

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"
WIDTH_PX, HEIGHT_PX = 4000, 3000
MM_PER_PX = 0.25
RADIUS_PX = 6  # 3 mm across
# Well apart, as rows of (x, y); the last one is too faint to be found by itself.
VOIDS = [(700 + 650 * (k % 5), 600 + 1500 * (k // 5)) for k in range(10)]
FAINT = (2000, 1350)

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def face() -> bytes:
    grey = np.full((HEIGHT_PX, WIDTH_PX), 150.0, np.float32)
    grey += np.random.default_rng(1).normal(0, 1.5, grey.shape)
    y, x = np.mgrid[-12:13, -12:13]
    hole = np.hypot(x, y) <= RADIUS_PX
    for (col, row), dark in [*((at, 50) for at in VOIDS), (FAINT, 142)]:
        grey[row - 12 : row + 13, col - 12 : col + 13][hole] = dark
    file = io.BytesIO()
    Image.fromarray(grey.clip(0, 255).astype(np.uint8)).convert("RGB").save(
        file, "JPEG", quality=95
    )
    return file.getvalue()


@pytest.fixture(scope="module")
def data_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reviewed")
    log = log_service.open_log(folder)
    data = face()
    photo = read_photo(data, "face.jpg")
    reading, _ = measure(photo, scale=scale_typed(MM_PER_PX))
    assert len(reading.voids) == len(VOIDS)
    for name in ("phone", "desk", "outlines"):
        log_service.save_with_new_piece(
            log,
            piece=Piece(name=name, pour_id=0),
            pour=Pour(name=name, cast_on=date(2026, 3, 31)),
            photo_bytes=data,
            photo=photo,
            reading=reading,
            save_token=name,
        )
    return folder


@pytest.fixture(scope="module")
def address(data_folder):
    with server.served(APP, data=data_folder) as url:
        yield url


@pytest.fixture
def open_review(address, chromium):
    contexts = []

    def open_it(piece, *, width, height, finger):
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            has_touch=finger,
            is_mobile=finger,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{address}pieces?piece={piece}")
        page.get_by_role("button", name="Review void by void").click()
        expect(page.get_by_text("Tap an outline to change it.")).to_be_visible()
        server.settled(page)
        return page

    yield open_it
    for context in contexts:
        context.close()


def steady(page):
    """Wait until the photo stands still on the screen; return its box."""
    return server.in_sight(page.locator("canvas"))


def at(page, x_px, y_px, zoom=1.0, about=None):
    """Where on the page a point of the photo is seen at a zoom about a point."""
    box = steady(page)
    fit = min((box["width"] - 24) / WIDTH_PX, (box["height"] - 24) / HEIGHT_PX)
    middle = about or ((WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2)
    x = box["x"] + box["width"] / 2 + (x_px - middle[0]) * fit * zoom
    y = box["y"] + box["height"] / 2 + (y_px - middle[1]) * fit * zoom
    server.assert_meets_picture(page, x, y)
    return x, y


def test_ten_voids_are_reviewed_on_a_phone(open_review, data_folder):
    page = open_review(1, width=390, height=844, finger=True)
    assert "10 voids." in page.locator("body").inner_text()
    look(page, "phone-begin")
    reasons = ["Stain", "Grain", "Crack", "Joint", "Tie hole", "Shadow", "Other"]
    for k, void in enumerate(VOIDS):
        page.touchscreen.tap(*at(page, *void))
        chosen = page.get_by_text(re.compile(r"^3\.[01] mm across, counted\."))
        expect(chosen).to_be_visible()
        if k < len(reasons):
            button = page.get_by_role("button", name=re.compile(f"^{reasons[k]}"))
            server.assert_touchable(button)
            button.tap()
            expect(page.get_by_text(f"{9 - k} voids.")).to_be_visible()
        server.settled(page)
    look(page, "phone-decided")
    page.get_by_role("button", name=re.compile("^Undo")).tap()
    expect(page.get_by_text("4 voids.")).to_be_visible()
    page.get_by_role("button", name=re.compile("^Redo")).tap()
    expect(page.get_by_text("3 voids.")).to_be_visible()

    # Close up, a tap adds the void the search passed over.
    server.pick(page, "Add missed")
    for _ in range(5):
        page.get_by_role("button", name="Zoom in").tap()
    page.touchscreen.tap(*at(page, *FAINT, zoom=1.5**5))
    expect(page.get_by_text("4 voids.")).to_be_visible()
    server.settled(page)
    look(page, "phone-added")
    server.assert_fits(page)
    page.get_by_label("Your name or initials").fill("R.")
    page.get_by_label("Your name or initials").press("Tab")
    server.settled(page)
    page.get_by_role("button", name="Save review (8 changes)").tap()
    expect(page.get_by_text("Review saved.")).to_be_visible()
    server.settled(page)
    look(page, "phone-saved")
    new, old = log_service.list_readings(log_service.open_log(data_folder), piece_id=1)
    assert (new.void_count, old.void_count) == (4, 10)
    assert (new.reviews_id, new.reviewed_by) == (old.id, "R.")


def test_keys_are_enough_at_a_desk(open_review):
    page = open_review(2, width=1400, height=900, finger=False)
    page.locator("canvas").focus()
    for left in (9, 8):
        page.keyboard.press("n")
        expect(page.get_by_text("mm across, counted.")).to_be_visible()
        server.settled(page)
        page.keyboard.press("1")
        expect(page.get_by_text(f"{left} voids.")).to_be_visible()
        server.settled(page)
    look(page, "desk-decided")
    page.keyboard.press("v")
    expect(page.get_by_text("9 voids.")).to_be_visible()
    page.keyboard.press("Control+z")
    expect(page.get_by_text("8 voids.")).to_be_visible()


def choose_void(page, at_px):
    """Choose a void; the photo may be drawn anew meanwhile, and swallow the tap."""
    asked = page.get_by_text("If its outline is wrong:")
    for _ in range(server.TRIES):
        page.mouse.click(*at(page, *at_px))
        server.settled(page)
        with contextlib.suppress(AssertionError):
            expect(asked).to_be_visible(timeout=PATIENCE_MS / server.TRIES)
            server.settled(page)
            return
    msg = f"No void was chosen at {at_px}."
    raise AssertionError(msg)


def middle(page):
    box = steady(page)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def use(page, name):
    """Take a change; the figures follow."""
    server.settled(page)
    page.get_by_role("button", name="Use it").click()
    expect(page.get_by_role("button", name=name)).to_be_enabled()
    server.settled(page)


def test_outlines_are_pulled_cut_and_brushed(open_review):
    page = open_review(3, width=390, height=844, finger=False)
    choose_void(page, VOIDS[0])
    page.get_by_role("button", name="Brush").click()
    server.settled(page)
    x, y = middle(page)
    look(page, "edit-brush")
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + 12 * step, y)
    page.mouse.up()
    look(page, "edit-brushed")
    use(page, "Save review (1 change)")

    choose_void(page, VOIDS[1])
    page.get_by_role("button", name="Cut in two").click()
    server.settled(page)
    x, y = middle(page)
    for side in (-90, 90):
        page.mouse.click(x + side, y)
    look(page, "edit-cut")
    use(page, "Save review (2 changes)")
    expect(page.get_by_text("11 voids.")).to_be_visible()

    choose_void(page, VOIDS[2])
    page.get_by_role("button", name="Pull its points").click()
    server.settled(page)
    look(page, "edit-pull")
    server.assert_fits(page)
    use(page, "Save review (3 changes)")
    page.get_by_text("I looked at the whole face").click()
    expect(page.get_by_role("button", name="Save review (4 changes)")).to_be_enabled()
    server.settled(page)
    look(page, "edit-seen")
