"""Pieces as they stand before a camera: their outline, face and shading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.textures import between, field, step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Mask = NDArray[np.uint8]
    Points = NDArray[np.float64]


@dataclass(slots=True, kw_only=True)
class DrawnPiece:
    """A piece as it is put together; arrays are changed in place."""

    body: Mask  # all that is seen of it
    face: Mask  # the face that was photographed
    shading: Light  # light on it, relative


def whole_face(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Fill the photo with the face."""
    full = np.ones(shape, np.uint8)
    shading = np.exp(rng.uniform(0, 0.3) * field(rng, shape, max(shape)))
    if rng.random() < 0.3:
        _facets(rng, full, shading)
    return DrawnPiece(body=full, face=full.copy(), shading=shading)


def no_piece(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """No piece at all."""
    del rng
    empty = np.zeros(shape, np.uint8)
    return DrawnPiece(body=empty, face=empty.copy(), shading=np.ones(shape, np.float32))


def _corners(rng: np.random.Generator, shape: tuple[int, int]) -> Points:
    """Four corners of a slab, somewhat askew; it may leave the photo."""
    rows, cols = shape
    aspect = between(rng, 0.3, 3.2)
    reach = between(rng, 0.3, 0.75) * min(rows, cols)
    half = np.array([reach * np.sqrt(aspect), reach / np.sqrt(aspect)])
    half = np.minimum(half, np.array([cols, rows]) * rng.uniform(0.4, 0.75, 2))
    square = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    askew = rng.normal(0, between(rng, 0.01, 0.12), (4, 2)) * half
    turn = rng.normal(0, 0.08) if rng.random() < 0.75 else rng.uniform(0, 2 * np.pi)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([cols, rows]) * (0.5 + rng.normal(0, 0.09, 2))
    return np.asarray((square + askew) @ spin.T + middle)


def _filled(shape: tuple[int, int], line: Points) -> Mask:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(line * 16).astype(np.int32)], 1, shift=4)
    return mask


def flat_piece(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Draw a flat face at an angle, at times cut, faceted or lit unevenly."""
    line = _corners(rng, shape)
    if rng.random() < 0.3:
        line = _cut(rng, line)
    face = _filled(shape, line)
    if rng.random() < 0.22:
        _nicked(rng, line, face)
    if rng.random() < 0.3:
        soft = cv2.GaussianBlur(face.astype(np.float32), (0, 0), between(rng, 1, 14))
        face = (soft > 0.5).astype(np.uint8)
    shading = np.exp(rng.uniform(0, 0.3) * field(rng, shape, max(shape)))
    body = face.copy()
    if rng.random() < 0.28:
        _facets(rng, face, shading)
    if rng.random() < 0.35:
        _sides(rng, line, face, body, shading)
    if rng.random() < 0.12:  # an opening through it
        hole = _filled(
            shape, line.mean(0) + (line - line.mean(0)) * rng.uniform(0.2, 0.7)
        )
        face[hole > 0] = 0
        if rng.random() < 0.6:
            body[hole > 0] = 0
        else:
            shading[hole > 0] *= rng.uniform(0.1, 0.6)
    return DrawnPiece(body=body, face=face, shading=shading)


def _cut(rng: np.random.Generator, line: Points) -> Points:
    """Cut steps, slants and notches into the sides of a slab: L, T, trough, leg."""
    a, b, c, d = line
    part, deep = rng.uniform(0.2, 0.8, 2), rng.uniform(0.1, 0.6)

    def along(start: Points, end: Points, share: float) -> Points:
        return start + (end - start) * share

    kind = int(rng.integers(4))
    if kind == 0:  # one corner gone, square
        top, low = along(b, c, deep), along(a, d, deep)
        return np.array([a, along(a, b, part[0]), along(low, top, part[0]), top, c, d])
    if kind == 1:  # tapered
        return np.array([along(a, b, deep / 3), along(b, a, deep / 3), c, d])
    if kind == 2:  # notch in a side
        first, last = np.sort(part)
        low, high = along(a, d, deep), along(b, c, deep)
        return np.array(
            [
                a,
                along(a, b, first),
                along(low, high, first),
                along(low, high, last),
                along(a, b, last),
                b,
                c,
                d,
            ]
        )
    small = deep / 3  # four corners slanted
    return np.array(
        [
            p
            for one, two in ((a, b), (b, c), (c, d), (d, a))
            for p in (along(one, two, small), along(two, one, small))
        ]
    )


def _nicked(rng: np.random.Generator, line: Points, face: Mask) -> None:
    """Cut small notches and thin slits into the sides: the ground is seen there."""
    size = float(np.ptp(line, axis=0).min())
    for _ in range(rng.integers(1, 5)):
        k = int(rng.integers(len(line)))
        start, end = line[k], line[(k + 1) % len(line)]
        long = max(float(np.hypot(*(end - start))), 1.0)
        along = (end - start) / long
        inwards = np.array([-along[1], along[0]])
        inwards *= np.sign(inwards @ (line.mean(0) - start)) or 1.0
        wide, deep = between(rng, 2, 0.16 * size + 3), between(rng, 3, 0.3 * size + 4)
        if rng.random() < 0.35:  # a thin slit
            wide = between(rng, 1.5, 5)
        at = start + (end - start) * rng.uniform(0.02, 0.98)
        tip = rng.uniform(0.1, 1.2)
        notch = np.array(
            [
                at - along * wide / 2 - 3 * inwards,
                at + along * wide / 2 - 3 * inwards,
                at + along * wide * tip / 2 + deep * inwards,
                at - along * wide * tip / 2 + deep * inwards,
            ]
        )
        face[_filled(face.shape, notch) > 0] = 0


def _facets(rng: np.random.Generator, face: Mask, shading: Light) -> None:
    """Break the face along lines; each part lies at its own slant to the light."""
    rows, cols = np.nonzero(face)
    if len(rows) == 0:
        return
    y, x = np.mgrid[: face.shape[0], : face.shape[1]].astype(np.float32)
    turn = rng.uniform(0, np.pi)
    for _ in range(rng.integers(1, 4)):
        lot = int(rng.integers(len(rows)))
        if rng.random() < 0.5:
            turn += rng.uniform(0.3, 1.2)
        away = (y - rows[lot]) * np.cos(turn) + (x - cols[lot]) * np.sin(turn)
        edge = between(rng, 0.3, 4)
        # Now and then a facet is turned right away from the light.
        shade = rng.normal(0, 0.35) if rng.random() < 0.75 else rng.uniform(-1.5, -0.5)
        shading *= np.exp(shade * step(away, edge))
        if rng.random() < 0.6:
            line = np.exp(-((away / between(rng, 0.6, 2.5)) ** 2))
            shading *= np.exp(rng.uniform(-0.8, 0.5) * line)


def _sides(
    rng: np.random.Generator, line: Points, face: Mask, body: Mask, shading: Light
) -> None:
    """Show the thickness of a slab, in other light than its face: not face."""
    size = float(np.ptp(line, axis=0).min())
    turn = rng.uniform(0, 2 * np.pi)
    # Mostly narrow: a broad one looks like a facet that lies in shade, which is face.
    part = between(rng, 0.015, 0.1 if rng.random() < 0.85 else 0.2)
    shift = size * part * np.array([np.cos(turn), np.sin(turn)])
    back = line.mean(0) + (line - line.mean(0)) * rng.uniform(0.85, 1.0) + shift
    for k in range(len(line)):
        n = (k + 1) % len(line)
        side = _filled(body.shape, np.array([line[k], line[n], back[n], back[k]]))
        seen = (side > 0) & (face == 0)
        tone = (
            rng.uniform(0.25, 0.85) if rng.random() < 0.75 else rng.uniform(1.15, 1.7)
        )
        shading[seen] *= tone
        body[seen] = 1
    # Through a notch of the face the ground is seen, not the back.
    body |= _filled(body.shape, back) & (1 - _filled(body.shape, line))


def _ellipse(
    shape: tuple[int, int], middle: tuple[int, int], half: tuple[int, int]
) -> Mask:
    filled = np.zeros(shape, np.uint8)
    cv2.ellipse(filled, middle, half, 0, 0, 360, 1, -1)
    return filled


def round_piece(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Pots, columns, bowls, balls and discs, seen from the side or from above."""
    rows, cols = shape
    face = np.zeros(shape, np.uint8)
    x0 = cols * (0.5 + rng.normal(0, 0.08))
    half = between(rng, 0.18, 0.62) * min(rows, cols)
    high = between(rng, 0.35, 1.8) * half
    y0 = rows * (0.5 + rng.normal(0, 0.08))
    disc = rng.random() < 0.25
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    if disc:
        axes = (round(half), round(half * rng.uniform(0.6, 1.0)))
        turn = float(rng.uniform(0, 180))
        cv2.ellipse(face, (round(x0), round(y0)), axes, turn, 0, 360, 1, -1)
        across = np.zeros(shape, np.float32)
        if rng.random() < 0.5:  # a ball or a bowl
            across = np.hypot((x - x0) / axes[0], (y - y0) / axes[0])
    else:
        top, bottom = half * rng.uniform(0.6, 1.15), half * rng.uniform(0.6, 1.15)
        bend = rng.uniform(0.0, 0.3)
        belly = rng.normal(0, 0.12) if rng.random() < 0.4 else 0.0
        t = np.clip((y - (y0 - high)) / (2 * high), 0, 1)
        width = top + (bottom - top) * t + belly * half * np.sin(np.pi * t)
        across = (x - x0) / np.maximum(width, 1)
        curve = bend * half * np.sqrt(np.clip(1 - across**2, 0, 1))
        inside = (np.abs(across) < 1) & (y < y0 + high + curve)
        face = (inside & (y > y0 - high + curve * rng.choice([-1.0, 1.0, 0.0]))).astype(
            np.uint8
        )
    lean = np.clip(np.abs(across), 0, 1)
    lamp = rng.uniform(-0.8, 0.8)
    slope = np.sqrt(1 - lean**2) * np.sqrt(1 - lamp**2) + np.clip(across, -1, 1) * lamp
    floor = rng.uniform(0.25, 0.7)
    shading = (floor + (1 - floor) * np.maximum(slope, 0)).astype(np.float32)
    body = face.copy()
    if disc and rng.random() < 0.35:  # its side, seen from above
        _drum(rng, face, body, shading, half)
    if not disc and rng.random() < 0.6:  # the mouth: rim and dark inside
        lip = (max(3, round(top)), max(2, round(half * rng.uniform(0.05, 0.45))))
        middle = (round(x0), round(y0 - high))
        mouth = _ellipse(shape, middle, lip)
        face[mouth > 0] = 0
        body |= mouth
        dark = rng.random() < 0.35  # no rim: dark right up to the face
        shading[mouth > 0] = rng.uniform(0.03, 0.3) if dark else rng.uniform(0.1, 1.3)
        if (
            not dark and rng.random() < 0.8
        ):  # the wall's thickness, lit from above, round the inside
            part = rng.uniform(0.6, 0.95)
            inner = (max(2, round(lip[0] * part)), max(1, round(lip[1] * part)))
            inside = _ellipse(shape, middle, inner) > 0
            down = np.clip((y - middle[1]) / lip[1], -1, 1)
            deep = between(rng, 0.05, 0.9) * np.exp(rng.uniform(0, 0.8) * down)
            shading[inside] = deep[inside]
    if rng.random() < 0.15:
        _facets(rng, face, shading)
    return DrawnPiece(body=body, face=face, shading=shading)


def _drum(
    rng: np.random.Generator, face: Mask, body: Mask, shading: Light, half: float
) -> None:
    """Show the side of a disc's drum beyond its face, in other light: not face."""
    turn, away = rng.uniform(0, 2 * np.pi), half * between(rng, 0.03, 0.35)
    steps = max(2, round(away))
    for part in np.linspace(0, 1, steps):
        x, y = part * away * np.cos(turn), part * away * np.sin(turn)
        move = np.array([[1.0, 0.0, x], [0.0, 1.0, y]])
        body |= np.asarray(cv2.warpAffine(face, move, face.shape[::-1]), np.uint8)
    side = (body > 0) & (face == 0)
    tone = rng.uniform(0.25, 0.85) if rng.random() < 0.75 else rng.uniform(1.15, 1.7)
    shading[side] = tone * float(np.median(shading[face > 0])) if face.any() else tone


def prism(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Stand flats side by side, each at its own slant: posts and planters."""
    rows, cols = shape
    flats = int(rng.integers(2, 7))
    angles = np.sort(rng.uniform(-1.35, 1.35, flats + 1))
    if rng.random() < 0.6:
        reach = rng.uniform(0.6, 1.35)
        angles = np.linspace(-reach, reach, flats + 1) + rng.normal(0, 0.15)
    edges = np.sin(np.clip(angles, -1.5, 1.5))
    edges = (edges - edges.mean()) / max(float(np.ptp(edges)), 1e-3)
    if np.diff(edges).min() < 0.05:  # a sliver
        edges = np.linspace(-0.5, 0.5, flats + 1)
    wide, high = (between(rng, 0.45, 1.3) * side for side in (cols, rows))
    taper, bend = rng.uniform(0.6, 1.3), rng.normal(0, 0.06) * high
    turn = rng.normal(0, 0.06) + rng.choice([0, np.pi / 2, np.pi, -np.pi / 2])
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([cols, rows]) * (0.5 + rng.normal(0, 0.07, 2))
    lamp, deep = rng.uniform(-1.6, 1.6), rng.uniform(0.15, 0.88)
    face = np.zeros(shape, np.uint8)
    shading = np.ones(shape, np.float32)
    for k in range(flats):
        dip = [bend * (1 - (2 * edges[n]) ** 2) for n in (k, k + 1)]
        line = np.array(
            [
                (edges[k] * wide, -high / 2 + dip[0]),
                (edges[k + 1] * wide, -high / 2 + dip[1]),
                (edges[k + 1] * wide * taper, high / 2 + dip[1]),
                (edges[k] * wide * taper, high / 2 + dip[0]),
            ]
        )
        flat = _filled(shape, line @ spin.T + middle)
        slant = (angles[k] + angles[k + 1]) / 2 - lamp
        shading[flat > 0] = 1 - deep + deep * max(0.0, float(np.cos(slant)))
        face |= flat
    if rng.random() < 0.5:
        soft = between(rng, 0.4, 2)
        shading = np.asarray(cv2.GaussianBlur(shading, (0, 0), soft), np.float32)
    shading *= np.exp(rng.uniform(0, 0.2) * field(rng, shape, max(shape)))
    return DrawnPiece(body=face.copy(), face=face, shading=shading)


def free_form(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Free shapes, and faces that fill a half or a corner of a close photo."""
    rows, cols = shape
    if rng.random() < 0.5:
        y, x = np.mgrid[:rows, :cols].astype(np.float32)
        inside = np.ones(shape, bool)
        for _ in range(rng.integers(1, 4)):
            turn = rng.uniform(0, 2 * np.pi)
            away = (x - cols / 2) * np.cos(turn) + (y - rows / 2) * np.sin(turn)
            away += (
                between(rng, 0.1, 20) * field(rng, shape, 120) * (rng.random() < 0.4)
            )
            inside &= away < rng.uniform(0.05, 0.5) * min(rows, cols)
        face = inside.astype(np.uint8)
    else:
        count = int(rng.integers(5, 12))
        turns = np.linspace(0, 2 * np.pi, count, endpoint=False)
        reach = between(rng, 0.3, 0.6) * min(rows, cols) * rng.uniform(0.7, 1.2, count)
        line = np.stack([np.cos(turns), np.sin(turns)], 1) * reach[:, None]
        face = _filled(shape, line + np.array([cols, rows]) / 2)
        soft = cv2.GaussianBlur(face.astype(np.float32), (0, 0), between(rng, 1, 25))
        face = (soft > 0.5).astype(np.uint8)
    shading = np.exp(rng.uniform(0, 0.4) * field(rng, shape, max(shape)))
    if rng.random() < 0.4:
        _facets(rng, face, shading)
    return DrawnPiece(body=face.copy(), face=face, shading=shading)
