"""A yard of phones on one server: they measure and save, others look on."""

from __future__ import annotations

import asyncio
import io
import itertools
import os
import re
import subprocess
import sys
import time
from collections import Counter
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from PIL import Image

from analysis.model.log import Piece, Pour
from analysis.services.log import digest
from analysis.storage.reading_lines import list_readings
from analysis.storage.records import add
from analysis.storage.store import open_log
from tests.support import live
from tests.support.phone import Phone, signed_in
from ui import start
from ui.launch import yard
from ui.sharing.keys import keys_for, save_keys

ROOT = Path(__file__).resolve().parents[2]
PASSPHRASE = "two wet gloves"
PAGES = ("", "pieces", "batches", "evening", "guide", "records")
PLACES = re.compile(r"Waiting: .* in the queue")
BUSY = "wait to be measured"
_LOOK_EVERY_S = 5.0
_CALLED_OFF_EVERY = 7


@dataclass(slots=True)
class Yard:
    """What came of it, as the phones saw it."""

    saved: list[str] = field(default_factory=list)
    refused: int = 0
    called_off: int = 0
    waits_s: list[float] = field(default_factory=list)
    looks_s: list[float] = field(default_factory=list)
    places: set[str] = field(default_factory=set)
    troubles: list[str] = field(default_factory=list)


@contextmanager
def served(data, pieces):
    """Serve the app as `start.py --server` does; give its address and process."""
    save_keys(keys_for(PASSPHRASE), data)
    log = open_log(data)
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 1)), save_token="pour")
    for number in range(pieces):
        piece = Piece(name=f"P{number:02}", pour_id=pour.id)
        add(log, piece, save_token=f"piece {number}")
    port = live._free_port()
    address = f"http://{live.HOST}:{port}"
    surroundings = {
        "STRUCKFACE_DATA": str(data),
        "STRUCKFACE_SHARED_AT": address,
        "STRUCKFACE_ADDRESS": address,
    }
    with subprocess.Popen(
        start.server_command(Path(sys.executable), port, server=True, at=address),
        cwd=ROOT,
        env=os.environ | yard.surroundings() | surroundings,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        try:
            assert live._becomes_healthy(process, port, ""), "The app was not served."
            yield address, process
        finally:
            process.kill()


def photo_of(pixels, number):
    """Return a photo whose bytes nobody else gives: a comment tells them apart."""
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=90, comment=f"photo {number}")
    return file.getvalue()


async def _measures(seen, address, cookies, photos, mm_per_px, piece, goes_on):
    """Measure and save one photo after the other, as long as it goes on."""
    while goes_on():
        try:
            async with Phone(address, cookies, "measure") as phone:
                while goes_on():
                    count = await _one(seen, phone, next(photos), mm_per_px, piece)
                    if count % _CALLED_OFF_EVERY == 0 and goes_on():
                        await _called_off(phone, next(photos), mm_per_px)
                        seen.called_off += 1
                        break
        except Exception as error:  # noqa: BLE001  told in the table, not hidden
            seen.troubles.append(f"{type(error).__name__}: {error}"[:300])


async def _marked(phone, data, mm_per_px):
    if phone.find("upload") is None:
        await phone.press("Take another photo")
    await phone.give("upload", data, "face.jpg")
    await phone.press("Right")
    if phone.find("Go on: scale") is not None:
        await phone.press("Go on: scale")
    if phone.find("scale way") is not None:
        await phone.pick("scale way", "mm per px")
    await phone.type("mm per px", f"{mm_per_px:g}")


async def _one(seen, phone, data, mm_per_px, piece):
    await _marked(phone, data, mm_per_px)
    while True:
        begun = time.monotonic()
        await phone.press("Measure")
        seen.places |= {said for said in phone.told if PLACES.fullmatch(said)}
        if not any(BUSY in said for said in phone.told):
            break
        seen.refused += 1
        await asyncio.sleep(1.0)
    seen.waits_s.append(time.monotonic() - begun)
    await phone.press("Change")
    await phone.pick("piece way", "One in the log")
    await phone.choose("piece known", piece)
    save = phone._need("save").id
    await phone.run(trigger=save)
    if not any("Saved." in said for said in phone.told):
        msg = f"Nothing was said of a save: {phone.told}"
        raise AssertionError(msg)
    seen.saved.append(digest(data))
    count = len(seen.saved)
    # A thumb that trembles: the second press must save nothing.
    await phone.run(trigger=save)
    return count


async def _called_off(phone, data, mm_per_px):
    """Measure, and go out of reach before it has ended."""
    await _marked(phone, data, mm_per_px)
    with suppress(TimeoutError):
        await asyncio.wait_for(phone.press("Measure"), 0.3)


async def _looks(seen, address, cookies, page, goes_on):
    """Keep a page open, and look at it anew now and then."""
    try:
        async with Phone(address, cookies, page) as phone:
            while goes_on():
                begun = time.monotonic()
                await phone.run()
                seen.looks_s.append(time.monotonic() - begun)
                await asyncio.sleep(_LOOK_EVERY_S)
    except Exception as error:  # noqa: BLE001  told in the table, not hidden
        seen.troubles.append(f"{page}: {type(error).__name__}: {error}"[:300])


async def at_work(address, pixels, *, mm_per_px, sessions, pages, goes_on, seen=None):
    """Let phones measure and pages stay open; return what they saw.

    Parameters
    ----------
    address : str
    pixels : ndarray of uint8, (rows, cols, 3)
        Of every photo; their bytes differ.
    mm_per_px : float
    sessions, pages : int
        Phones that measure; pages open in all, theirs too.
    goes_on : callable
        Given what was seen so far: whether to begin with another photo.
    seen : Yard, optional
        Filled as it goes, for whoever cuts it off.
    """
    seen = Yard() if seen is None else seen
    photos = (photo_of(pixels, number) for number in itertools.count())
    devices = [
        await asyncio.to_thread(signed_in, address, PASSPHRASE) for _ in range(sessions)
    ]
    named = itertools.cycle(PAGES)
    await asyncio.gather(
        *(
            _measures(
                seen,
                address,
                device,
                photos,
                mm_per_px,
                f"P{number:02}",
                lambda: goes_on(seen),
            )
            for number, device in enumerate(devices)
        ),
        *(
            _looks(seen, address, devices[0], next(named), lambda: goes_on(seen))
            for _ in range(pages - sessions)
        ),
    )
    return seen


def kept(data):
    """Return how many readings the log has of each photo, by sha256."""
    return Counter(line.photo_sha256 for line in list_readings(open_log(data)))


def peak_bytes(process):
    """Return the most memory a process has held and what it holds now (Linux)."""
    status = Path(f"/proc/{process.pid}/status")
    if not status.is_file():
        return float("nan"), float("nan")
    told = status.read_text(encoding="utf-8")
    most, now = (
        int(re.search(rf"{name}:\s+(\d+) kB", told)[1]) * 1024
        for name in ("VmHWM", "VmRSS")
    )
    return most, now
