"""Time and peak memory of reading and measuring photos of up to 200 megapixels.

    python tests/benchmarks/large_photos.py [--megapixels 12 48 108 200]

A drawn face of 3 megapixels is set side by side, mirrored, until it fills the photo;
each size is read and measured in a process of its own (Linux: peak of /proc).
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.synthetic import FaceRecipe, PitPopulation, draw_face

ROOT = Path(__file__).resolve().parents[2]
MM_PER_PX = 0.1
SIZES = {12: (3000, 4000), 48: (6000, 8000), 108: (9000, 12000), 200: (12240, 16320)}
CHILD = """
import sys, time
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed

def peak_gb():
    with open("/proc/self/status") as status:
        kb = next(line.split()[1] for line in status if line.startswith("VmHWM"))
    return int(kb) / 2**20

with open(sys.argv[1], "rb") as file:
    data = file.read()
start = time.perf_counter()
photo = read_photo(data)
read_s, read_gb = time.perf_counter() - start, peak_gb()
start = time.perf_counter()
reading, _ = measure(photo, scale=scale_typed(float(sys.argv[2])))
share = 100 * reading.summary.void_share.value
print(read_s, read_gb, time.perf_counter() - start, peak_gb(), share)
"""


def say(line):
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def tile():
    """A drawn face of 1500 x 2000 px and its true share in percent."""
    pits = PitPopulation(per_m2=8000, median_mm=1.5, spread=0.5, smallest_mm=0.6)
    recipe = FaceRecipe(
        height_px=1500, width_px=2000, mm_per_px=MM_PER_PX, pits=(pits,)
    )
    face = draw_face(recipe, seed=11)
    return np.array(face.pixels), 100 * face.share_of(face.smallest_counted_mm)


def write_photo(path, pixels, shape):
    """JPEG of `shape` made of mirrored tiles."""
    two = np.concatenate([pixels, pixels[::-1]])
    four = np.concatenate([two, two[:, ::-1]], axis=1)
    down, across = (
        -(-size // part) for size, part in zip(shape, four.shape, strict=False)
    )
    whole = np.tile(four, (down, across, 1))[: shape[0], : shape[1], ::-1]
    cv2.imwrite(str(path), whole, [cv2.IMWRITE_JPEG_QUALITY, 92])


def main():
    parser = argparse.ArgumentParser(description="Time and memory of large photos.")
    parser.add_argument("--megapixels", type=int, nargs="+", default=sorted(SIZES))
    asked = parser.parse_args().megapixels
    pixels, truth = tile()
    say(f"true share {truth:.2f} %")
    say("     MP   read s  peak GB  measure s  peak GB  share %")
    for size in asked:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "large.jpg"
            write_photo(path, pixels, SIZES[size])
            done = subprocess.run(
                [sys.executable, "-c", CHILD, str(path), str(MM_PER_PX)],
                capture_output=True,
                text=True,
                check=False,
                env=os.environ | {"PYTHONPATH": str(ROOT)},
            )
        if done.returncode != 0:
            say(f"{size:7d}   failed: {done.stderr.strip().splitlines()[-1:]}")
            continue
        read_s, read_gb, measure_s, measure_gb, share = map(float, done.stdout.split())
        say(
            f"{size:7d} {read_s:8.1f} {read_gb:8.2f} {measure_s:10.1f} "
            f"{measure_gb:8.2f} {share:8.2f}"
        )


if __name__ == "__main__":
    main()
