"""Drawn pairs: one face of the second renderer, photographed by hand in two lights.

    python tests/benchmarks/pair_faces.py FOLDER [--kinds a b] [--seeds 1]

writes both photos and the truth, to look at. The first photo looks straight at the
face; the second is shifted, turned, tilted and scaled as a hand does between two
shots. Both see a part of a larger scene, so that neither runs out of face.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.faces import KINDS, SEEDS, _truth
from tests.benchmarks.faces_camera import expose, lit, sky_seen
from tests.benchmarks.faces_marks import MARKS
from tests.benchmarks.faces_scene import bare_scene, scatter_pits

PAIR_BASE = 73_009
HIGH_PX, WIDE_PX = 800, 1000
MARGIN_PX = 100
SHIFT_PX, TURN_DEGREES, TILT_DEGREES, STRETCH = 60.0, 2.0, 3.0, 0.03
# Distance of the camera over the photo's width: a phone's usual lens.
DISTANCE = 0.75
LAMP_DEGREES, AMBIENT, AMBIENT_CHANGE = (20.0, 70.0), (0.0, 0.7), 0.15
SIDE_DEGREES = 25.0
LEVELS, QUALITY = (0.75, 1.25), (85, 96)

PAIR_KINDS = (
    "grain", "fine_grain", "terrazzo", "stains", "damp", "bloom", "board_grain",
    "mid_light", "few", "shallow", "big", "white", "black",
    "clean_mid", "clean_mottled", "clean_stained", "clean_white",
)  # fmt: skip
EASY = {"mid_light", "few", "shallow", "big", "white", "black"}
GRAINY = {"grain", "fine_grain", "terrazzo"}
MARKED = {"stains", "damp", "bloom", "board_grain"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnPair:
    """Two drawn photos of one face and the truth in the frame of the first.

    `to_second` carries (x, y, 1) px of the first photo to the second; `lamps` holds
    azimuth, elevation (degrees) and the lamp's part of the light, photo by photo;
    the truth is as in `faces.DrawnFace`.
    """

    kind: str
    seed: int
    first: bytes
    second: bytes
    mm_per_px: float
    to_second: np.ndarray
    lamps: np.ndarray
    labels: np.ndarray
    area_px: np.ndarray
    cover: np.ndarray
    lines: np.ndarray

    @property
    def ambient(self):
        """Largest part of the light that comes from all round."""
        return 1 - float(self.lamps[:, 2].min())

    @property
    def between_degrees(self):
        """Angle between the two lamps as seen in the picture."""
        apart = self.lamps[0, 0] - self.lamps[1, 0]
        return abs((apart + 180) % 360 - 180)


def larger(size_px):
    """How many times longer a photo is than the usual drawn one; 1 or more."""
    return max(1, round(size_px[1] / WIDE_PX))


def hand_motion(rng, wide, high):
    """Homography from px of the first photo to px of the second."""
    turn = np.radians(rng.uniform(-TURN_DEGREES, TURN_DEGREES))
    stretch = 1 + rng.uniform(-STRETCH, STRETCH)
    centre = np.array([[1, 0, -wide / 2], [0, 1, -high / 2], [0, 0, 1.0]])
    spin = np.array(
        [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]
    )
    # A pinhole camera turned about its own axes by small angles, looking at a plane.
    tilt, about = np.radians(rng.uniform(-TILT_DEGREES, TILT_DEGREES, 2))
    far = DISTANCE * wide
    lean = np.array(
        [
            [np.cos(about), 0, 0],
            [0, np.cos(tilt), 0],
            [np.sin(about) / far, np.sin(tilt) / far, 1],
        ]
    )
    most = SHIFT_PX * larger((high, wide))
    away, side = rng.uniform(0, most), rng.uniform(0, 2 * np.pi)
    shift = np.array([[1, 0, away * np.cos(side)], [0, 1, away * np.sin(side)]])
    shift = np.vstack([shift, [0, 0, 1]])
    matrix = (
        np.linalg.inv(centre)
        @ shift
        @ np.diag([stretch, stretch, 1])
        @ spin
        @ lean
        @ centre
    )
    return matrix / matrix[2, 2]


def two_lamps(rng):
    """Azimuth, elevation (degrees) and lamp's part: once from left, once from right."""
    ambient = rng.uniform(*AMBIENT)
    lamps = []
    for side in (180.0, 0.0):
        share = ambient + rng.uniform(-AMBIENT_CHANGE, AMBIENT_CHANGE) / 2
        lamps.append(
            (
                side + rng.uniform(-SIDE_DEGREES, SIDE_DEGREES),
                rng.uniform(*LAMP_DEGREES),
                1 - float(np.clip(share, *AMBIENT)),
            )
        )
    return np.array(lamps if rng.random() < 0.5 else lamps[::-1])


def draw_scene(name, rng, size_px, margin_px=MARGIN_PX):
    """Relief and colour of a face, larger than a photo by a margin."""
    kind = KINDS[name]
    # A large photo shows the same face in more px: no more texture to line up by.
    px_per_mm = rng.uniform(*kind.px_per_mm) * larger(size_px)
    fine = 3 if px_per_mm < 4 else 2
    shape = tuple((side + 2 * margin_px) * fine for side in size_px)
    scene = bare_scene(
        rng,
        shape,
        1 / (px_per_mm * fine),
        roughness=kind.roughness,
        waviness_mm=0.05,
        mottle=kind.mottle,
        tint=kind.tint,
    )
    scatter_pits(
        scene,
        rng,
        share=rng.uniform(*kind.share_percent) / 100,
        median_mm=kind.median_mm,
        spread=kind.spread,
        range_mm=kind.range_mm,
        touching=kind.touching,
        weights=kind.profiles,
    )
    for mark in kind.marks:
        MARKS[mark](scene, rng)
    return scene, fine, px_per_mm


def photographed(scene, rng, fine, lamp, sky, camera, size_px, matrix):
    """JPEG of the scene under a lamp, seen through a homography of camera px."""
    azimuth, elevation, part = lamp
    light = lit(scene, np.radians(azimuth), np.radians(elevation), part, sky=sky)
    warm = np.array([1.0, 0.985, 0.96], np.float32) ** rng.uniform(-1, 1)
    radiance = (scene.albedo * light[..., None] * warm).astype(np.float32)
    high, wide = size_px
    # Fine samples sit at px centres: camera px x is fine sample fine * x + (fine-1)/2.
    grow = np.array([[fine, 0, (fine - 1) / 2], [0, fine, (fine - 1) / 2], [0, 0, 1]])
    beside = MARGIN_PX * larger(size_px)
    margin = np.array([[1, 0, beside], [0, 1, beside], [0, 0, 1.0]])
    scene_of_photo = grow @ margin @ np.linalg.inv(matrix) @ np.linalg.inv(grow)
    radiance = cv2.warpPerspective(
        radiance,
        scene_of_photo,
        (wide * fine, high * fine),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    camera = replace(
        camera,
        level=float(np.clip(camera.level * rng.uniform(*LEVELS), 40, 225)),
        quality=int(rng.integers(*QUALITY)),
    )
    return expose(radiance, rng, camera, fine)


def draw_pair(name, seed, base=PAIR_BASE, *, size_px=(HIGH_PX, WIDE_PX), lamps=None):
    """Draw the `seed`-th pair of a kind; `lamps` as in `DrawnPair`, else by hand."""
    rng = np.random.default_rng([base, zlib.crc32(name.encode()), seed])
    beside = MARGIN_PX * larger(size_px)
    scene, fine, px_per_mm = draw_scene(name, rng, size_px, beside)
    sky = sky_seen(scene.height_mm, scene.step_mm)
    drawn = two_lamps(rng)
    lamps = drawn if lamps is None else np.asarray(lamps, float)
    motion = hand_motion(rng, size_px[1], size_px[0])
    camera = KINDS[name].camera
    photos = [
        photographed(scene, rng, fine, lamp, sky, camera, size_px, matrix)
        for lamp, matrix in zip(lamps, (np.eye(3), motion), strict=True)
    ]
    inner = slice(beside * fine, -beside * fine)
    seen = replace_arrays(scene, inner)
    truth = _truth(seen, size_px, fine, 1.0)
    return DrawnPair(
        kind=name,
        seed=seed,
        first=photos[0],
        second=photos[1],
        mm_per_px=1 / px_per_mm,
        to_second=motion,
        lamps=lamps,
        labels=truth["labels"],
        area_px=truth["area_px"],
        cover=truth["cover"],
        lines=truth["lines"],
    )


def replace_arrays(scene, inner):
    """The part of a scene that the first photo shows."""
    arrays = ("height_mm", "albedo", "labels", "gloom", "honeycomb", "lines")
    return replace(
        scene, **{name: getattr(scene, name)[inner, inner].copy() for name in arrays}
    )


ARRAYS = ("to_second", "lamps", "labels", "area_px", "cover", "lines")


def draw_pair_once(name, seed, base, folder, size_px=(HIGH_PX, WIDE_PX)):
    """Draw, or read what was drawn before by the same drawing."""
    if folder is None:
        return draw_pair(name, seed, base, size_px=size_px)
    here = Path(__file__).parent
    sources = [*sorted(here.glob("faces*.py")), here / "pair_faces.py"]
    version = zlib.crc32(b"".join(path.read_bytes() for path in sources))
    large = "" if larger(size_px) == 1 else f"_{size_px[1]}"
    path = folder / f"{version:08x}_{name}_{seed}_{base}{large}.npz"
    if path.exists():
        with np.load(path) as kept:
            known = {key: kept[key] for key in kept.files}
        for key in ("first", "second"):
            known[key] = known[key].tobytes()
        known["mm_per_px"] = float(known["mm_per_px"])
        return DrawnPair(kind=name, seed=seed, **known)
    pair = draw_pair(name, seed, base, size_px=size_px)
    folder.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        path,
        first=np.frombuffer(pair.first, np.uint8),
        second=np.frombuffer(pair.second, np.uint8),
        mm_per_px=pair.mm_per_px,
        **{key: getattr(pair, key) for key in ARRAYS},
    )
    return pair


def main():
    parser = argparse.ArgumentParser(description="Write drawn pairs to look at.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--kinds", nargs="+", choices=PAIR_KINDS, default=PAIR_KINDS)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--seed-base", type=int, default=PAIR_BASE)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name in asked.kinds:
        for seed in range(asked.seeds):
            pair = draw_pair(name, seed, asked.seed_base)
            stem = asked.folder / f"{name}_{seed}"
            Path(f"{stem}_first.jpg").write_bytes(pair.first)
            Path(f"{stem}_second.jpg").write_bytes(pair.second)
            cv2.imwrite(f"{stem}_truth.png", np.uint8(255 * (pair.labels > 0)))


if __name__ == "__main__":
    main()
