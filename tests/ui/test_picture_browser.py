"""Marking in Chromium: fingers, mouse and keys hit the photo where it shows."""

from __future__ import annotations

import io
import json
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import CDPSession, Page, expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]

APP = Path(__file__).parent / "apps" / "marking.py"
WIDTH_PX, HEIGHT_PX = 3000, 2000
DISC_PX = (2121.5, 521.5)
PHONE, LAPTOP = (390, 844), (1400, 800)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A page with a picture, and the hand that works on it."""

    page: Page
    protocol: CDPSession
    finger: bool
    ratio: float

    @property
    def box(self):
        # Painted at whole device px, as the browser does.
        box = self.page.locator("canvas").bounding_box()
        painted = {side: math.floor(box[side] * self.ratio + 0.5) for side in "xy"}
        return box | {side: px / self.ratio for side, px in painted.items()}

    @property
    def fit(self):
        """Display px per photo px with the whole photo shown."""
        across, down = self.box["width"] - 24, self.box["height"] - 24
        return min(across / WIDTH_PX, down / HEIGHT_PX)

    def at(self, x_share, y_share):
        """Place on the page of a place on the canvas, at shares of its size."""
        box = self.box
        return box["x"] + x_share * box["width"], box["y"] + y_share * box["height"]

    def of_photo(self, x_px, y_px):
        """Place on the page of a photo point with the whole photo shown."""
        x, y = self.at(0.5, 0.5)
        return (
            x + (x_px + 0.5 - WIDTH_PX / 2) * self.fit,
            y + (y_px + 0.5 - HEIGHT_PX / 2) * self.fit,
        )

    def dark(self):
        """Places on the page of the dark pixels that the canvas shows."""
        box = {side: math.floor(length) for side, length in self.box.items()}
        shot = Image.open(io.BytesIO(self.page.screenshot(clip=box)))
        rows, cols = np.nonzero(np.asarray(shot.convert("RGB")).max(axis=2) < 80)
        places = np.column_stack((cols + 0.5, rows + 0.5)) / self.ratio
        return places + np.array([box["x"], box["y"]])

    def disc(self):
        """Where on the page the middle of the drawn disc is seen."""
        self.page.wait_for_timeout(150)
        return tuple(self.dark().mean(axis=0).tolist())

    def tap(self, at):
        if self.finger:
            self.page.touchscreen.tap(*at)
        else:
            self.page.mouse.click(*at)

    def touch(self, kind, *places):
        self.protocol.send(
            "Input.dispatchTouchEvent",
            {
                "type": kind,
                "touchPoints": [
                    {"x": x, "y": y, "id": number}
                    for number, (x, y) in enumerate(places)
                ],
            },
        )

    def drag(self, start, end, *, let_go=True):
        path = [tuple(np.add(start, np.subtract(end, start) * k / 8)) for k in range(9)]
        if self.finger:
            self.touch("touchStart", path[0])
            for place in path[1:]:
                self.touch("touchMove", place)
        else:
            self.page.mouse.move(*path[0])
            self.page.mouse.down()
            for place in path[1:]:
                self.page.mouse.move(*place)
        if let_go:
            self.let_go()

    def let_go(self):
        if self.finger:
            self.touch("touchEnd")
        else:
            self.page.mouse.up()

    def press(self, name):
        button = self.page.get_by_role("button", name=name, exact=True)
        if self.finger:
            button.tap()
        else:
            button.click()

    def marked(self, count, version=0):
        """Points of a version that the server has, once there are so many."""
        # While the page is redrawn, what it showed before may stand beside it, and it
        # stands there for some time after the picture itself has changed.
        told = self.page.locator(
            f"[data-testid=marked][data-version='{version}'][data-count='{count}']"
        )
        expect(told).to_have_count(1, timeout=30_000)
        return json.loads(told.inner_text())


@pytest.fixture
def open_picture(live, chromium):
    contexts = []

    def open_it(screen, *, ratio=1, finger=False, query="", base_path="", **more):
        width, height = screen
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            device_scale_factor=ratio,
            has_touch=finger,
            is_mobile=finger and screen == PHONE,
            **more,
        )
        contexts.append(context)
        page = context.new_page()
        page.goto(f"{live(APP, base_path=base_path)}?{query}")
        expect(page.get_by_test_id("marked")).to_be_visible(timeout=60_000)
        expect(page.locator("canvas")).to_be_visible(timeout=60_000)
        page.wait_for_timeout(500)
        return Hand(
            page=page,
            protocol=context.new_cdp_session(page),
            finger=finger,
            ratio=ratio,
        )

    yield open_it
    for context in contexts:
        context.close()


SCREENS = {
    "phone3": (PHONE, 3, True),
    "phone1": (PHONE, 1, True),
    "laptop1": (LAPTOP, 1, False),
    "tablet3": (LAPTOP, 3, True),
}


@pytest.fixture(params=SCREENS)
def hand(request, open_picture):
    screen, ratio, finger = SCREENS[request.param]
    return open_picture(screen, ratio=ratio, finger=finger)


@pytest.fixture
def phone(open_picture):
    return open_picture(PHONE, ratio=3, finger=True)


@pytest.fixture
def laptop(open_picture):
    return open_picture(LAPTOP)


def test_tap_marks_what_is_seen_there_at_fit_and_closer(hand):
    hand.tap(hand.disc())

    half_a_display_px = 0.5 / hand.fit
    assert hand.marked(1)[0] == pytest.approx(DISC_PX, abs=half_a_display_px)

    hand.press("Clear")
    hand.press("Zoom in")
    hand.press("Zoom in")
    hand.drag(hand.at(0.6, 0.4), hand.at(0.45, 0.8))
    hand.tap(hand.disc())

    assert hand.marked(1)[0] == pytest.approx(DISC_PX, abs=half_a_display_px / 2.25)


@pytest.mark.parametrize("hand", ["phone1", "tablet3"], indirect=True)
def test_known_places_of_the_screen_are_known_px_of_the_photo(hand):
    wanted = [(-0.5, -0.5), (749.5, 499.5), (1499.5, 1749.5), (2999.5, 1999.5)]
    for point in wanted:
        hand.tap(hand.of_photo(*point))

    half_a_display_px = 0.5 / hand.fit
    assert hand.marked(4) == [
        pytest.approx(point, abs=half_a_display_px) for point in wanted
    ]


def test_tap_beside_the_photo_means_its_edge_or_nothing(laptop):
    x, y = laptop.of_photo(-0.5, 999.5)
    laptop.tap((x - 60, y))
    laptop.tap((x - 15, y))

    (only,) = laptop.marked(1)
    assert only[0] == -0.5
    assert only[1] == pytest.approx(999.5, abs=0.5 / laptop.fit)


@pytest.mark.parametrize("hand", ["phone3", "laptop1"], indirect=True)
def test_drag_moves_the_point_and_shows_it_larger_elsewhere(hand):
    hand.tap(hand.of_photo(600, 1200))
    hand.tap(hand.of_photo(2400, 1200))
    hand.marked(2)
    dark_before = len(hand.dark())

    # Held beside its middle, it still goes by as much as the finger does.
    start = np.add(hand.of_photo(600, 1200), (5, -4))
    by = np.subtract(hand.of_photo(*DISC_PX), hand.of_photo(600, 1200))
    hand.drag(tuple(start), tuple(start + by), let_go=False)
    hand.page.wait_for_timeout(150)
    dark_meanwhile = len(hand.dark())
    hand.let_go()
    expect(hand.page.get_by_test_id("marked")).to_contain_text("[[2")

    moved, other = hand.marked(2)
    assert moved == pytest.approx(DISC_PX, abs=1 / hand.fit)
    assert other == pytest.approx((2400, 1200), abs=0.5 / hand.fit)
    assert dark_meanwhile > 2.5 * dark_before


def test_undo_takes_back_marking_moving_and_clearing(laptop):
    for x in (600, 1200, 1800):
        laptop.tap(laptop.of_photo(x, 1000))
    three = laptop.marked(3)
    laptop.press("Clear")
    laptop.marked(0)
    laptop.press("Undo")
    assert laptop.marked(3) == three

    laptop.drag(laptop.of_photo(600, 1000), laptop.of_photo(600, 1500))
    told = laptop.page.get_by_test_id("marked")
    expect(told).not_to_have_text(json.dumps(three))
    laptop.press("Undo")
    expect(told).to_have_text(json.dumps(three))

    laptop.press("Undo")
    assert laptop.marked(2) == three[:2]


def test_points_given_to_begin_with_can_be_undone(open_picture):
    laptop = open_picture(LAPTOP, query="points=[[600,600],[900,900]]")
    laptop.marked(2)
    laptop.press("Undo")

    assert laptop.marked(1) == [[600, 600]]


def test_keys_do_all_that_a_hand_does(laptop):
    canvas = laptop.page.locator("canvas")
    canvas.focus()
    for key in ("ArrowRight", "ArrowDown", "Shift+ArrowRight", "Enter"):
        canvas.press(key)
    canvas.press("+")
    for key in ("ArrowLeft", "ArrowUp", "ArrowUp", "Enter"):
        canvas.press(key)

    first = np.array([1499.5 + 11 / laptop.fit, 999.5 + 10 / laptop.fit])
    second = first + np.array([-10, -20]) / laptop.fit / 1.5
    marked = laptop.marked(2)
    assert marked[0] == pytest.approx(first, abs=0.01)
    assert marked[1] == pytest.approx(second, abs=0.01)

    canvas.press("Backspace")
    assert laptop.marked(1) == marked[:1]


def test_view_follows_the_keyboard_cursor(laptop):
    canvas = laptop.page.locator("canvas")
    canvas.focus()
    for _ in range(4):
        canvas.press("+")
    for _ in range(150):
        canvas.press("ArrowLeft")
    canvas.press("Enter")

    x, _ = laptop.marked(1)[0]
    assert x == pytest.approx(1499.5 - 1500 / (laptop.fit * 1.5**4), abs=0.01)


def test_points_and_zoom_survive_a_rerun(phone):
    phone.tap(phone.of_photo(2400, 1000))
    before = phone.marked(1)
    phone.press("Zoom in")
    seen = phone.disc()
    # A line more above the photo, as when a hint appears.
    top = phone.box["y"]
    phone.press("Rerun")
    expect(phone.page.get_by_text("reruns 1")).to_be_visible()
    expect(phone.page.get_by_text("One more line")).to_be_visible()

    assert phone.marked(1) == before
    shift = phone.box["y"] - top
    assert phone.disc() == pytest.approx((seen[0], seen[1] + shift), abs=0.5)
    phone.press("Undo")
    phone.marked(0)


@pytest.mark.parametrize("query", ["", "slow_s=0.5"])
def test_another_version_starts_over(open_picture, query):
    laptop = open_picture(LAPTOP, query=query)
    laptop.tap(laptop.of_photo(600, 600))
    laptop.marked(1)
    laptop.press("Start over")
    expect(laptop.page.get_by_text("0 points.")).to_be_visible()
    laptop.tap(laptop.of_photo(900, 600))

    (only,) = laptop.marked(1, version=1)
    assert only == pytest.approx((900, 600), abs=0.5 / laptop.fit)


def test_points_of_a_version_left_never_come_back(laptop):
    laptop.tap(laptop.of_photo(600, 600))
    laptop.marked(1)
    laptop.press("Start over")
    laptop.marked(0, version=1)
    laptop.press("Go back")

    laptop.marked(0)
    expect(laptop.page.get_by_text("0 points.")).to_be_visible()
    laptop.tap(laptop.of_photo(900, 600))
    (only,) = laptop.marked(1)
    assert only == pytest.approx((900, 600), abs=0.5 / laptop.fit)


def test_quick_taps_are_all_kept(phone):
    for x in range(300, 2800, 400):
        phone.tap(phone.of_photo(x, 1500))

    assert len(phone.marked(7)) == 7


def test_no_more_than_the_most_are_marked(open_picture):
    phone = open_picture(PHONE, finger=True, query="most=2&mode=line")
    for x in (600, 1500, 2400):
        phone.tap(phone.of_photo(x, 1500))

    assert [round(x, -2) for x, _ in phone.marked(2)] == [600, 1500]
    expect(phone.page.get_by_text("2 points of 2. Drag a point")).to_be_visible()


def test_view_marks_nothing(open_picture):
    phone = open_picture(PHONE, finger=True, query="mode=view")
    phone.tap(phone.of_photo(600, 600))
    phone.press("Zoom in")
    phone.page.wait_for_timeout(500)

    phone.marked(0)
    expect(phone.page.get_by_role("button", name="Undo")).to_be_hidden()


def test_two_fingers_zoom_about_their_middle(phone):
    x, y = phone.disc()
    spread = len(phone.dark())
    phone.touch("touchStart", (x - 20, y), (x + 20, y))
    for k in range(1, 9):
        phone.touch("touchMove", (x - 20 - 5 * k, y), (x + 20 + 5 * k, y))
    phone.touch("touchEnd")

    assert phone.disc() == pytest.approx((x, y), abs=0.5)
    assert len(phone.dark()) == pytest.approx(9 * spread, rel=0.1)
    assert phone.page.evaluate("visualViewport.scale") == pytest.approx(1)
    phone.page.wait_for_timeout(300)
    phone.marked(0)


def test_wheel_zooms_about_the_pointer_and_fit_shows_all(laptop):
    x, y = laptop.disc()
    spread = len(laptop.dark())
    # A wheel is turned at a whole px, at most half a px away.
    laptop.page.mouse.move(round(x), round(y))
    laptop.page.mouse.wheel(0, -200)

    assert laptop.disc() == pytest.approx((x, y), abs=1)
    assert len(laptop.dark()) > 2 * spread
    fit = laptop.page.get_by_role("button", name="Fit")
    expect(fit).to_be_enabled()
    laptop.press("Fit")
    expect(fit).to_be_disabled()
    laptop.page.wait_for_timeout(150)
    assert len(laptop.dark()) == pytest.approx(spread, rel=0.02)


def test_one_finger_scrolls_the_page_until_zoomed_in(phone):
    scrolled = "document.querySelector('[data-testid=stMain]').scrollTop"
    middle = phone.at(0.3, 0.8)
    phone.drag(middle, (middle[0], middle[1] - 80))
    phone.page.wait_for_timeout(500)
    down = phone.page.evaluate(scrolled)
    assert down > 30

    phone.press("Zoom in")
    phone.page.wait_for_timeout(300)
    down, seen = phone.page.evaluate(scrolled), phone.disc()
    middle = phone.at(0.3, 0.7)
    phone.drag(middle, (middle[0], middle[1] + 30))

    assert phone.page.evaluate(scrolled) == down
    assert phone.disc()[1] == pytest.approx(seen[1] + 30, abs=1)
    phone.marked(0)


def test_controls_suit_gloves_and_screen_readers(phone):
    buttons = phone.page.get_by_role("group", name="Photo controls").get_by_role(
        "button"
    )
    boxes = [button.bounding_box() for button in buttons.all()]

    assert len(boxes) == 5
    assert min(min(box["width"], box["height"]) for box in boxes) >= 44
    assert max(box["x"] + box["width"] for box in boxes) <= 390
    canvas = phone.page.get_by_role("application", name="Photo: arrow keys move")
    canvas.focus()
    canvas.press("ArrowLeft")
    assert canvas.evaluate("it => getComputedStyle(it).outlineStyle") == "solid"


def test_picture_works_under_a_base_path(open_picture):
    phone = open_picture(PHONE, finger=True, base_path="yard")
    phone.tap(phone.disc())

    assert phone.marked(1)[0] == pytest.approx(DISC_PX, abs=0.5 / phone.fit)
