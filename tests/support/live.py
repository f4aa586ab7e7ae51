"""A live Streamlit server and an installed browser, for the tests that need them."""

from __future__ import annotations

import contextlib
import http.client
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from typing import IO

ROOT = Path(__file__).resolve().parents[2]
HOST = "127.0.0.1"
START_S = 90.0
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
# What a page needs to send what was done on it.
REACTION_MS = 400
STILL_MS = 150
LAYOUT_TRIES = 25
LEAST_TOUCH_PX = 44
TRIES = 5
ERROR = "[data-testid=stException]"
IDLE = "[data-testid=stApp][data-test-script-state=notRunning]"
# Hidden parts keep an old width until they are shown; charts may scroll in themselves.
BEYOND = """
[...document.querySelectorAll('[data-testid=stMain] *')]
  .filter(one => one.checkVisibility())
  .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
  .map(one => one.className)
"""
# The server answers after what was sent to it before; two frames draw what it said.
_ANSWERED = """
async () => {
  await fetch('_stcore/health').catch(() => null);
  const frame = () => new Promise(
    done => { requestAnimationFrame(done); setTimeout(done, 500); });
  await frame();
  await frame();
}
"""
# Below a page's header, a tap by place would meet the header.
_TO_THE_MIDDLE = "one => one.scrollIntoView({block: 'center', behavior: 'instant'})"
_MET = """
([x, y]) => {
  let met = document.elementFromPoint(x, y);
  while (met?.shadowRoot) met = met.shadowRoot.elementFromPoint(x, y);
  return met === null ? '' : met.outerHTML.slice(0, 90);
}
"""
# Below those that a system hands out by itself; each test process starts elsewhere.
FIRST_PORT, PORTS_EACH, PROCESSES = 20_000, 100, 100
_OWN_PORT = FIRST_PORT + os.getpid() % PROCESSES * PORTS_EACH
_PORTS = iter(range(_OWN_PORT, _OWN_PORT + PORTS_EACH))
_SAYING: list[IO[bytes]] = []
_LONGEST_LOG, _TOLD_SIGNS = 1_000_000, 6000
BROWSER_ARGS = ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"]


def browser_path() -> str | None:
    """Find the browser that STRUCKFACE_BROWSER names, or one on the PATH."""
    chosen = os.environ.get("STRUCKFACE_BROWSER")
    if chosen:
        return chosen
    return next(filter(None, map(shutil.which, BROWSERS)), None)


@contextlib.contextmanager
def served(
    script: Path,
    *,
    data: Path,
    base_path: str = "",
    environment: Mapping[str, str] | None = None,
    log: Path | None = None,
) -> Iterator[str]:
    """Serve a Streamlit script with the repository's settings; give its address.

    What the server says goes to `log`, if one is given.
    """
    port = _free_port()
    command = [
        *(sys.executable, "-m", "streamlit", "run", str(script)),
        f"--server.address={HOST}",
        f"--server.port={port}",
        f"--server.baseUrlPath={base_path}",
        "--server.headless=true",
        "--server.fileWatcherType=none",
    ]
    surroundings = os.environ | {"PYTHONPATH": str(ROOT), "STRUCKFACE_DATA": str(data)}
    with (
        tempfile.TemporaryFile() if log is None else log.open("w+b") as said,
        _listed(said),
        subprocess.Popen(
            command,
            cwd=ROOT,
            env=surroundings | dict(environment or {}),
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
        ) as server,
    ):
        try:
            if not _becomes_healthy(server, port, base_path):
                said.seek(0)
                msg = f"{script.name} was not served: {said.read().decode()[-2000:]}"
                raise RuntimeError(msg)
            yield f"http://{HOST}:{port}/{base_path}"
        finally:
            server.kill()


@contextlib.contextmanager
def _listed(said: IO[bytes]) -> Iterator[None]:
    _SAYING.append(said)
    try:
        yield
    finally:
        _SAYING.remove(said)


def last_said() -> list[str]:
    """Return the end of what the servers that run have written to their logs."""
    # Read beside the server, whose place for writing in the file stays.
    logs = [os.pread(said.fileno(), _LONGEST_LOG, 0) for said in _SAYING]
    return [log.decode(errors="replace")[-_TOLD_SIGNS:] for log in logs]


def _free_port() -> int:
    """Return a port that neither the system nor another test process hands out."""
    for port in _PORTS:
        with socket.socket() as finder, contextlib.suppress(OSError):
            finder.bind((HOST, port))
            return port
    msg = f"This process has used up its {PORTS_EACH} ports: let it test less."
    raise RuntimeError(msg)


def _becomes_healthy(
    server: subprocess.Popen[bytes], port: int, base_path: str
) -> bool:
    health = f"/{base_path}/_stcore/health" if base_path else "/_stcore/health"
    end = time.monotonic() + START_S
    while server.poll() is None and time.monotonic() < end:
        line = http.client.HTTPConnection(HOST, port, timeout=2.0)
        with contextlib.suppress(OSError, http.client.HTTPException):
            line.request("GET", health)
            if line.getresponse().status == http.HTTPStatus.OK:
                line.close()
                return True
        line.close()
        time.sleep(0.1)
    return False


def settled(page) -> None:
    """Wait until the page's script has run through; stale parts are gone then.

    A busy server may not have begun after the usual time: it is asked something else.
    """
    for _ in range(TRIES):
        page.wait_for_timeout(REACTION_MS)
        page.evaluate(_ANSWERED)
        if page.locator(IDLE).count():
            break
        page.wait_for_selector(IDLE, state="attached")
    assert not page.locator(ERROR).count(), "The app stands still with an error."


def unfold(page, title: str, inside) -> None:
    """Open what is folded away under a title; a redraw meanwhile may close it once."""
    for _ in range(TRIES):
        page.get_by_text(title).click()
        settled(page)
        if inside.is_visible():
            return
    msg = f"{title} did not open."
    raise AssertionError(msg)


def assert_fits(page, beyond: str = BEYOND) -> None:
    """Nothing that is seen is cut off at the side, once the page is laid out anew."""
    for _ in range(LAYOUT_TRIES):
        if page.evaluate(beyond) == []:
            return
        page.wait_for_timeout(REACTION_MS)
    assert page.evaluate(beyond) == []


def assert_touchable(button) -> None:
    """Ask that a finger meets it; a page that is laid out anew gets its time."""
    for _ in range(LAYOUT_TRIES):
        box = button.bounding_box()
        if box is not None and box["height"] >= LEAST_TOUCH_PX:
            return
        button.page.wait_for_timeout(REACTION_MS)
    assert button.bounding_box()["height"] >= LEAST_TOUCH_PX


def in_sight(picture):
    """Bring a picture to the middle of the window, away from the bars at its ends.

    Return its box once it stands still there.
    """
    before, box = None, None
    while box is None or box != before:
        before = box
        picture.evaluate(_TO_THE_MIDDLE)
        picture.page.wait_for_timeout(STILL_MS)
        box = picture.bounding_box()
    return box


def assert_meets_picture(page, x, y) -> None:
    """Ask that a tap there meets a picture, and no bar that lies over it."""
    met = page.evaluate(_MET, [x, y])
    assert met.startswith("<canvas"), f"A tap at {x:.0f}, {y:.0f} meets {met!r}."


def at_both(page, check: Callable[[], None] | None = None) -> None:
    """Check a page at a desk's width and at a phone's, where it is left.

    Nothing may be cut off; `check` may ask for more.

    A busy machine needs its time to lay a page out anew: what does not hold at once
    has to hold in the end.
    """
    for width in (1400, 390):
        page.set_viewport_size({"width": width, "height": 900})
        settled(page)
        for _ in range(LAYOUT_TRIES):
            try:
                _laid_out(page, check)
            except AssertionError:
                page.wait_for_timeout(REACTION_MS)
            else:
                break
        else:
            _laid_out(page, check)


def _laid_out(page, check: Callable[[], None] | None) -> None:
    assert_fits(page)
    if check is not None:
        check()


def choose(page, label: str, option: str, *, exact: bool = False) -> None:
    """Choose from a list by typing; a redraw meanwhile may close the list once."""
    field = page.get_by_role("combobox", name=label, exact=exact)
    offered = page.get_by_role("option", name=option)
    for _ in range(TRIES):
        field.click()
        field.press_sequentially(option)
        page.wait_for_timeout(REACTION_MS)
        if offered.count():
            offered.first.click()
            settled(page)
            return
        page.keyboard.press("Escape")
        settled(page)
    msg = f"{option} was not offered under {label}."
    raise AssertionError(msg)


def pick(page, name: str, *, exact: bool = False) -> None:
    """Pick one of several; a redraw meanwhile may swallow the tap once."""
    one = page.get_by_role("radio", name=name, exact=exact)
    for _ in range(TRIES):
        one.click()
        settled(page)
        if one.is_checked():
            return
    msg = f"{name} could not be picked."
    raise AssertionError(msg)


def accept_face(page):
    """Say that the photo holds nothing but face, where the page asks."""
    settled(page)
    whole = page.get_by_role("button", name="The photo holds nothing but face")
    if whole.count():
        whole.first.click()
        settled(page)
