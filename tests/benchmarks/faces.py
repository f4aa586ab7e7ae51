"""Drawn faces whose voids are known: the kinds, and the drawing of one of them.

    python tests/benchmarks/faces.py FOLDER [--kinds a b] [--seeds 1]

writes the photos, and their truth beside them, to look at. The drawing shares
nothing with the measuring nor with `analysis.synthetic`.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.faces_camera import Camera, expose, look_slanted, shade
from tests.benchmarks.faces_marks import MARKS
from tests.benchmarks.faces_scene import USUAL_PROFILES, bare_scene, scatter_pits

REPORTING_BASE = 40_961
SEEDS = 5
HIGH_PX, WIDE_PX = 800, 1000

# What makes a face hard: grain, scratches, heavy noise or blur. All else is easy.
HARD_MARKS = {"grain", "fine_grain", "terrazzo", "board_grain", "scratches"}
HARD_MARKS |= {"fibre_shadows"}
GRAIN_MARKS = {"grain", "fine_grain", "terrazzo"}
HEAVY_NOISE, HEAVY_BLUR_PX, HEAVY_JPEG = 5.0, 1.2, 50

WHITE = {"level": 214, "tint": (1.0, 1.0, 0.98)}
BLACK = {"level": 66, "tint": (1.0, 1.0, 1.02)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of face; a seed makes one of its kind."""

    light: str = "mid"
    px_per_mm: tuple[float, float] = (5.0, 11.0)
    share_percent: tuple[float, float] = (0.4, 1.2)
    median_mm: float = 1.7
    spread: float = 0.55
    range_mm: tuple[float, float] = (0.35, 12.0)
    touching: float = 0.06
    profiles: tuple[float, ...] = USUAL_PROFILES
    marks: tuple[str, ...] = ()
    tint: tuple[float, float, float] = (1.0, 0.99, 0.95)
    mottle: float = 0.045
    roughness: float = 0.6
    camera: Camera = field(default_factory=Camera)

    @property
    def tier(self):
        if self.share_percent[1] == 0 and "honeycomb" not in self.marks:
            return "clean"
        camera = self.camera
        hard = (
            HARD_MARKS & set(self.marks)
            or camera.noise >= HEAVY_NOISE
            or camera.blur_px >= HEAVY_BLUR_PX
            or camera.quality <= HEAVY_JPEG
        )
        return "hard" if hard else "easy"

    @property
    def grainy(self):
        """Whether stones in the face itself look like voids."""
        return bool(GRAIN_MARKS & set(self.marks))


def _kind(marks="", *, level=165, **given):
    """Make a kind; camera settings and face settings in one list."""
    names = set(Camera.__dataclass_fields__)
    seen = {k: given.pop(k) for k in list(given) if k in names}
    camera = Camera(level=level, **seen)
    return Kind(marks=tuple(marks.split()), camera=camera, **given)


_MANY = {"share_percent": (1.8, 3.5)}
_CLEAN = {"share_percent": (0.0, 0.0)}
KINDS = {
    # light
    "flat_light": _kind(light="flat"),
    "mid_light": _kind(),
    "raking_light": _kind(light="raking"),
    # how many, how large
    "few": _kind(share_percent=(0.06, 0.15)),
    "many": _kind(**_MANY, touching=0.12),
    "tiny": _kind(
        median_mm=0.9, spread=0.4, range_mm=(0.35, 3.0), share_percent=(0.25, 0.7)
    ),
    "big": _kind(
        median_mm=6.0,
        spread=0.5,
        range_mm=(1.0, 24.0),
        share_percent=(1.5, 4.0),
        px_per_mm=(5.0, 7.0),
    ),
    "shallow": _kind(profiles=(0.2, 0.15, 0.0, 0.15, 0.5)),
    "touching": _kind(touching=0.3, share_percent=(1.0, 2.0)),
    "honeycomb": _kind("honeycomb", share_percent=(0.2, 0.6), px_per_mm=(5.0, 7.0)),
    # colour
    "white": _kind(**WHITE),
    "white_raking": _kind(**WHITE, light="raking"),
    "black": _kind(**BLACK),
    "tinted": _kind(tint=(1.25, 0.86, 0.62), level=130),
    # what is no void
    "stains": _kind("stains"),
    "mottled": _kind("mottle", mottle=0.07),
    "bloom": _kind("bloom", level=100),
    "damp": _kind("damp"),
    "fins": _kind("fins"),
    "open_joint": _kind("open_joint"),
    "cracks": _kind("cracks"),
    "mould_ribs": _kind("mould_ribs", **WHITE),
    "grain": _kind("grain"),
    "fine_grain": _kind("fine_grain"),
    "terrazzo": _kind("terrazzo"),
    "scratches": _kind("scratches"),
    "board_grain": _kind("board_grain"),
    "fibre_shadows": _kind("fibre_shadows"),
    # camera
    "soft": _kind(blur_px=1.7, sharpen=0.0),
    "noisy": _kind(noise=8.0),
    "strong_jpeg": _kind(quality=32),
    "sharpened": _kind(sharpen=1.2, blur_px=0.8),
    "uneven_light": _kind(uneven=0.4),
    "slanted": _kind(tilt_degrees=40.0),
    # resolution
    "px_2_5": _kind(px_per_mm=(2.5, 2.5), median_mm=2.4),
    "px_5": _kind(px_per_mm=(5.0, 5.0)),
    "px_10": _kind(px_per_mm=(10.0, 10.0)),
    "px_16": _kind(px_per_mm=(16.0, 16.0), median_mm=1.4),
    # without a void
    "clean_flat": _kind(**_CLEAN, light="flat"),
    "clean_mid": _kind(**_CLEAN),
    "clean_raking": _kind(**_CLEAN, light="raking"),
    "clean_mottled": _kind("mottle", **_CLEAN, mottle=0.09),
    "clean_stained": _kind("stains", **_CLEAN),
    "clean_bloom": _kind("bloom", **_CLEAN, level=100),
    "clean_noisy": _kind(**_CLEAN, noise=8.0),
    "clean_dark": _kind(**_CLEAN, **BLACK),
    "clean_white": _kind(**_CLEAN, **WHITE),
    "clean_cracked": _kind("cracks", **_CLEAN),
    "clean_jpeg": _kind(**_CLEAN, quality=32),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnFace:
    """A drawn photo and its truth.

    `labels` numbers the openings on the camera's grid (a pixel belongs to one when
    at least half of it is open), `area_px` holds their sub-pixel areas by number,
    `cover` how much of each pixel is open, `honeycomb` the patch's extent, `lines`
    cracks, joints, fins and scratches.
    """

    kind: str
    seed: int
    jpeg: bytes
    mm_per_px: float
    labels: np.ndarray
    area_px: np.ndarray
    cover: np.ndarray
    honeycomb: np.ndarray
    lines: np.ndarray


def draw(name, seed, base=REPORTING_BASE, size_px=(HIGH_PX, WIDE_PX)):
    """Draw the `seed`-th face of a kind."""
    kind = KINDS[name]
    rng = np.random.default_rng([base, zlib.crc32(name.encode()), seed])
    px_per_mm = rng.uniform(*kind.px_per_mm)
    fine = 3 if px_per_mm < 4 else 2
    scene = bare_scene(
        rng,
        (size_px[0] * fine, size_px[1] * fine),
        1 / (px_per_mm * fine),
        roughness=kind.roughness,
        waviness_mm=0.05,
        mottle=kind.mottle,
        tint=kind.tint,
    )
    share = rng.uniform(*kind.share_percent) / 100
    scatter_pits(
        scene,
        rng,
        share=share,
        median_mm=kind.median_mm,
        spread=kind.spread,
        range_mm=kind.range_mm,
        touching=kind.touching,
        weights=kind.profiles,
    )
    for mark in kind.marks:
        MARKS[mark](scene, rng)
    radiance = shade(scene, rng, kind.light)
    tilt = kind.camera.tilt_degrees
    if tilt:
        radiance = look_slanted(radiance, scene.height_mm, scene.step_mm, tilt)
    jpeg = expose(radiance, rng, kind.camera, fine)
    squeeze = np.cos(np.radians(tilt))
    shape = (round(size_px[0] * squeeze), size_px[1])
    return DrawnFace(
        kind=name,
        seed=seed,
        jpeg=jpeg,
        mm_per_px=1 / px_per_mm,
        **_truth(scene, shape, fine, squeeze),
    )


def draw_once(name, seed, base, folder):
    """Draw, or read what was drawn before by the same drawing."""
    return kept(draw, Path(__file__).parent.glob("faces*.py"), name, seed, base, folder)


def kept(drawing, sources, name, seed, base, folder):
    """What a drawing draws, or what it drew before from the same sources."""
    if folder is None:
        return drawing(name, seed, base)
    version = zlib.crc32(b"".join(path.read_bytes() for path in sorted(sources)))
    path = folder / f"{version:08x}_{name}_{seed}_{base}.npz"
    if path.exists():
        with np.load(path) as stored:
            known = {key: stored[key] for key in stored.files}
        known["jpeg"] = known["jpeg"].tobytes()
        known["mm_per_px"] = float(known["mm_per_px"])
        return DrawnFace(kind=name, seed=seed, **known)
    face = drawing(name, seed, base)
    folder.mkdir(parents=True, exist_ok=True)
    arrays = ("mm_per_px", "labels", "area_px", "cover", "honeycomb", "lines")
    np.savez_compressed(
        path,
        jpeg=np.frombuffer(face.jpeg, np.uint8),
        **{key: getattr(face, key) for key in arrays},
    )
    return face


def _truth(scene, shape, fine, squeeze):
    """Labels, areas and cover on the camera's grid."""
    to_camera = shape[1], shape[0]

    def shrunk(mask):
        return cv2.resize(mask.astype(np.float32), to_camera, interpolation=3)

    cover = shrunk(scene.labels > 0)
    # the largest of the fine labels near a pixel: never the ground's 0
    near = cv2.dilate(scene.labels.astype(np.float32), np.ones((fine, fine)))
    labels = cv2.resize(near, to_camera, interpolation=cv2.INTER_NEAREST)
    labels = np.where(cover >= 0.5, labels, 0).astype(np.int32)
    areas = np.bincount(scene.labels.ravel(), minlength=scene.count + 1)[1:]
    return {
        "labels": labels,
        "area_px": areas / fine**2 * squeeze,
        "cover": cover,
        "honeycomb": shrunk(scene.honeycomb) >= 0.5,
        "lines": shrunk(scene.lines) >= 0.3,
    }


def add_choice(parser):
    """Add which faces to draw to a command line."""
    parser.add_argument("--kinds", nargs="+", choices=sorted(KINDS), default=None)
    parser.add_argument("--seeds", type=int, default=SEEDS, help="faces per kind")
    parser.add_argument(
        "--seed-base",
        type=int,
        default=REPORTING_BASE,
        help="another base draws other faces: for tuning",
    )


def main():
    parser = argparse.ArgumentParser(description="Write drawn faces to look at.")
    parser.add_argument("folder", type=Path)
    add_choice(parser)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name in asked.kinds or KINDS:
        for seed in range(asked.seeds):
            face = draw(name, seed, asked.seed_base)
            stem = asked.folder / f"{name}_{seed}"
            stem.with_suffix(".jpg").write_bytes(face.jpeg)
            truth = np.uint8(255 * (face.labels > 0))
            cv2.imwrite(str(stem) + "_truth.png", truth)


if __name__ == "__main__":
    main()
