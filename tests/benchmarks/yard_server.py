"""A yard of phones on one server: nothing lost, nothing doubled, memory bounded.

    python tests/benchmarks/yard_server.py [--minutes 5] [--sessions 20] [--pages 40]

The app is served as `ui/start.py --server` does, and spoken to as a browser's page
does: sign-in, one socket a page, uploads, presses. Each phone measures and saves one
photo after the other and presses Save twice; every seventh save of all, a phone goes
out of reach in the middle of measuring. Other pages are looked at anew every 5 s.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.real_summary import met, table
from tests.support import yard

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images/trough_joints_sealed.jpg"
MM_PER_PX, SAMPLE_MEGAPIXELS = 0.2, 1.92
MEMORY_LIMIT_GB = 4.0
# How long photos in hand at the end may take.
TAIL_S = 60.0


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--sessions", type=int, default=20)
    parser.add_argument("--pages", type=int, default=40)
    parser.add_argument("--megapixels", type=float, default=2.0)
    asked = parser.parse_args()
    zoom = (asked.megapixels / SAMPLE_MEGAPIXELS) ** 0.5
    drawn = cv2.imread(str(SAMPLE))[..., ::-1]
    pixels = np.ascontiguousarray(
        cv2.resize(drawn, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC)
    )
    with tempfile.TemporaryDirectory() as name:
        data = Path(name)
        with yard.served(data, asked.sessions) as (address, process):
            _, at_start = yard.peak_bytes(process)
            began = time.monotonic()
            end = began + 60 * asked.minutes
            seen, cut = yard.Yard(), False
            work = yard.at_work(
                address,
                pixels,
                mm_per_px=MM_PER_PX / zoom,
                sessions=asked.sessions,
                pages=asked.pages,
                goes_on=lambda _seen: time.monotonic() < end,
                seen=seen,
            )
            try:
                asyncio.run(asyncio.wait_for(work, 60 * asked.minutes + TAIL_S))
            except TimeoutError:
                cut = True
            seconds = time.monotonic() - began
            peak, at_end = yard.peak_bytes(process)
            alive = process.poll() is None
        kept = yard.kept(data)
    lost = sum(one not in kept for one in seen.saved)
    doubled = sum(count > 1 for count in kept.values())
    untold = set(kept) - set(seen.saved)
    places = ", ".join(sorted(one[9:-13] for one in seen.places)) or "-"
    waits, looks = np.array(seen.waits_s or [0.0]), np.array(seen.looks_s or [0.0])
    rows = [
        ("photos saved", str(len(seen.saved)), "", ""),
        ("saved and lost", str(lost), "0", met(lost == 0)),
        ("saved twice", str(doubled), "0", met(doubled == 0)),
        ("refused for want of room, then tried again", str(seen.refused), "", ""),
        ("called off while measuring", str(seen.called_off), "", ""),
        ("readings whose phone was not told", str(len(untold)),
         "" if cut else "0", "" if cut else met(not untold)),
        ("phones cut off at the end with a photo in hand", "yes" if cut else "no", "",
         ""),
        ("other troubles", str(len(seen.troubles)), "0", met(not seen.troubles)),
        ("server's memory at start, most, at end, GB",
         ", ".join(f"{one / 1e9:.2f}" for one in (at_start, peak, at_end)),
         f"most {MEMORY_LIMIT_GB:g}", met(peak / 1e9 <= MEMORY_LIMIT_GB)),
        ("from Measure to the figure, median and longest, s",
         f"{np.median(waits):.0f}, {waits.max():.0f}", "", ""),
        ("open pages drawn anew, how often; median and longest, s",
         f"{len(seen.looks_s)}; {np.median(looks):.1f}, {looks.max():.1f}", "", ""),
        ("places told while waiting", places, "", ""),
        ("server alive at the end", "yes" if alive else "no", "yes", met(alive)),
    ]  # fmt: skip
    said = f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end"
    phones = f"{asked.sessions} phones measuring photos of {asked.megapixels:g} MP"
    lines = [
        f"{phones}, {asked.pages} pages open, {seconds / 60:.1f} minutes, {said}.",
        "",
        *table(("what", "figure", "wanted", "met"), rows),
        *(f"\n- {trouble}" for trouble in seen.troubles[:8]),
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
