"""Memory of the server over sixty photos in one session, and over sixty in the batch.

    python tests/benchmarks/memory.py [--photos 60]

Each photo is drawn anew, of 12 megapixels, and is taken in hand, measured and saved in
one and the same browser session; then as many go through the batch. Resident memory of
the server is printed every fifth photo. It levels off when the last third adds little.
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.services import log as log_service
from analysis.services import photo_queue
from tests.support import live as server
from tests.support.cast_pieces import filled

ROOT = Path(__file__).resolve().parents[2]
PHOTO_PX = (3000, 4000)
EVERY = 5
PATIENCE_MS = 300_000


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def draw(seed: int) -> bytes:
    """Draw a face with forty voids, 12 megapixels, as JPEG."""
    rng = np.random.default_rng(seed)
    rows, cols = PHOTO_PX
    grey = np.full(PHOTO_PX, 150, np.float32)
    grey += rng.normal(0, 4, PHOTO_PX).astype(np.float32)
    for _ in range(40):
        row, col = rng.integers(60, rows - 60), rng.integers(60, cols - 60)
        y, x = np.mgrid[-20:21, -20:21]
        patch = grey[row - 20 : row + 21, col - 20 : col + 21]
        patch[np.hypot(y, x) < rng.uniform(8, 18)] = 60
    file = io.BytesIO()
    Image.fromarray(grey.clip(0, 255).astype(np.uint8)).convert("RGB").save(
        file, "JPEG", quality=90
    )
    return file.getvalue()


def memory_mb(folder: Path) -> float:
    """Return the resident memory of the server that uses a data folder, MB."""
    for process in Path("/proc").iterdir():
        if not process.name.isdecimal():
            continue
        try:
            if (
                f"STRUCKFACE_DATA={folder}".encode()
                not in (process / "environ").read_bytes()
            ):
                continue
            status = (process / "status").read_text()
        except OSError:
            continue
        for line in status.splitlines():
            if line.startswith("VmRSS"):
                return float(line.split()[1]) / 1024
    msg = f"No server uses {folder}."
    raise RuntimeError(msg)


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=60)
    count = parser.parse_args().photos
    folder = Path(tempfile.mkdtemp())
    log = log_service.open_log(folder)
    _, pieces = filled(log, 1)
    with (
        sync_playwright() as playwright,
        server.served(ROOT / "ui" / "app.py", data=folder) as address,
    ):
        browser = playwright.chromium.launch(
            executable_path=server.browser_path(), args=server.BROWSER_ARGS
        )
        page = browser.new_page(viewport={"width": 390, "height": 900})
        page.set_default_timeout(PATIENCE_MS)
        page.goto(address + "measure")
        server.settled(page)
        say(f"at the start {memory_mb(folder):.0f} MB")
        say("photos in one session | server, MB")
        for number in range(count):
            one_by_hand(page, number)
            if (number + 1) % EVERY == 0:
                say(f"{number + 1:4d} | {memory_mb(folder):.0f}")
        page.close()
        browser.close()
    say("photos of a batch | this process, MB")
    for number in range(count):
        photo_queue.give(log, draw(10_000 + number), f"{number}.jpg")
        photo_queue.look(log)
        (waiting,) = photo_queue.list_waiting(log)
        photo_queue.confirm(log, waiting, pieces[0], None)
        photo_queue.measure_ready(log)
        photo_queue.clear_done(log)
        if (number + 1) % EVERY == 0:
            status = Path("/proc/self/status").read_text()
            line = next(one for one in status.splitlines() if one.startswith("VmRSS"))
            say(f"{number + 1:4d} | {float(line.split()[1]) / 1024:.0f}")


def one_by_hand(page, number: int) -> None:
    """Take a photo in hand, measure it, save it."""
    page.locator("input[type=file]").first.set_input_files(
        {"name": f"{number}.jpg", "mimeType": "image/jpeg", "buffer": draw(number)}
    )
    page.get_by_text(f"{number}.jpg, 4000 x 3000 px").wait_for()
    server.settled(page)
    if number == 0:
        group = page.get_by_test_id("stButtonGroup")
        group.get_by_text("mm per px", exact=True).click()
        server.settled(page)
        field = page.get_by_role("spinbutton", name="mm per px")
        field.fill("0.1")
        field.press("Tab")
        server.settled(page)
    page.get_by_role("button", name="Measure", exact=True).click()
    page.get_by_role("heading", name="% void area").wait_for()
    server.settled(page)
    if number == 0:
        group = page.get_by_test_id("stButtonGroup")
        group.get_by_text("One in the log", exact=True).click()
        server.settled(page)
        page.get_by_role("combobox", name="Piece", exact=True).click()
        page.get_by_role("option").first.click()
        server.settled(page)
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("Saved.", exact=True).wait_for()
    page.get_by_role("button", name="Take another photo").click()
    server.settled(page)


if __name__ == "__main__":
    main()
