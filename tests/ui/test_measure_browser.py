"""How many taps a photo takes on a phone, from the first to the saved reading."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Page, expect

from analysis.services import log as log_service
from tests.support import live as server
from tests.support.browser import APP, PATIENCE_MS, ROOT, Screen
from tests.support.screens import sheet_png

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PHONE = {"width": 390, "height": 844}
PHOTO = ROOT / "sample_images" / "trough_joints_sealed.jpg"
# Ends of the drawn ruler, 200 mm apart, in px of the 1600 x 1200 photo.
RULER_PX = ((160, 1080), (1160, 1080))


@dataclass
class Thumb:
    """A person with one thumb, who counts."""

    page: Page
    screen: Screen
    taps: list[str] = field(default_factory=list)

    def choose(self, file):
        self.taps.append("Choose photo")
        self.page.locator(".st-key-choose-photo input[type=file]").set_input_files(file)
        expect(self.page.get_by_role("button", name="Right")).to_be_visible()
        self.screen.settle()

    def press(self, name):
        self.taps.append(name)
        self.screen.press(name)

    def save(self, said):
        """Save; the page may be drawn anew meanwhile, and swallow the tap."""
        self.taps.append("Save")
        save = self.page.get_by_role("button", name="Save", exact=True)
        saved = self.page.get_by_text(said)
        for _ in range(server.TRIES):
            save.click()
            self.screen.settle()
            expect(saved.or_(save).first).to_be_visible()
            if saved.count():
                return
        msg = f"Nothing was saved: {said!r} was not said."
        raise AssertionError(msg)

    def mark(self, at_px):
        self.taps.append("a mark")
        self.screen.tap(at_px)

    def type(self, label, text):
        self.taps.append(label)
        self.screen.write(label, text)


def seen_at_once(page):
    """The share is read without scrolling, and no bar lies over it."""
    share = page.get_by_role("heading", name="% void area")
    expect(share).to_be_visible()
    expect(page.get_by_text("95 % sure between")).to_be_in_viewport(ratio=1)
    bar = page.locator(".st-key-measure-bar").bounding_box()
    interval = page.get_by_text("95 % sure between").bounding_box()
    assert interval["y"] + interval["height"] < bar["y"]
    top = page.evaluate("document.querySelector('[data-testid=stMain]').scrollTop")
    assert top == 0


def by_ruler(thumb, file, said):
    """Measure and save a photo by its ruler; what is filled in already costs no tap."""
    page = thumb.page
    thumb.choose(file)
    thumb.press("Right")
    ruler = page.get_by_role("radio", name="Ruler", exact=True)
    if not ruler.is_checked():
        server.pick(page, "Ruler", exact=True)
        thumb.taps.append("Ruler")
    for end in RULER_PX:
        thumb.mark(end)
    distance = page.get_by_label("Between the two marks")
    if distance.input_value() != "200":
        thumb.type("Between the two marks", "200")
    expect(distance).to_have_attribute("inputmode", "decimal")
    expect(page.get_by_text("The photo shows 320 x 240 mm.").first).to_be_visible()
    thumb.press("Measure")
    seen_at_once(page)
    thumb.save(said)


def sheet(name, **how):
    return {"name": name, "mimeType": "image/png", "buffer": sheet_png(**how)}


def test_taps_to_a_saved_reading_on_a_phone(tmp_path, chromium):
    data = tmp_path / "data"
    page = chromium.new_page(viewport=PHONE)
    screen = Screen(page)
    with server.served(APP, data=data) as address:
        page.goto(address + "measure")
        thumb = Thumb(page, screen)
        thumb.choose(sheet("first.png"))
        thumb.press("Right")
        expect(page.get_by_text("The photo shows").first).to_be_visible()
        thumb.press("Measure")
        seen_at_once(page)
        thumb.save("Saved. New piece 1, new pour 1")
        assert len(thumb.taps) <= 4, thumb.taps

        # The next one goes on from there, and is counted from its own choosing.
        thumb.taps.clear()
        thumb.choose(sheet("second.png", tilt_deg=4))
        for name in ("Right", "Measure"):
            thumb.press(name)
        thumb.save("Saved. New piece 2, pour 1")
        assert len(thumb.taps) <= 4, thumb.taps

        thumb.taps.clear()
        by_ruler(thumb, PHOTO, "Saved. New piece 3, pour 1")
        assert len(thumb.taps) <= 9, thumb.taps

        # A ruler lies elsewhere each time, so it is marked anew; its length stays.
        thumb.taps.clear()
        by_ruler(
            thumb,
            PHOTO.with_name("trough_joints_open.jpg"),
            "Saved. New piece 4, pour 1",
        )
        assert len(thumb.taps) <= 8, thumb.taps
        server.at_both(page)
        page.close()
    log = log_service.open_log(data)
    assert len(log_service.list_readings(log)) == 4
    assert screen.complaints == []


def test_the_camera_is_asked_for_where_there_are_fingers(tmp_path, chromium):
    with server.served(APP, data=tmp_path / "data") as address:
        fingers = chromium.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        page = fingers.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(address + "measure")
        take = page.locator(".st-key-take-photo")
        expect(take).to_be_visible()
        field = take.locator("input[type=file]")
        expect(field).to_have_attribute("capture", "environment")
        above = take.bounding_box()["y"]
        assert above < page.locator(".st-key-choose-photo").bounding_box()["y"]
        button = take.get_by_role("button", name="Take photo")
        server.assert_touchable(button)
        fingers.close()

        desk = chromium.new_page(viewport={"width": 1400, "height": 900})
        desk.set_default_timeout(PATIENCE_MS)
        desk.goto(address + "measure")
        expect(desk.locator(".st-key-choose-photo")).to_be_visible()
        expect(desk.locator(".st-key-take-photo")).to_be_hidden()
        desk.close()
