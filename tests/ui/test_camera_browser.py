"""The live camera with the first photo's edges over it, as a browser gives it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from playwright.sync_api import expect

from tests.services.pair_photos import pair_of_photos
from tests.support import live as server
from tests.support.browser import APP, PATIENCE_MS, open_chromium

pytestmark = [pytest.mark.browser, pytest.mark.slow]

OPEN = "Line up over the camera"
FRAMES = 5


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    """What the camera sees: the second photo of a drawn pair."""
    pixels = cv2.imdecode(np.frombuffer(pair_of_photos()[1], np.uint8), 1)
    quality = [cv2.IMWRITE_JPEG_QUALITY, 97]
    path = tmp_path_factory.mktemp("film") / "second.mjpeg"
    path.write_bytes(cv2.imencode(".jpg", pixels, quality)[1].tobytes() * FRAMES)
    return path


@pytest.fixture(scope="module")
def browser(film):
    camera = [
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]
    with open_chromium(*camera) as browser:
        yield browser


@pytest.fixture
def measured(tmp_path, browser, request):
    """A page on which the first photo was measured and a second light is asked for."""
    first = tmp_path / "first.png"
    first.write_bytes(pair_of_photos()[0])
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    wrong = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    if getattr(request, "param", None):
        page.add_init_script(request.param)
    with server.served(APP, data=tmp_path / "data") as address:
        page.goto(address + "measure")
        page.locator(".st-key-choose-photo input[type=file]").set_input_files(first)
        expect(page.get_by_text("480 x 360 px")).to_be_visible()
        server.accept_face(page)
        server.pick(page, "None", exact=True)
        page.get_by_role("button", name="Measure", exact=True).click()
        expect(page.get_by_role("heading", name="% void area")).to_be_visible()
        server.settled(page)
        given = page.get_by_text("Photo with the lamp on the other side")
        server.unfold(page, "Second light", given)
        yield page
        page.close()
    assert wrong == []


def test_second_photo_is_lined_up_over_the_camera(measured):
    page = measured
    opens = page.get_by_role("button", name=OPEN)
    server.assert_touchable(opens)
    opens.click()
    take = page.get_by_role("button", name="Take photo", exact=True)
    expect(take).to_be_enabled()
    expect(page.get_by_text("Lay the blue edges of the first photo")).to_be_visible()
    # The film runs, and the edges lie on all of it.
    film, ghost = page.locator("video"), page.locator(".view img")
    expect(film).to_have_js_property("videoWidth", 480)
    assert film.bounding_box()["width"] == ghost.bounding_box()["width"]
    server.assert_touchable(take)
    server.assert_fits(page)
    take.click()
    laid = page.get_by_role("img", name="over it the edges of the first in blue")
    expect(laid).to_be_visible()
    server.settled(page)
    page.get_by_role("button", name="Measure both", exact=True).click()
    expect(page.get_by_text("between the lamps")).to_be_visible()
    server.settled(page)
    server.assert_fits(page)


# What a page has that was opened over the yard's own network, not encrypted.
@pytest.mark.parametrize(
    "measured",
    ["Object.defineProperty(window, 'isSecureContext', {get: () => false})"],
    indirect=True,
)
def test_nothing_is_said_of_a_camera_where_the_browser_gives_none(measured):
    expect(
        measured.get_by_text("Photo with the lamp on the other side")
    ).to_be_visible()
    assert measured.get_by_role("button", name=OPEN).count() == 0
