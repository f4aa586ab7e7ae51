"""Speed of measuring, as ratios within one run; and peak memory.

    python tests/benchmarks/speed.py [--repeats 3] [--no-memory]

A 12-megapixel face with 1,500 voids against (a) decoding its JPEG and (b) a plain
recipe: grey, local threshold, labels, region table. Fifty voids against 5,000.
Peak memory of a child process that measures a 48-megapixel photo.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
from skimage.filters import threshold_local
from skimage.measure import label, regionprops_table

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.faces_scene import bare_scene, draw_pit
from tests.benchmarks.measuring import measure

MM_PER_PX = 0.125
UNCODED = "The drawn face could not be coded as JPEG."
MEMORY_LIMIT_GB = 1.5
SIZES = {"12": (3000, 4000), "48": (6000, 8000)}


def _pit_stamps(rng, count=24):
    """Small pictures of pits as factors of the ground, lit from the left."""
    stamps = []
    for radius_mm in np.clip(0.9 * np.exp(0.45 * rng.standard_normal(count)), 0.4, 3):
        side = int(2.6 * radius_mm / MM_PER_PX) + 8
        scene = bare_scene(
            rng,
            (2 * side, 2 * side),
            MM_PER_PX / 2,
            roughness=0,
            waviness_mm=0,
            mottle=0,
            tint=(1, 1, 1),
        )
        centre = (side * MM_PER_PX / 2, side * MM_PER_PX / 2)
        draw_pit(scene, rng, centre, radius_mm)
        slope = cv2.Sobel(scene.height_mm, cv2.CV_32F, 1, 0, ksize=1) / MM_PER_PX
        inside = scene.labels > 0
        lit = np.where(inside, np.clip(0.45 - 0.3 * slope, 0.12, 1.15), 1)
        lit = cv2.resize(np.float32(lit), (side, side), interpolation=cv2.INTER_AREA)
        stamps.append(cv2.GaussianBlur(lit, (0, 0), 0.7))
    return stamps


def large_face(shape, voids, seed=7):
    """JPEG bytes of a large face with about `voids` pits, each in a cell of its own."""
    rng = np.random.default_rng([seed, voids])
    small = (shape[0] // 4, shape[1] // 4)
    ground = bare_scene(
        rng,
        small,
        4 * MM_PER_PX,
        roughness=0,
        waviness_mm=0,
        mottle=0.05,
        tint=(1, 1, 1),
    ).albedo[..., 1]
    face = cv2.resize(ground, shape[::-1], interpolation=cv2.INTER_CUBIC)
    stamps = _pit_stamps(rng)
    cells = int(np.ceil(np.sqrt(voids * shape[0] / shape[1])))
    across = int(np.ceil(voids / cells))
    pitch = np.array([shape[0] / cells, shape[1] / across])
    for index in rng.permutation(cells * across)[:voids]:
        stamp = stamps[rng.integers(len(stamps))]
        stamp = stamp[: int(pitch[0]) - 2, : int(pitch[1]) - 2]
        corner = pitch * divmod(index, across)
        room = pitch - stamp.shape - 1
        row, col = np.int64(corner + rng.uniform(0, 1, 2) * np.maximum(room, 0))
        face[row : row + stamp.shape[0], col : col + stamp.shape[1]] *= stamp
    pixels = 165 * face[..., None] * np.array([0.97, 1.0, 1.0], np.float32)
    noise = rng.standard_normal(shape, dtype=np.float32)
    pixels += 2.0 * noise[..., None]
    done, data = cv2.imencode(
        ".jpg", np.uint8(np.clip(pixels, 0, 255)), [cv2.IMWRITE_JPEG_QUALITY, 92]
    )
    if not done:
        raise RuntimeError(UNCODED)
    return data.tobytes()


def decode(data):
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def plain_recipe(image):
    """Count voids the plain way: what any short script would do."""
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    dark = grey < threshold_local(grey, 151, method="gaussian", offset=15)
    names = ("area", "equivalent_diameter_area", "feret_diameter_max", "centroid")
    return regionprops_table(label(dark), properties=names)


def best_of(repeats, work, *args):
    """Shortest of a few runs, wall and processor s, and the last result."""
    times, result = [], None
    for _ in range(repeats):
        start, cpu_start = time.perf_counter(), time.process_time()
        result = work(*args)
        times.append((time.perf_counter() - start, time.process_time() - cpu_start))
    return np.min(times, axis=0), result


def measured(data, repeats):
    """Shortest measuring of a few, s, and what was found (no mask is written)."""
    runs = [measure(data, MM_PER_PX, with_mask=False) for _ in range(repeats)]
    times = [(run.seconds, run.cpu_seconds) for run in runs]
    return np.min(times, axis=0), runs[-1].figures["void_count"]


def _row(what, seconds, ours=None):
    over = ("", "") if ours is None else (f"{ratio:.2f}" for ratio in ours / seconds)
    return what, *(f"{value:.2f}" for value in seconds), *over


def timings(threads, repeats):
    """Rows of the table for a number of threads."""
    cv2.setNumThreads(threads)
    data = large_face(SIZES["12"], 1500)
    decoding, image = best_of(repeats, decode, data)
    plain, rows = best_of(repeats, plain_recipe, image)
    measured(data, 1)  # imports and caches, once
    ours, count = measured(data, repeats)
    yield _row(f"measure: 12 MP, 1,500 voids ({count} found)", ours)
    yield _row("(a) JPEG decode", decoding, ours)
    yield _row(f"(b) plain recipe ({len(rows['area'])} found)", plain, ours)
    yield _row("(a) and (b)", decoding + plain, ours)
    seconds = {}
    for voids in (50, 5000):
        seconds[voids], count = measured(large_face(SIZES["12"], voids), repeats)
        yield _row(f"measure: {voids} voids ({count} found)", seconds[voids])
    ratio = seconds[5000] / seconds[50]
    yield "5,000 voids over 50, times", *(f"{value:.2f}" for value in ratio), "", ""


_MEASURE_ALONE = """
import os, resource, sys
from analysis.cli import main
if main(["measure", sys.argv[1], "--mm-per-px", sys.argv[2], "--json", os.devnull]):
    raise SystemExit(1)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def peak_memory_gb(path):
    """Peak memory of a process that only measures, GB, and its seconds."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE_ALONE, str(path), str(MM_PER_PX)],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    return float(done.stdout) * 1024 / 1e9, time.perf_counter() - start


def _run_with_threads(threads, repeats):
    """Timings in a process whose libraries start with this many threads."""
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    environment = os.environ | dict.fromkeys(names, str(threads))
    command = [sys.executable, __file__, "--threads", str(threads)]
    subprocess.run([*command, "--repeats", str(repeats)], check=True, env=environment)


def _show_timings(threads, repeats):
    sys.stdout.write(
        f"\n| {threads} thread(s) | s | processor s | measure over it: s | cpu |\n"
    )
    sys.stdout.write("|---|---|---|---|---|\n")
    for row in timings(threads, repeats):
        sys.stdout.write("| " + " | ".join(row) + " |\n")
        sys.stdout.flush()


def _show_memory():
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "large.jpg"
        path.write_bytes(large_face(SIZES["48"], 6000))
        peak, seconds = peak_memory_gb(path)
    verdict = "met" if peak <= MEMORY_LIMIT_GB else "NOT met"
    sys.stdout.write(
        f"\n48 MP, 6,000 voids: peak {peak:.2f} GB (at most {MEMORY_LIMIT_GB} GB: "
        f"{verdict}), {seconds:.1f} s with the start of the process.\n"
    )


def main():
    parser = argparse.ArgumentParser(description="Speed and memory of measuring.")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--threads", type=int, help="only this many, in this process")
    parser.add_argument("--no-memory", action="store_true")
    asked = parser.parse_args()
    if asked.threads:
        _show_timings(asked.threads, asked.repeats)
    else:
        for threads in (1, 2):
            _run_with_threads(threads, asked.repeats)
        if not asked.no_memory:
            _show_memory()


if __name__ == "__main__":
    main()
