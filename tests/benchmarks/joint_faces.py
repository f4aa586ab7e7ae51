"""Faces with one joint, as it comes out of the form, with its truth.

What is drawn beside the joint: sand where paste ran out (rough, darker, grains
standing), pits in the sand, a fin where paste squeezed into the gap, an open gap, and
an arris whose edge broke away. Bodies, lights and camera are the third renderer's.
"""

from __future__ import annotations

import sys
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.shop import noise
from tests.benchmarks.shop import surface as surfaces
from tests.benchmarks.shop.camera import Camera, expose, look, parallax, warped
from tests.benchmarks.shop.draw import truth
from tests.benchmarks.shop.light import LIGHTS, shade
from tests.benchmarks.shop.surface import FINE, FORMS
from tests.benchmarks.shop.voids import Population, sink, strew

LIGHT_NAMES = ("overcast", "window", "near_lamp", "low_sun", "flash")
SIZE_PX = (480, 640)
FACE_VOIDS = Population(share_percent=(0.3, 1.2), depth=(0.45, 1.3))
LEAK_VOIDS = Population(
    median_mm=1.5,
    spread=0.45,
    range_mm=(0.5, 7.0),
    depth=(0.5, 1.4),
    weights=(0.35, 0.1, 0.2, 0.0, 0.15, 0.2, 0.0),
    inside=(0.75, 1.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class JointKind:
    """What came of the joint.

    `sand` is the part of the joint's length that leaked, `pits_percent` the share of
    the leaking band in voids, `fin` the part of the length with a fin, `gap_mm` an
    open gap, `breaks_mm2_per_m` the face lost along the arris.
    """

    sand: tuple[float, float] = (0.0, 0.0)
    pits_percent: tuple[float, float] = (0.0, 0.0)
    fin: tuple[float, float] = (0.0, 0.0)
    gap_mm: float = 0.0
    breaks_mm2_per_m: tuple[float, float] = (0.0, 0.0)
    voids: Population = FACE_VOIDS


KINDS = {
    "tight": JointKind(),
    "sand": JointKind(sand=(0.4, 0.9), gap_mm=0.3),
    "sand, clean face": JointKind(
        sand=(0.4, 0.9), voids=Population(share_percent=(0.0, 0.0))
    ),
    "sand and pits": JointKind(
        sand=(0.5, 1.0), pits_percent=(4.0, 14.0), gap_mm=0.3, fin=(0.0, 0.3)
    ),
    "fin": JointKind(fin=(0.3, 0.9)),
    "torn arris": JointKind(breaks_mm2_per_m=(100.0, 700.0)),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointFace:
    """A drawn photo with a joint.

    `line_xy` are the joint's ends in px of the photo; lengths in mm along it; `sandy`
    and `broken` mark bare sand and what broke off.
    """

    kind: str
    light: str
    seed: int
    jpeg: bytes
    mm_per_px: float
    line_xy: np.ndarray
    labels: np.ndarray
    area_px: np.ndarray
    cover: np.ndarray
    joint_mm: float
    sand_mm: float
    fin_mm: float
    breaks_mm2_per_m: float
    sandy: np.ndarray
    broken: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """Distance across and along a joint, mm, for every sample of a surface."""

    across: np.ndarray
    along: np.ndarray
    start_mm: np.ndarray
    towards: np.ndarray
    length_mm: float


def draw(kind_name, light, seed, base, size_px=SIZE_PX):
    """Draw one face.

    Parameters
    ----------
    kind_name : str
        One of `KINDS`.
    light : str
        One of the third renderer's lights.
    seed, base : int
    size_px : tuple of int

    Returns
    -------
    JointFace
    """
    kind = KINDS[kind_name]
    key = [base, zlib.crc32(f"{kind_name}/{light}".encode()), seed]
    rng = np.random.default_rng(key)
    colour = str(rng.choice(["grey", "warm_grey", "white", "dark"]))
    surface = surfaces.bare(rng.uniform(4.0, 7.0), size_px, colour)
    FORMS[str(rng.choice(["film_ply", "steel"]))](surface, rng)
    surfaces.clouds(surface, rng, 0.045, finest_mm=1.5, hurst=0.5)
    surfaces.sand(surface, rng, 0.02, 0.7, 0.8)
    line = _line(surface, rng)
    leaks = _stretches(rng, line.length_mm, rng.uniform(*kind.sand))
    fins = _stretches(rng, line.length_mm, rng.uniform(*kind.fin))
    if kind.gap_mm:
        _open_gap(surface, line, kind.gap_mm)
    reach = rng.uniform(3.0, 8.0)
    sandy = _sand(surface, rng, line, leaks, reach)
    _fin(surface, rng, line, fins)
    broken = _breaks(surface, rng, line, rng.uniform(*kind.breaks_mm2_per_m))
    _pits(surface, rng, line, leaks, reach, rng.uniform(*kind.pits_percent))
    strew(surface, rng, kind.voids)
    view = look(Camera(), rng, size_px, surface.px_per_mm)
    lit = LIGHTS[light](rng, surface.size_mm)
    radiance = shade(surface, lit)
    parallax(radiance, surface, view)
    camera = replace(Camera(), gain=float(rng.uniform(1.5, 6.0)))
    found = truth(surface, view)
    ends = line.start_mm + np.outer([0.0, line.length_mm], line.towards)
    plane = np.float32([ends[:, ::-1] * surface.px_per_mm])
    return JointFace(
        kind=kind_name,
        light=light,
        seed=seed,
        jpeg=expose(radiance, rng, camera, view),
        mm_per_px=1 / view.px_per_mm,
        line_xy=cv2.perspectiveTransform(plane, view.to_photo)[0] - 0.5,
        labels=found["labels"],
        area_px=found["area_px"],
        cover=found["cover"],
        joint_mm=line.length_mm,
        sand_mm=_total(leaks),
        fin_mm=_total(fins),
        breaks_mm2_per_m=np.count_nonzero(broken)
        * surface.step_mm**2
        / line.length_mm
        * 1000,
        sandy=warped(np.float32(sandy), view, FINE) >= 0.5,
        broken=warped(np.float32(broken), view, FINE) >= 0.5,
    )


def _line(surface, rng):
    """Lay a joint right across the face, a little askew."""
    high, wide = surface.size_mm
    upright = rng.random() < 0.5
    lean = rng.normal(0, 0.05)
    if upright:
        start = np.array([0.0, rng.uniform(0.35, 0.65) * wide])
        stop = start + np.array([high, lean * high])
    else:
        start = np.array([rng.uniform(0.35, 0.65) * high, 0.0])
        stop = start + np.array([lean * wide, wide])
    length = float(np.hypot(*(stop - start)))
    towards = (stop - start) / length
    rows = (np.arange(surface.shape[0], dtype=np.float32) + 0.5) * surface.step_mm
    cols = (np.arange(surface.shape[1], dtype=np.float32) + 0.5) * surface.step_mm
    down, right = rows[:, None] - start[0], cols[None] - start[1]
    return _Line(
        across=np.float32(right * towards[0] - down * towards[1]),
        along=np.float32(down * towards[0] + right * towards[1]),
        start_mm=start,
        towards=towards,
        length_mm=length,
    )


def _stretches(rng, length_mm, part):
    """One to three stretches of the joint that make up a part of its length."""
    if part <= 0:
        return []
    if part > 0.97:
        return [(0.0, length_mm)]
    count = int(rng.integers(1, 4))
    pieces = rng.dirichlet(np.full(count, 4.0)) * part * length_mm
    gaps = rng.dirichlet(np.full(count + 1, 2.0)) * (1 - part) * length_mm
    starts = np.cumsum(gaps[:-1]) + np.concatenate([[0.0], np.cumsum(pieces)[:-1]])
    return [(float(a), float(a + p)) for a, p in zip(starts, pieces, strict=True)]


def _within(line, stretches, soft_mm):
    """How far each sample lies in one of the stretches, 0..1."""
    weight = np.zeros(line.along.shape, np.float32)
    for start, stop in stretches:
        inside = np.minimum(line.along - start, stop - line.along)
        np.maximum(weight, np.clip(inside / soft_mm + 0.5, 0, 1), out=weight)
    return weight


def _total(stretches):
    return sum(stop - start for start, stop in stretches)


def _open_gap(surface, line, wide_mm):
    cut = np.abs(line.across) < max(wide_mm / 2, surface.step_mm)
    surface.height[cut] -= 0.8
    surface.active |= np.abs(line.across) < wide_mm + 0.3
    surface.lines |= cut


def _sand(surface, rng, line, leaks, reach):
    """Lay bare sand beside the joint; returns where it is plain to see."""
    if not leaks:
        return np.zeros(surface.shape, bool)
    ragged = noise.field(rng, surface.shape, surface.px(14), surface.px(1.2))
    away = np.abs(line.across) / (reach * np.clip(1 + 0.35 * ragged, 0.3, 2))
    band = np.clip(1.3 - away**2, 0, 1) * _within(line, leaks, 2.0)
    grit = noise.field(rng, surface.shape, surface.px(1.6), surface.px(0.35), hurst=0.4)
    surface.height += (np.float32(rng.uniform(0.05, 0.13)) * grit - 0.1) * band
    surface.tint(band, rng.uniform(0.74, 0.92) * np.array([1, 0.97, 0.92]))
    grains = noise.specks(rng, surface.shape, max(3.0, surface.px(0.7)), 0.28)
    surface.tint(0.5 * band * grains, (0.62, 0.6, 0.57))
    surface.active |= band > 0.2
    return band > 0.5


def _fin(surface, rng, line, fins):
    """Raise a thin torn ridge of paste."""
    if not fins:
        return
    torn = noise.field(rng, surface.shape, surface.px(8), surface.px(0.6), hurst=0.4)
    wide = rng.uniform(0.35, 0.7)
    ridge = np.clip(1 - (line.across / wide) ** 2, 0, 1)
    ridge *= np.clip(0.9 + 0.35 * torn, 0.3, 1.6) * _within(line, fins, 0.6)
    surface.height += np.float32(rng.uniform(0.5, 1.4)) * ridge
    surface.active |= (np.abs(line.across) < 3.5) & (_within(line, fins, 0.6) > 0)
    surface.lines |= ridge > 0


def _breaks(surface, rng, line, per_m):
    """Break pieces off one side of the joint; returns where."""
    if per_m <= 0:
        return np.zeros(surface.shape, bool)
    side = rng.choice([-1.0, 1.0])
    wanted, lost = per_m * line.length_mm / 1000, np.zeros(surface.shape, bool)
    rough = noise.field(rng, surface.shape, surface.px(5), surface.px(0.5), hurst=0.5)
    for _ in range(60):
        if np.count_nonzero(lost) * surface.step_mm**2 >= wanted:
            break
        at = rng.uniform(0, line.length_mm)
        long, deep = rng.uniform(2.0, 7.0), rng.uniform(1.2, 3.5)
        u = (line.along - at) / long
        v = side * line.across / deep
        shell = u**2 + np.maximum(v, 0) ** 2 + 0.12 * rough
        piece = (shell < 1) & (v > 0)
        lost |= piece
        floor = -0.55 * deep * np.sqrt(np.clip(1 - shell, 0, 1)) - 0.15
        cut = np.where(piece, floor + 0.12 * rough, 0)
        np.minimum(surface.height, cut, out=surface.height, where=piece)
    fresh = np.float32(lost)
    surface.tint(cv2.GaussianBlur(fresh, (0, 0), 1.0), rng.uniform(1.0, 1.12, 3))
    surface.active |= cv2.dilate(np.uint8(lost), np.ones((9, 9), np.uint8)) > 0
    surface.lines |= lost
    return lost


def _pits(surface, rng, line, leaks, reach, percent):
    """Open pits in the sand until they cover a share of the leaking band."""
    if not leaks or percent <= 0:
        return
    sure = [(a, b) for a, b in leaks if b - a > 1]
    length = sum(b - a for a, b in sure)
    wanted, got, placed = percent / 100 * length * 2 * reach, 0.0, []
    normal = np.array([-line.towards[1], line.towards[0]])
    for _ in range(4000):
        if got >= wanted:
            break
        size = LEAK_VOIDS.median_mm * np.exp(LEAK_VOIDS.spread * rng.normal())
        size = float(np.clip(size, *LEAK_VOIDS.range_mm))
        start, stop = sure[rng.integers(len(sure))]
        at = line.start_mm + rng.uniform(start, stop) * line.towards
        at = at + rng.normal(0, 0.55 * reach) * normal
        if any(np.hypot(*(at - p)) < 0.6 * (size + s) for p, s in placed):
            continue
        if sink(surface, rng, at, size / 2, LEAK_VOIDS):
            placed.append((at, size))
            got += np.pi / 4 * size**2
