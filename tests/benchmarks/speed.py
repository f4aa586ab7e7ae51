"""Speed of measuring, as ratios within one run; memory; the same bytes every time.

    python tests/benchmarks/speed.py [--repeats 3] [--only speed|memory|bytes]
        [--rows calm usual noisy mottled few many]

Twelve megapixels on one thread, judged in processor time, which other work on the
machine hardly moves: 1,500 voids on faces of different noise against a plain
recipe (grey, local threshold, labels, region table) on the same face; 50 voids
against the recipe; 20,000 voids against 1,500. Peak memory of a child process that
measures 48 megapixels. Figures and mask of one photo, byte for byte, with 1, 2 and 4
threads and on repeated runs.
"""

from __future__ import annotations

import argparse
import hashlib
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
from tests.benchmarks.real_summary import met, table

MM_PER_PX = 0.125
UNCODED = "The drawn face could not be coded as JPEG."
MEMORY_LIMIT_GB = 1.5
SIZES = {"3": (1500, 2000), "12": (3000, 4000), "48": (6000, 8000)}
# Noise in counts of 255 and fine mottling as a share of the light: more would fill
# the recipe with specks and flatter the measuring; mottling fills the measuring with
# spots to decide on.
FACES = {"calm": (0.7, 0.0), "usual": (2.0, 0.0), "noisy": (2.5, 0.0),
         "mottled": (2.0, 0.025)}  # fmt: skip
ROWS = (*FACES, "few", "many")
MOTTLE_PX = 7.0
MOST_OVER_PLAIN, MOST_OF_FEW, MOST_OF_MANY = 1.5, 0.6, 4.0
THREADS = (1, 2, 4)
RUNS = 2  # of each number of threads
LEAST_STAMPS = 3


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


def large_face(shape, voids, seed=7, noise=2.0, mottle=0.0):
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
    fitting = [stamp for stamp in stamps if max(stamp.shape) < min(pitch) - 2]
    stamps = fitting if len(fitting) >= LEAST_STAMPS else stamps
    for index in rng.permutation(cells * across)[:voids]:
        stamp = stamps[rng.integers(len(stamps))]
        stamp = stamp[: int(pitch[0]) - 2, : int(pitch[1]) - 2]
        corner = pitch * divmod(index, across)
        room = pitch - stamp.shape - 1
        row, col = np.int64(corner + rng.uniform(0, 1, 2) * np.maximum(room, 0))
        face[row : row + stamp.shape[0], col : col + stamp.shape[1]] *= stamp
    if mottle:
        spots = rng.standard_normal((shape[0] // 2, shape[1] // 2), dtype=np.float32)
        spots = cv2.GaussianBlur(spots, (0, 0), MOTTLE_PX / 4)
        spots = cv2.resize(spots / spots.std(), shape[::-1])
        face *= 1 + np.float32(mottle) * spots
    pixels = 165 * face[..., None] * np.array([0.97, 1.0, 1.0], np.float32)
    grain = rng.standard_normal(shape, dtype=np.float32)
    pixels += np.float32(noise) * grain[..., None]
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
    """Shortest measuring of a few, s, and how many were found (no mask is written)."""
    runs = [measure(data, MM_PER_PX, with_mask=False) for _ in range(repeats)]
    times = [(run.seconds, run.cpu_seconds) for run in runs]
    return np.min(times, axis=0), runs[-1].figures["void_count"]


def timings(repeats, rows=ROWS, shape=SIZES["12"]):
    """Rows of the table: what, wall s, processor s, ratio, limit, met."""
    cv2.setNumThreads(1)
    measured(large_face(SIZES["3"], 100), 1)  # imports and caches, once
    plain, ours = {}, {}
    # Few and many voids are held against the usual face, in the same run.
    compared = {"usual"} if {"few", "many"} & set(rows) else set()
    for name, (noise, mottle) in FACES.items():
        if name not in {*rows, *compared}:
            continue
        data = large_face(shape, 1500, noise=noise, mottle=mottle)
        plain[name], found = best_of(repeats, plain_recipe, decode(data))
        yield _row(f"plain recipe, {name} ({len(found['area'])} found)", plain[name])
        ours[name], count = measured(data, repeats)
        what = f"1,500 voids, {name} ({count} found), over the recipe"
        yield _row(what, ours[name], plain[name], MOST_OVER_PLAIN)
    if "few" in rows:
        few, count = measured(large_face(shape, 50), repeats)
        what = f"50 voids ({count} found), over the recipe"
        yield _row(what, few, plain["usual"], MOST_OF_FEW)
    if "many" in rows:
        many, count = measured(large_face(shape, 20_000), repeats)
        what = f"20,000 voids ({count} found), over 1,500"
        yield _row(what, many, ours["usual"], MOST_OF_MANY)


def _row(what, seconds, over=None, limit=None):
    cells = [what, *(f"{value:.2f}" for value in seconds)]
    if over is None:
        return [*cells, "", "", ""]
    ratio = float(seconds[1] / over[1])
    return [*cells, f"{ratio:.2f}", f"at most {limit}", met(ratio <= limit)]


# The peak of /proc is of this program alone: getrusage also knows the peak of the
# process that started it, which has just drawn 48 megapixels.
_MEASURE_ALONE = """
import os, sys
from analysis.cli import main
if main(["measure", sys.argv[1], "--mm-per-px", sys.argv[2], "--json", os.devnull]):
    raise SystemExit(1)
with open("/proc/self/status") as status:
    print(next(line.split()[1] for line in status if line.startswith("VmHWM")))
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


_MEASURE_TO_FILES = """
import sys
import cv2
from analysis.cli import main
cv2.setNumThreads(int(sys.argv[4]))
raise SystemExit(main([
    "measure", sys.argv[1], "--mm-per-px", sys.argv[2],
    "--json", sys.argv[3] + "/figures.json", "--mask", sys.argv[3] + "/mask.png",
]))
"""


def threads_environment(threads):
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    return os.environ | dict.fromkeys(names, str(threads))


def digest(data, threads):
    """Sha256 of figures and mask that a process with so many threads writes."""
    with tempfile.TemporaryDirectory() as name:
        photo = Path(name) / "photo.jpg"
        photo.write_bytes(data)
        arguments = [str(photo), str(MM_PER_PX), name, str(threads)]
        subprocess.run(
            [sys.executable, "-c", _MEASURE_TO_FILES, *arguments],
            check=True,
            env=threads_environment(threads),
            cwd=Path(__file__).parents[2],
        )
        parts = [
            (Path(name) / part).read_bytes() for part in ("figures.json", "mask.png")
        ]
    return hashlib.sha256(b"".join(parts)).hexdigest()


def same_bytes(data, threads=THREADS, runs=RUNS):
    """Lines: the digest of every run, and whether they are one."""
    found = [(count, digest(data, count)) for count in threads for _ in range(runs)]
    for count, sha in found:
        yield f"{count} thread(s): {sha[:16]}"
    one = len({sha for _, sha in found}) == 1
    yield (
        f"Same bytes of figures and mask in {len(found)} runs with "
        f"{', '.join(map(str, threads))} threads: {met(one)}."
    )


def memory_line():
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "large.jpg"
        path.write_bytes(large_face(SIZES["48"], 6000))
        peak, seconds = peak_memory_gb(path)
    return (
        f"48 MP, 6,000 voids: peak {peak:.2f} GB (at most {MEMORY_LIMIT_GB} GB: "
        f"{met(peak <= MEMORY_LIMIT_GB)}), {seconds:.1f} s with the process's start."
    )


def _say(line=""):
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main():
    parser = argparse.ArgumentParser(description="Speed and memory of measuring.")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--only", choices=["speed", "memory", "bytes"])
    parser.add_argument(
        "--rows", nargs="+", choices=ROWS, default=ROWS, help="of the table of speed"
    )
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.here:
        head = ("12 MP, one thread", "s", "processor s", "ratio", "wanted", "met")
        for line in table(head, timings(asked.repeats, asked.rows)):
            _say(line)
        return
    if asked.only in {None, "speed"}:
        # a process whose libraries start with one thread
        command = [sys.executable, __file__, "--here", "--repeats", str(asked.repeats)]
        command += ["--rows", *asked.rows]
        subprocess.run(command, check=True, env=threads_environment(1))
        _say()
    if asked.only in {None, "memory"}:
        _say(memory_line())
        _say()
    if asked.only in {None, "bytes"}:
        for line in same_bytes(large_face(SIZES["3"], 400)):
            _say(line)


if __name__ == "__main__":
    main()
