"""Drawn photos of pieces on benches, with what lies about, and what is face in them.

    python tests/benchmarks/face_scenes.py FOLDER [--photos 24] [--seed-base N]

writes the photos, and their truth beside them, to look at. Drawn in mm on one plane,
seen by a camera that leans a little. The drawing shares nothing with the finding nor
with what the network learned from; cards and the scale sheet are the app's own prints.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.face_things import SPOTS, Canvas, put
from tests.benchmarks.faces_scene import octaves

REPORTING_BASE = 52_711
HIGH_PX, WIDE_PX = 840, 1120
BENCHES = ("wood", "grey floor", "sheet", "gravel", "wall", "grass")
BESIDE = (
    "nothing",
    "ruler",
    "tape",
    "card on",
    "card half",
    "card beside",
    "scale sheet",
    "paper",
    "hand",
    "tool",
    "shadow",
    "tie holes",
    "drain hole",
    "stamp",
)
SHAPES = ("flat", "round", "faceted")
LIGHTS = ("even", "side", "raking")
TONES = {"white": 0.62, "grey": 0.27, "dark": 0.055}
WHOLE_EVERY = 10
_DARK = 0.6  # of what is around it: counted as a void where it is taken for face


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FacePhoto:
    """A drawn photo and its truth; masks are of the photo's size."""

    pixels: np.ndarray  # (rows, cols, 3) uint8, sRGB
    face: np.ndarray  # bool, what is to be measured
    voids: np.ndarray  # bool, openings in the face
    clutter: np.ndarray  # bool, dark spots outside the face
    mm_per_px: float
    kinds: dict[str, str] = field(default_factory=dict)

    def share(self, taken):
        """Share of dark spots where `taken` is measured, 0 to 1."""
        spots = (self.voids | self.clutter) & taken
        return spots.sum() / max(int(taken.sum()), 1)

    @property
    def true_share(self):
        return self.share(self.face)


def draw(number, base=REPORTING_BASE):
    """Draw the `number`-th photo of a base: kinds go round, all else is by lot."""
    rng = np.random.default_rng([base, number])
    order = np.random.default_rng([base, number // len(BESIDE)])
    kinds = {
        "bench": BENCHES[number % len(BENCHES)],
        "beside": BESIDE[order.permutation(len(BESIDE))[number % len(BESIDE)]],
        "shape": SHAPES[(number + number // 6) % 3],
        "light": LIGHTS[(number + number // 18) % 3],
        "tone": str(rng.choice(list(TONES), p=(0.25, 0.5, 0.25))),
        "neighbour": str(rng.choice(["none", "shaded"], p=(0.75, 0.25))),
    }
    gap_mm = 0.0 if rng.random() < 0.3 else rng.uniform(1, 50)
    kinds["gap"] = (
        "0 mm" if gap_mm == 0 else "to 15 mm" if gap_mm < 15 else "15 to 50 mm"
    )
    if number % WHOLE_EVERY == WHOLE_EVERY - 1:
        kinds["bench"] = "none: all face"
    return _drawn(rng, kinds, gap_mm)


def _drawn(rng, kinds, gap_mm):
    whole = kinds["bench"] == "none: all face"
    long_mm = rng.uniform(250, 900)  # of the piece
    fill = rng.uniform(0.5, 0.86)
    mm_per_px = long_mm / (WIDE_PX * fill)
    shape = (round(HIGH_PX * 1.2), round(WIDE_PX * 1.2))
    turn = rng.uniform(0, 2 * np.pi)
    canvas = Canvas(
        rng=rng,
        light=_bench(rng, kinds["bench"], shape, mm_per_px),
        mm_per_px=mm_per_px,
        lamp=np.array([np.sin(turn), np.cos(turn)]),
        low={"even": 0.15, "side": 0.5, "raking": 1.0}[kinds["light"]],
    )
    if whole:
        canvas.whole(_skin(rng, kinds, canvas))
    else:
        _stand(rng, kinds, canvas, long_mm / mm_per_px)
    put(kinds["beside"], canvas, gap_mm)
    _uneven(rng, canvas, kinds["light"])
    return _seen(rng, canvas, kinds, whole)


# benches


def _bench(rng, name, shape, mm_per_px):
    """Light (rows, cols, 3) of what the piece lies on or stands before."""
    name = {"none: all face": "grey floor"}.get(name, name)
    tone, tint = _BENCHES[name](rng, shape, 1 / mm_per_px)
    tint = np.asarray(tint) * np.exp(rng.normal(0, 0.05, 3))
    return (np.maximum(tone, 0.004)[..., None] * tint).astype(np.float32)


def _wood(rng, shape, px_per_mm):
    board = rng.uniform(70, 160) * px_per_mm
    upright = rng.random() < 0.5
    size = shape[::-1] if upright else shape
    rows = np.arange(size[0])
    which = (rows // board).astype(int)
    lot = rng.normal(0, 0.12, which.max() + 1)
    tone = 0.12 * octaves(rng, size, (2.5 * px_per_mm, 90 * px_per_mm), count=3)
    tone += lot[which][:, None] + 0.06 * octaves(rng, size, 60 * px_per_mm, count=2)
    tone[(rows % board) < 2.5 * px_per_mm] -= 1.3
    for _ in range(rng.integers(2, 9)):
        at = rng.integers(0, size, 2)[::-1].tolist()
        axes = (
            round(rng.uniform(6, 16) * px_per_mm),
            round(rng.uniform(4, 8) * px_per_mm),
        )
        cv2.ellipse(tone, at, axes, 0, 0, 360, float(rng.uniform(-1.1, -0.5)), -1)
    tone = tone.T if upright else tone
    return rng.uniform(0.16, 0.42) * np.exp(tone), (1.25, 0.92, 0.6)


def _grey_floor(rng, shape, px_per_mm):
    tone = 0.1 * octaves(rng, shape, 140 * px_per_mm, count=4)
    tone += 0.05 * octaves(rng, shape, 3 * px_per_mm, count=2)
    light = rng.uniform(0.1, 0.45) * np.exp(tone)
    for _ in range(rng.integers(20, 120)):
        at = rng.integers(0, shape, 2)[::-1].tolist()
        radius = max(1, round(rng.uniform(0.5, 3) * px_per_mm))
        cv2.circle(light, at, radius, float(rng.uniform(0.03, 0.2)), -1)
    if rng.random() < 0.5:
        line = (rng.uniform(0, 1, (2, 2)) * shape[::-1]).astype(int).tolist()
        cv2.line(light, line[0], line[1], 0.05, max(1, round(1.2 * px_per_mm)))
    return light, (1.0, 0.99, 0.96)


def _sheet(rng, shape, px_per_mm):
    """Plastic, steel or coated board: even, with gloss and scratches."""
    tone = 0.12 * octaves(rng, shape, 300 * px_per_mm, count=2)
    tone += 0.015 * octaves(rng, shape, 2 * px_per_mm, count=1)
    light = rng.uniform(0.04, 0.6) * np.exp(tone)
    for _ in range(rng.integers(0, 25)):
        at = (rng.uniform(0, 1, 2) * shape[::-1]).astype(int)
        end = at + rng.normal(0, 60 * px_per_mm, 2).astype(int)
        cv2.line(light, at.tolist(), end.tolist(), float(light.mean() * 1.3), 1)
    tints = ((1, 1, 1), (0.5, 0.8, 1.3), (1.2, 0.7, 0.4), (0.9, 1.0, 1.05))
    return light, tints[rng.integers(4)]


def _gravel(rng, shape, px_per_mm):
    size = rng.uniform(9, 30) * px_per_mm
    grid = [np.arange(-1, side / size + 2) for side in shape]
    rows, cols = np.meshgrid(*grid, indexing="ij")
    seeds = np.stack([rows, cols], -1).reshape(-1, 2)
    seeds = (seeds + rng.uniform(0, 1, seeds.shape)) * size
    light = np.full(shape, 0.03, np.float32)
    for row, col in seeds[rng.permutation(len(seeds))]:
        axes = size * rng.uniform(0.35, 0.62, 2)
        lean, tone = rng.uniform(0, 180), rng.uniform(0.1, 0.5)
        at, long = (round(col), round(row)), (round(axes[0]), round(axes[1]))
        cv2.ellipse(light, at, long, lean, 0, 360, tone * 0.55, -1)
        at = (at[0] - round(axes[0] * 0.15), at[1] - round(axes[1] * 0.15))
        long = (round(axes[0] * 0.75), round(axes[1] * 0.75))
        cv2.ellipse(light, at, long, lean, 0, 360, tone, -1)
    return light, (1.03, 1.0, 0.93)


def _wall(rng, shape, px_per_mm):
    """Bricks, blocks or plaster, with a floor below in half of them."""
    high, wide = np.array(((65, 210), (190, 390))[rng.integers(2)]) * px_per_mm
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    course = (rows // high).astype(int)
    along = cols + (course % 2) * wide / 2
    lot = rng.normal(0, 0.16, 4001)
    tone = lot[(course * 61 + (along // wide).astype(int) * 7) % 4001]
    tone = tone + 0.09 * octaves(rng, shape, 8 * px_per_mm, count=3)
    joint = ((rows % high) < 10 * px_per_mm) | ((along % wide) < 10 * px_per_mm)
    tone = np.where(joint, rng.uniform(-0.4, 0.4), tone)
    red = rng.random() < 0.5
    light = rng.uniform(0.15, 0.5) * np.exp(tone)
    if rng.random() < 0.5:
        edge = round(shape[0] * rng.uniform(0.6, 0.8))
        floor = rng.uniform(0.08, 0.3) * np.exp(
            0.1 * octaves(rng, shape, 40 * px_per_mm)
        )
        light[edge:] = floor[edge:]
    return light, (1.35, 0.85, 0.65) if red else (1, 1, 0.97)


def _grass(rng, shape, px_per_mm):
    light = np.full(shape, 0.025, np.float32)
    long = 45 * px_per_mm
    count = round(3.0 * shape[0] * shape[1] / long**1.5 / max(px_per_mm, 1))
    count = int(np.clip(count, 2500, 9000))
    starts = rng.uniform(0, 1, (count, 2)) * shape[::-1]
    lean = rng.normal(-np.pi / 2, 0.7, count)
    reach = long * rng.uniform(0.4, 1, count)
    ends = starts + reach[:, None] * np.stack([np.cos(lean), np.sin(lean)], 1)
    thick = max(1, round(2.5 * px_per_mm))
    for a, b, tone in zip(
        starts.astype(int), ends.astype(int), rng.uniform(0.05, 0.3, count), strict=True
    ):
        cv2.line(light, a.tolist(), b.tolist(), float(tone), thick)
    return light, (0.85, 1.2, 0.4)


_BENCHES = {
    "wood": _wood,
    "grey floor": _grey_floor,
    "sheet": _sheet,
    "gravel": _gravel,
    "wall": _wall,
    "grass": _grass,
}

# pieces


def _skin(rng, kinds, canvas):
    """Light (rows, cols, 3) of a cast face, without its voids."""
    shape, px_per_mm = canvas.shape, 1 / canvas.mm_per_px
    tone = rng.uniform(0.03, 0.09) * octaves(rng, shape, 80 * px_per_mm, count=4)
    tone += 0.025 * octaves(rng, shape, 1.5 * px_per_mm, count=1)
    level = TONES[kinds["tone"]] * np.exp(rng.normal(0, 0.2))
    tint = np.array([1.0, 0.99, 0.95]) * np.exp(rng.normal(0, 0.03, 3))
    if rng.random() < 0.1:
        tint = np.array([1.35, 0.8, 0.55])
    return (level * np.exp(tone)[..., None] * tint).astype(np.float32)


def _stand(rng, kinds, canvas, long_px):
    """Put the piece, its sides, its shadow and a neighbour on the bench."""
    skin = _skin(rng, kinds, canvas)
    middle = np.array(canvas.shape[::-1]) / 2 + rng.normal(0, 0.02, 2) * WIDE_PX
    maker = {"flat": _flat, "round": _round, "faceted": _faceted}[kinds["shape"]]
    face, shade, body = maker(rng, canvas.shape, middle, long_px)
    if kinds["neighbour"] == "shaded":
        _neighbour(rng, canvas, skin, face)
    away = rng.uniform(4, 60) / canvas.mm_per_px * canvas.low
    move = np.array([[1, 0, -away * canvas.lamp[1]], [0, 1, -away * canvas.lamp[0]]])
    size = canvas.shape[::-1]
    dark = cv2.warpAffine(body.astype(np.float32), move, size)
    soft = max(1.0, rng.uniform(1.5, 10) / canvas.mm_per_px)
    dark = cv2.GaussianBlur(np.maximum(dark, 0.6 * body), (0, 0), soft)
    canvas.light *= (1 - rng.uniform(0.35, 0.75) * dark)[..., None]
    canvas.stand(face, body, skin * shade[..., None])


def _polygon(shape, corners):
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(
        mask, [np.round(np.asarray(corners) * 16).astype(np.int32)], 1, shift=4
    )
    return mask > 0


def _flat(rng, shape, middle, long_px):
    """A slab, a tapered panel, a bench leg, a trough side, a disc."""
    aspect = rng.uniform(0.45, 0.95)
    wide, high = long_px, min(long_px * aspect, HIGH_PX * 0.86)
    kind = rng.choice(["slab", "tapered", "leg", "notched", "disc", "rounded"])
    x, y = np.array([-1, 1, 1, -1]) * wide / 2, np.array([-1, -1, 1, 1]) * high / 2
    corners = np.stack([x, y], 1)
    if kind == "disc":
        turns = np.linspace(0, 2 * np.pi, 180, endpoint=False)
        corners = np.stack([np.cos(turns), np.sin(turns)], 1) * high / 2
    elif kind == "tapered":
        corners[:2, 0] *= rng.uniform(0.6, 0.9)
    elif kind == "leg":
        deep = rng.uniform(0.3, 0.6)
        inner = (wide / 2 - wide * deep, -high / 2 + high * deep)
        corners = np.array(
            [
                corners[0],
                (inner[0], -high / 2),
                inner,
                (wide / 2, inner[1]),
                *corners[2:],
            ]
        )
    elif kind == "notched":
        a, b = sorted(rng.uniform(-0.35, 0.35, 2) * wide)
        deep = high / 2 - high * rng.uniform(0.15, 0.35)
        corners = np.array(
            [
                *corners[:3],
                (b, high / 2),
                (b, deep),
                (a, deep),
                (a, high / 2),
                corners[3],
            ]
        )
    lean = rng.normal(0, 0.05)
    spin = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    corners = corners @ spin.T + middle
    face = _polygon(shape, corners)
    if kind == "rounded":
        soft = cv2.GaussianBlur(face.astype(np.float32), (0, 0), long_px * 0.03)
        face = soft > 0.5
    shade, body = np.ones(shape, np.float32), face.copy()
    if rng.random() < 0.3:  # its thickness is seen as well
        turn = rng.uniform(0, 2 * np.pi)
        shift = (
            long_px * rng.uniform(0.03, 0.12) * np.array([np.cos(turn), np.sin(turn)])
        )
        for part in np.linspace(0, 1, 40):
            move = np.array([[1.0, 0, shift[0] * part], [0, 1.0, shift[1] * part]])
            body |= cv2.warpAffine(face.astype(np.uint8), move, shape[::-1]) > 0
        shade[body & ~face] = rng.uniform(0.35, 0.65)
    return face, shade, body


def _round(rng, shape, middle, long_px):
    """A pot or a column from the side; its mouth shows in some."""
    high = min(long_px, HIGH_PX * 0.8) * rng.uniform(0.7, 1)
    top = long_px * rng.uniform(0.28, 0.42)
    bottom = top * rng.uniform(0.6, 1.05)
    bend = rng.uniform(0.02, 0.14)
    rows, cols = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    down = (rows - middle[1]) / high + 0.5
    radius = top + (bottom - top) * np.clip(down, 0, 1)
    across = (cols - middle[0]) / radius
    sag = bend * radius * np.sqrt(np.clip(1 - across**2, 0, 1)) / high
    face = (np.abs(across) <= 1) & (down - sag >= 0) & (down - sag <= 1)
    normal = np.sqrt(np.clip(1 - across**2, 0, 1))
    side = rng.uniform(-0.7, 0.7)
    shade = np.clip(normal * np.sqrt(1 - side**2) + across * side, 0, 1)
    shade = (0.3 + 0.75 * shade).astype(np.float32)
    body = face.copy()
    if rng.random() < 0.6:
        rim = (round(top), max(2, round(bend * top)))
        mouth = np.zeros(shape, np.uint8)
        at = (round(middle[0]), round(middle[1] - high / 2))
        cv2.ellipse(mouth, at, rim, 0, 0, 360, 1, -1)
        seen = (mouth > 0) & ~face
        body |= seen
        shade[seen] = rng.uniform(0.2, 0.5)
    else:
        body |= (np.abs(across) <= 1) & (down >= 0) & (down - sag <= 1)
        face = body.copy()
    return face, shade, body


def _faceted(rng, shape, middle, long_px):
    """A planter or a post of three to five flats side by side, or a cut block."""
    flats = int(rng.integers(2, 5))
    high = min(long_px * rng.uniform(0.6, 1.0), HIGH_PX * 0.82)
    angles = np.linspace(-1, 1, flats + 1) * rng.uniform(0.8, 1.25)
    edges = np.sin(angles) / np.sin(angles[-1]) * long_px * rng.uniform(0.3, 0.45)
    taper = rng.uniform(0.65, 1.0)
    side = rng.uniform(-0.9, 0.9)
    face, shade = np.zeros(shape, bool), np.ones(shape, np.float32)
    for k in range(flats):
        corners = [
            (edges[k], -high / 2),
            (edges[k + 1], -high / 2),
            (edges[k + 1] * taper, high / 2),
            (edges[k] * taper, high / 2),
        ]
        flat = _polygon(shape, np.array(corners) + middle)
        lean = (angles[k] + angles[k + 1]) / 2
        shade[flat] = 0.45 + 0.6 * max(0.0, np.cos(lean - side))
        face |= flat
    return face, shade, face.copy()


def _neighbour(rng, canvas, skin, face):
    """Another piece of the mix in less light, beside it."""
    rows, cols = np.nonzero(face)
    gap = rng.uniform(4, 50) / canvas.mm_per_px
    high = rng.uniform(0.5, 1.1) * np.ptp(rows)
    top = rows.max() - high + rng.uniform(-10, 10)
    left = rng.random() < 0.5
    x = cols.min() - gap if left else cols.max() + gap
    far = x - np.ptp(cols) if left else x + np.ptp(cols)
    there = _polygon(
        canvas.shape, [(x, top), (far, top), (far, top + high), (x, top + high)]
    )
    other = (skin[::-1, ::-1] * rng.uniform(0.3, 0.65))[there]
    canvas.light[there] = other


# light and camera


def _uneven(rng, canvas, light):
    rows, cols = np.mgrid[-1 : 1 : canvas.shape[0] * 1j, -1 : 1 : canvas.shape[1] * 1j]
    slope = canvas.lamp[0] * rows + canvas.lamp[1] * cols
    part = {"even": 0.05, "side": 0.18, "raking": 0.32}[light]
    canvas.light *= np.exp(part * slope)[..., None].astype(np.float32)
    canvas.light *= np.exp(rng.normal(0, 0.04, 3)).astype(np.float32)


def _seen(rng, canvas, kinds, whole):
    """Look through a leaning camera, blur, expose, add noise, pack as JPEG."""
    rows, cols = canvas.shape
    inset = np.array([cols - WIDE_PX, rows - HIGH_PX]) / 2
    corners = np.array([(0, 0), (WIDE_PX, 0), (WIDE_PX, HIGH_PX), (0, HIGH_PX)], float)
    start = corners + inset + rng.uniform(-0.3, 0.3, (4, 2)) * inset
    matrix = cv2.getPerspectiveTransform(
        start.astype(np.float32), corners.astype(np.float32)
    )
    size = (WIDE_PX, HIGH_PX)
    light = cv2.warpPerspective(canvas.light, matrix, size, flags=cv2.INTER_LINEAR)

    def warped(mask):
        near = cv2.warpPerspective(mask.astype(np.float32), matrix, size)
        return near >= 0.5

    face, voids = warped(canvas.face & ~canvas.covered), warped(canvas.voids)
    grey = light.mean(axis=2)
    small = cv2.resize(grey, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    window = int(np.clip(25 / canvas.mm_per_px / 4, 3, 60)) | 1
    ratio = small / small.max()
    around = cv2.medianBlur(np.uint8(255 * ratio), window) / 255 * small.max()
    around = cv2.resize(np.float32(around), size, interpolation=cv2.INTER_LINEAR)
    clutter = (grey < _DARK * around) & ~face
    light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.5, 1.1))
    middle = np.median(grey[face]) if face.any() else np.median(grey)
    goal = np.clip({"white": 0.6, "grey": 0.28, "dark": 0.09}[kinds["tone"]], 0, 1)
    light *= goal * np.exp(rng.normal(0, 0.15)) / middle
    spread = rng.uniform(0.002, 0.012)
    light += (
        spread * np.sqrt(np.clip(light, 0.02, 1)) * rng.standard_normal(light.shape)
    )
    code = np.where(
        light <= 0.0031308,
        12.92 * light,
        1.055 * np.clip(light, 0, 1) ** (1 / 2.4) - 0.055,
    )
    pixels = np.uint8(np.clip(code * 255 + 0.5, 0, 255))
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 95))]
    _, data = cv2.imencode(".jpg", pixels[..., ::-1], quality)
    pixels = np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])
    shown = dict(kinds)
    if whole:
        shown |= {"shape": "all face", "neighbour": "none"}
    if kinds["beside"] not in SPOTS:
        shown["gap"] = "-"
    return FacePhoto(
        pixels=pixels,
        face=face,
        voids=voids & face,
        clutter=clutter,
        mm_per_px=canvas.mm_per_px,
        kinds=shown,
    )


def main():
    parser = argparse.ArgumentParser(description="Write drawn photos of pieces.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--photos", type=int, default=24)
    parser.add_argument("--seed-base", type=int, default=REPORTING_BASE)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for number in range(asked.photos):
        photo = draw(number, asked.seed_base)
        stem = asked.folder / f"{number:03d}"
        cv2.imwrite(f"{stem}.jpg", photo.pixels[..., ::-1])
        cv2.imwrite(f"{stem}_face.png", np.uint8(255 * photo.face))


if __name__ == "__main__":
    main()
