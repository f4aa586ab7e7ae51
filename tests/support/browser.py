"""A page of the app in a browser, as a person uses it."""

from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path

import pytest

from tests.support import live as server

ROOT = Path(__file__).resolve().parents[2]


APP = ROOT / "ui" / "app.py"


PHOTO_PX = (1600, 1200)


SIDES = ("width", "height")


MARGIN_PX = 12
POINTS = re.compile(r"^\d+ points?( of \d+)?\.")


PATIENCE_MS = 90_000


@contextlib.contextmanager
def open_chromium(*more):
    """Open the installed browser, with more arguments; skip in words without one."""
    path = server.browser_path()
    if path is None:
        pytest.skip("No Chromium was found: install one or set STRUCKFACE_BROWSER.")
    from playwright.sync_api import expect, sync_playwright  # noqa: PLC0415  if needed

    # What is asked of a busy machine may take long; a screen that is right ends it.
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=[*server.BROWSER_ARGS, *more]
        )
        yield browser
        browser.close()
    expect.set_options(timeout=5000)


def look(page, name):
    """Keep a picture of the page where one is asked for."""
    folder = os.environ.get("STRUCKFACE_SCREENSHOTS")
    if folder:
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)
        server.settled(page)


class Screen:
    """A page of the app, as a person uses it."""

    def __init__(self, page):
        self.page = page
        self.complaints = []
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._listen)

    def _listen(self, message):
        # Streamlit asks for its health below the page's own path first, and goes on
        # at the root when that is not found.
        asked = "_stcore" in message.location.get("url", "")
        if message.type == "error" and not asked:
            self.complaints.append(message.text)

    def settle(self):
        server.settled(self.page)

    def press(self, name):
        self.page.get_by_role("button", name=name, exact=True).click()
        self.settle()

    def write(self, label, text):
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        field.press("Tab")
        self.settle()

    def tap(self, at_px):
        """Tap the first picture where a point of the photo, wholly shown, is seen.

        A picture that is drawn anew may swallow the tap: what it says of its points
        tells.
        """
        told = self.page.get_by_text(POINTS).first
        for _ in range(server.TRIES):
            before = told.inner_text() if told.count() else None
            self._tap_once(at_px)
            after = told.inner_text() if told.count() else None
            if before is None or after != before:
                return
        msg = f"No point was marked at {at_px}."
        raise AssertionError(msg)

    def _tap_once(self, at_px):
        box = server.in_sight(self.page.get_by_role("application").first)
        fit = min(
            (box[side] - 2 * MARGIN_PX) / length
            for side, length in zip(SIDES, PHOTO_PX, strict=True)
        )
        x, y = (
            box[place] + box[side] / 2 + (at + 0.5 - length / 2) * fit
            for place, side, at, length in zip(
                "xy", SIDES, at_px, PHOTO_PX, strict=True
            )
        )
        server.assert_meets_picture(self.page, x, y)
        self.page.mouse.click(x, y)
        self.settle()
