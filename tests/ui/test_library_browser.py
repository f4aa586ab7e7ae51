"""The library by hand: cards are tapped anywhere, pieces turn by keys and swipe."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.support import live as server
from tests.support.browser import APP, Screen
from tests.support.library_log import many_pieces

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_SWIPE = """
([from, to]) => {
  const target = document.querySelector('h2');
  const touch = (x) => new Touch({identifier: 1, target, clientX: x, clientY: 300});
  const send = (kind, x) => target.dispatchEvent(new TouchEvent(kind, {
    bubbles: true, composed: true, touches: kind === 'touchstart' ? [touch(x)] : [],
    changedTouches: [touch(x)],
  }));
  send('touchstart', from);
  send('touchend', to);
}
"""


def test_card_opens_wherever_it_is_tapped_and_pieces_turn(tmp_path, chromium):
    many_pieces(tmp_path / "data", 30, on_disk=3, photo_px=(300, 400))
    page = chromium.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
    screen = Screen(page)
    with server.served(APP, data=tmp_path / "data") as address:
        page.goto(address + "pieces")
        expect(page.get_by_text("1 to 24 of 30 pieces")).to_be_visible()
        screen.settle()
        expect(page.get_by_alt_text("Photo 30: its face is outlined")).to_be_visible()
        server.assert_fits(page)
        card = page.locator("[class*=st-key-card-]").nth(1)
        box = server.in_sight(card)
        page.touchscreen.tap(box["x"] + box["width"] - 6, box["y"] + box["height"] - 6)
        title = page.get_by_role("heading", level=1)
        expect(title.first).to_have_text("Piece 29")
        expect(page.get_by_text("2 of 30")).to_be_visible()

        screen.settle()
        listening = page.locator(".st-key-turning span[data-listening]")
        listening.wait_for(state="attached")
        page.keyboard.press("ArrowRight")
        expect(title.first).to_have_text("Piece 28")
        screen.settle()
        page.evaluate(_SWIPE, [100, 300])
        expect(title.first).to_have_text("Piece 29")
        screen.settle()
        page.evaluate(_SWIPE, [300, 100])
        expect(title.first).to_have_text("Piece 28")
        screen.settle()
        page.get_by_role("application").first.focus()
        page.keyboard.press("ArrowRight")  # moves the cursor on the photo
        screen.settle()
        expect(title.first).to_have_text("Piece 28")

        screen.press("All pieces")
        expect(page.get_by_text("1 to 24 of 30 pieces")).to_be_visible()
        server.at_both(page)
        page.close()
    assert screen.complaints == []
