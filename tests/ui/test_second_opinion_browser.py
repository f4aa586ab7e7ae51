"""A hundred points counted by thumb, the page loaded anew in the middle."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from playwright.sync_api import expect

from analysis.model.log import Piece
from analysis.services import gauge
from analysis.services import log as log_service
from analysis.services import point_count as service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support import live as server
from tests.support.browser import PATIENCE_MS, look
from tests.support.screens import face_png, keep_face

APP = Path(__file__).resolve().parents[2] / "ui" / "app.py"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def data_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("counted")
    log = log_service.open_log(folder)
    keep_face(log, voids=9, size=(1200, 900), mm_per_px=0.4)
    other = face_png(5, size=(1200, 900))
    photo = read_photo(other, "other.png")
    reading, _ = measure(photo, scale=scale_typed(0.4))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name="8", pour_id=1),
        photo_bytes=other,
        photo=photo,
        reading=reading,
        save_token="b",
    )
    return folder


@pytest.fixture
def page(data_folder, chromium):
    with server.served(APP, data=data_folder) as url:
        context = chromium.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
        )
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{url}second_opinion?piece=1")
        yield page
        context.close()


def answers_of(log):
    (count,) = service.counts_of(log, 1)
    return count.answers


def tap_sound(page, points):
    """Tap 'Sound' for each of these points."""
    for point in points:
        expect(page.locator(".told")).to_contain_text(f"Point {point} of 100")
        page.get_by_role("button", name="Sound").tap()
    return len(points)


def begin(page):
    """Name oneself and draw the lot; return the taps."""
    who = page.get_by_label("Who counts (a name or a word)")
    who.fill("bench")
    who.press("Tab")
    server.settled(page)
    look(page, "count-begin")
    server.assert_fits(page)
    page.get_by_role("button", name="Draw the points").tap()
    expect(page.locator(".told")).to_contain_text("Point 1 of 100, field 1 of 4")
    server.settled(page)
    look(page, "count-first")
    for name in ("Void", "Edge", "Sound", "Back one", "Closer"):
        server.assert_touchable(page.get_by_role("button", name=name))
    return 1


def test_a_hundred_points_on_a_phone(page, data_folder):
    log = log_service.open_log(data_folder)
    began = time.monotonic()
    taps = begin(page)
    for name in ("Void", "Back one", "Edge"):
        page.get_by_role("button", name=name).tap()
    taps += 3 + tap_sound(page, range(2, 31))
    server.settled(page)
    assert answers_of(log).startswith("e" + "s" * 29)

    page.reload()  # the phone was locked meanwhile
    expect(page.locator(".told")).to_contain_text("Point 31 of 100, field 2 of 4")
    look(page, "count-again")
    taps += 1 + tap_sound(page, range(31, 101))
    page.get_by_role("button", name="Finish the count").tap()
    share = page.get_by_role("heading", name="0.50 % of the points lie in voids")
    expect(share).to_be_visible()
    assert taps == 104
    note_seconds(taps, time.monotonic() - began)
    server.settled(page)
    look(page, "count-told")
    server.at_both(page)
    look(page, "count-told-desk")


def begin_study(page):
    """Two photos, two people, in an order drawn by lot."""
    server.pick(page, "Measure again")
    for piece in ("7, pour", "8, pour"):
        box = page.get_by_role("combobox", name="Photos to measure again")
        box.click()
        page.get_by_role("option", name=piece).click()
        page.keyboard.press("Escape")
        server.settled(page)
    people = page.get_by_label("Who takes part")
    people.fill("north\nsouth")
    people.press("Tab")
    server.settled(page)
    look(page, "again-begin")
    page.get_by_role("button", name="Draw the order").tap()
    expect(page.get_by_text("2 faces, 2 people, 8 measurings, 0 done")).to_be_visible()
    server.settled(page)


def measure_one(page, who, *, reject):
    """One person measures the next photo: scale, outline, every void."""
    server.pick(page, who, exact=True)
    server.pick(page, "Type it")
    server.pick(page, "Whole photo")
    scale = page.get_by_label("mm per px")
    scale.fill("0.4")
    scale.press("Tab")
    server.settled(page)
    page.get_by_role("button", name="Measure", exact=True).tap()
    expect(page.get_by_text("The share is not shown")).to_be_visible()
    server.settled(page)
    assert page.get_by_text("% void area").count() == 0
    if reject:
        box = server.in_sight(page.locator("canvas"))
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.get_by_role("button", name="Stain").tap()
        server.settled(page)
    look(page, f"again-{who}")
    page.get_by_role("button", name="Keep and go on").tap()
    server.settled(page)


def test_two_people_measure_again_on_a_phone(page, data_folder):
    begin_study(page)
    measure_one(page, "north", reject=False)
    expect(page.get_by_text("1 of 4 measured.")).to_be_visible()
    measure_one(page, "south", reject=True)
    expect(page.get_by_text("1 of 4 measured.")).to_be_visible()
    server.assert_fits(page)
    (study,) = gauge.studies(log_service.open_log(data_folder), "again")
    assert {one.cell.who for one in study.measured} == {"north", "south"}
    south = next(one for one in study.measured if one.cell.who == "south")
    assert [mark["action"] for mark in south.detail["marks"]] == ["reject"]


def note_seconds(taps, seconds):
    """Keep how long it took where pictures are asked for; no test depends on it."""
    folder = os.environ.get("STRUCKFACE_SCREENSHOTS")
    if folder:
        text = f"{taps} taps, {seconds:.0f} s\n"
        Path(folder, "count-seconds.txt").write_text(text, encoding="utf-8")
