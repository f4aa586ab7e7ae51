"""Every page in the browser: axe-core, targets of a fingertip, enlarged, landscape.

By day on a phone and by night at a desk.

Findings inside the framework's own widgets would be listed in `FRAMEWORK`, apart from
ours.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import live as server
from tests.support.browser import APP, PATIENCE_MS, Screen
from tests.support.library_log import many_pieces

axe = pytest.importorskip(
    "axe_playwright_python", reason="axe-core is not installed: see tests/requirements"
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PAGES = (
    "",
    "measure",
    "evening",
    "log_pour",
    "pieces",
    "pieces?piece=30",
    "forms",
    "forms?form=1",
    "compare",
    "batches",
    "vibration",
    "plan",
    "records",
    "guide",
    "capture",
    "second_opinion",
)
NIGHT = "rgb(29, 31, 32)"  # the ground of the dark theme
# Rules that widgets of the framework break by themselves, with where.
FRAMEWORK: dict[str, str] = {}
_GRAVE = """
async () => (await axe.run(document, {resultTypes: ['violations']})).violations
  .filter((one) => ['serious', 'critical'].includes(one.impact)
    || one.id === 'heading-order')
  .map((one) => [one.id, one.nodes.map((node) => node.html.slice(0, 90))])
"""
_LEVELS = """
() => [...document.querySelectorAll('[data-testid=stMain] :is(h1, h2, h3, h4, h5, h6)')]
  .map((one) => Number(one.tagName[1]))
"""
_SMALL = """
() => [...document.querySelectorAll('[data-testid=stMain] :is(.stButton button, '
    + '.stDownloadButton button, .stPageLink a, [data-baseweb=select] > div, '
    + '.stTextInput input)')]
  .filter((one) => one.checkVisibility() && !one.closest('[class*=st-key-card-]'))
  .map((one) => [one.textContent.slice(0, 30), one.getBoundingClientRect().height])
  .filter(([, height]) => height > 0 && height < 43.5)
"""
_UNFOLD = """
() => [...document.querySelectorAll(
  '[data-testid=stMain] details:not([open]) > summary')]
  .map((one) => one.click()).length
"""
BOXES_IN_BOXES = 3
_HEAD_BEYOND = """
() => [...document.querySelectorAll('[data-testid=stHeader] *')]
  .filter((one) => one.checkVisibility())
  .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
  .map((one) => one.outerHTML.slice(0, 90))
"""
# From the end of the page to its beginning, each is scrolled to as Shift+Tab does.
_TOPS_GOING_BACK = """
() => [...document.querySelectorAll('[data-testid=stMain] :is(a, button, input)')]
  .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height > 20)
  .reverse()
  .map((one) => { one.focus(); return one.getBoundingClientRect().top; })
"""


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    data = tmp_path_factory.mktemp("access")
    many_pieces(data, 30, on_disk=2, photo_px=(300, 400))
    with server.served(APP, data=data) as found:
        yield found


def opened(page, address, path):
    page.goto(address + path)
    page.wait_for_selector("[data-testid=stMain] :is(h1, h2)")
    server.settled(page)


def by_day(page):
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 390, "height": 844})


def by_night(page):
    page.emulate_media(color_scheme="dark")
    page.set_viewport_size({"width": 1400, "height": 900})
    page.wait_for_function(
        f"getComputedStyle(document.body).backgroundColor === {NIGHT!r}"
    )
    server.settled(page)


def test_no_grave_finding_and_no_small_target_on_any_page(address, chromium):
    engine = Path(axe.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    screen = Screen(page)
    found, small = {}, {}
    for path in PAGES:
        by_day(page)
        opened(page, address, path)
        page.evaluate(engine)
        small[path] = page.evaluate(_SMALL)
        levels = page.evaluate(_LEVELS)
        assert (levels[0], levels.count(1)) == (1, 1), path
        grave = dict(page.evaluate(_GRAVE))
        by_night(page)
        grave |= dict(page.evaluate(_GRAVE))
        found[path] = {rule: grave[rule] for rule in grave if rule not in FRAMEWORK}
    page.close()
    assert {path: one for path, one in found.items() if one} == {}
    assert {path: one for path, one in small.items() if one} == {}
    assert screen.complaints == []


@pytest.mark.parametrize(
    "path",
    ["measure", "pieces?piece=30", "forms?form=1", "compare", "vibration", "batches"],
)
def test_no_grave_finding_where_every_box_is_open(path, address, chromium):
    engine = Path(axe.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    opened(page, address, path)
    unfolded = 0
    for _ in range(BOXES_IN_BOXES):
        more = page.evaluate(_UNFOLD)
        unfolded += more
        server.settled(page)
    page.evaluate(engine)
    grave = dict(page.evaluate(_GRAVE))
    server.assert_fits(page)
    page.close()
    assert unfolded > 0
    assert {rule: grave[rule] for rule in grave if rule not in FRAMEWORK} == {}


# 320 px: what is left of a desk of 1280 px at 400 %, WCAG 2.1 SC 1.4.10, Reflow;
# 195 px: of a phone at 200 %, SC 1.4.4, Resize text.
def test_pages_hold_enlarged_and_turned(address, chromium):
    page = chromium.new_page()
    page.set_default_timeout(PATIENCE_MS)
    for path in ("", "pieces", "pieces?piece=30", "forms?form=1", "guide"):
        opened(page, address, path)
        for width, height in ((844, 390), (320, 640), (195, 422)):
            page.set_viewport_size({"width": width, "height": height})
            server.settled(page)
            server.assert_fits(page)
            server.assert_fits(page, _HEAD_BEYOND)
    page.close()


def test_charts_and_the_name_change_with_the_system(address, chromium):
    page = chromium.new_page(color_scheme="dark")
    page.set_default_timeout(PATIENCE_MS)
    opened(page, address, "forms?form=1")

    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == NIGHT
    axis = page.locator("[data-testid=stVegaLiteChart] .role-axis-title text").first
    assert axis.get_attribute("fill") == "#eceae5"
    page.close()


# WCAG 2.2 SC 2.4.11, Focus Not Obscured (Minimum).
def test_header_covers_nothing_that_gets_the_focus(address, chromium):
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    opened(page, address, "pieces?piece=30")

    foot = page.locator("[data-testid=stHeader]").bounding_box()["height"]
    assert foot > 40
    tops = page.evaluate(_TOPS_GOING_BACK)
    assert len(tops) > 5
    assert [top for top in tops if top < foot] == []
    page.close()
