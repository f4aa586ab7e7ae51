"""Every page in the browser: axe-core, targets of a fingertip, enlarged, landscape.

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
)
# Rules that widgets of the framework break by themselves, with where.
FRAMEWORK: dict[str, str] = {}
_GRAVE = """
async () => (await axe.run(document, {resultTypes: ['violations']})).violations
  .filter((one) => ['serious', 'critical'].includes(one.impact))
  .map((one) => [one.id, one.nodes.map((node) => node.html.slice(0, 90))])
"""
_SMALL = """
() => [...document.querySelectorAll('[data-testid=stMain] :is(.stButton button, '
    + '.stDownloadButton button, .stPageLink a, [data-baseweb=select] > div, '
    + '.stTextInput input)')]
  .filter((one) => one.checkVisibility() && !one.closest('[class*=st-key-card-]'))
  .map((one) => [one.textContent.slice(0, 30), one.getBoundingClientRect().height])
  .filter(([, height]) => height > 0 && height < 43.5)
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


def test_no_grave_finding_and_no_small_target_on_any_page(address, chromium):
    engine = Path(axe.__file__).with_name("axe.min.js").read_text(encoding="utf-8")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.set_default_timeout(PATIENCE_MS)
    screen = Screen(page)
    found, small = {}, {}
    for path in PAGES:
        opened(page, address, path)
        page.evaluate(engine)
        grave = dict(page.evaluate(_GRAVE))
        found[path] = {rule: grave[rule] for rule in grave if rule not in FRAMEWORK}
        small[path] = page.evaluate(_SMALL)
    page.close()
    assert {path: one for path, one in found.items() if one} == {}
    assert {path: one for path, one in small.items() if one} == {}
    assert screen.complaints == []


# 320 px: what is left of a desk of 1280 px at 400 %, WCAG 2.1 SC 1.4.10, Reflow.
@pytest.mark.parametrize("size", [(320, 640), (844, 390)])
def test_pages_hold_enlarged_and_turned(size, address, chromium):
    page = chromium.new_page(viewport={"width": size[0], "height": size[1]})
    page.set_default_timeout(PATIENCE_MS)
    for path in ("", "pieces", "forms?form=1"):
        opened(page, address, path)
        server.assert_fits(page)
    page.close()
