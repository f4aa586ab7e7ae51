"""Whole drawn photos of pieces, with what of each pixel is face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.textures import (
    between,
    colour,
    concrete,
    field,
    ground,
    rough,
    step,
)
from analysis.training.faces.things import any_thing, lay, stamp, tie_holes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Mask = NDArray[np.uint8]
    Points = NDArray[np.float64]

BESIDE, FACE, THING = 0, 1, 2
_LONG_PX = 352


@dataclass(slots=True, kw_only=True)
class _Piece:
    """A piece as it is put together; arrays are changed in place."""

    body: Mask  # all that is seen of it
    face: Mask  # the face that was photographed
    shading: Light  # light on it, relative


def draw_scene(rng: np.random.Generator, size_px: int) -> tuple[Mask, Mask]:
    """Draw a photo squeezed into a square.

    Parameters
    ----------
    rng : Generator
    size_px : int
        Side of the answer.

    Returns
    -------
    photo : ndarray of uint8, (size, size, 3)
        sRGB.
    kinds : ndarray of uint8, (size, size)
        `BESIDE`, `FACE` or `THING`.

    Examples
    --------
    >>> photo, kinds = draw_scene(np.random.default_rng(3), 64)
    >>> photo.shape, kinds.shape
    ((64, 64, 3), (64, 64))
    """
    aspect = between(rng, 0.55, 1.0)
    shape = (_LONG_PX, round(_LONG_PX * aspect))
    if rng.random() < 0.55:
        shape = (shape[1], shape[0])
    makers = (_whole, _flat, _round, _prism, _free, _nothing)
    lot = rng.choice(len(makers), p=(0.15, 0.41, 0.19, 0.13, 0.1, 0.02))
    piece = makers[lot](rng, shape)
    light, things = _composed(rng, piece, shape)
    kinds = np.where(piece.face > 0, FACE, BESIDE).astype(np.uint8)
    kinds[things > 0] = THING
    photo = _photographed(rng, light)
    side = (size_px, size_px)
    small = cv2.resize(photo, side, interpolation=cv2.INTER_AREA)
    votes = [
        cv2.resize((kinds == kind).astype(np.float32), side, interpolation=3)
        for kind in (BESIDE, FACE, THING)
    ]
    return np.asarray(small, np.uint8), np.argmax(votes, axis=0).astype(np.uint8)


def _whole(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
    """Fill the photo with the face."""
    full = np.ones(shape, np.uint8)
    shading = np.exp(rng.uniform(0, 0.3) * field(rng, shape, max(shape)))
    if rng.random() < 0.3:
        _facets(rng, full, shading)
    return _Piece(body=full, face=full.copy(), shading=shading)


def _nothing(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
    """No piece at all."""
    del rng
    empty = np.zeros(shape, np.uint8)
    return _Piece(body=empty, face=empty.copy(), shading=np.ones(shape, np.float32))


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


def _flat(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
    line = _corners(rng, shape)
    if rng.random() < 0.3:
        line = _cut(rng, line)
    face = _filled(shape, line)
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
    return _Piece(body=body, face=face, shading=shading)


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
        shading *= np.exp(rng.normal(0, 0.35) * step(away, edge))
        if rng.random() < 0.6:
            line = np.exp(-((away / between(rng, 0.6, 2.5)) ** 2))
            shading *= np.exp(rng.uniform(-0.8, 0.5) * line)


def _sides(
    rng: np.random.Generator, line: Points, face: Mask, body: Mask, shading: Light
) -> None:
    """Show the thickness of a slab, in other light than its face: not face."""
    size = float(np.ptp(line, axis=0).min())
    turn = rng.uniform(0, 2 * np.pi)
    shift = size * between(rng, 0.02, 0.16) * np.array([np.cos(turn), np.sin(turn)])
    back = line.mean(0) + (line - line.mean(0)) * rng.uniform(0.85, 1.0) + shift
    for k in range(len(line)):
        n = (k + 1) % len(line)
        side = _filled(body.shape, np.array([line[k], line[n], back[n], back[k]]))
        seen = (side > 0) & (face == 0)
        tone = rng.uniform(0.25, 0.75) if rng.random() < 0.75 else rng.uniform(1.2, 1.7)
        shading[seen] *= tone
        body[seen] = 1
    body |= _filled(body.shape, back)


def _round(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
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
    if not disc and rng.random() < 0.45:  # the mouth: rim and dark inside
        lip = (max(3, round(top)), max(2, round(half * rng.uniform(0.05, 0.3))))
        mouth = np.zeros(shape, np.uint8)
        cv2.ellipse(mouth, (round(x0), round(y0 - high)), lip, 0, 0, 360, 1, -1)
        face[mouth > 0] = 0
        body |= mouth
        shading[mouth > 0] = rng.uniform(0.1, 1.3)
    if rng.random() < 0.15:
        _facets(rng, face, shading)
    return _Piece(body=body, face=face, shading=shading)


def _prism(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
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
    lamp, deep = rng.uniform(-1.6, 1.6), rng.uniform(0.15, 0.75)
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
    return _Piece(body=face.copy(), face=face, shading=shading)


def _free(rng: np.random.Generator, shape: tuple[int, int]) -> _Piece:
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
    return _Piece(body=face.copy(), face=face, shading=shading)


def _composed(
    rng: np.random.Generator, piece: _Piece, shape: tuple[int, int]
) -> tuple[Light, Mask]:
    """Put bench, neighbours, piece, shadows and things together."""
    scene = ground(rng, shape)
    skin = concrete(rng, shape)
    turn, away = rng.uniform(0, 2 * np.pi), between(rng, 0.5, 60)
    fall = (away * np.cos(turn), away * np.sin(turn))
    if rng.random() < 0.3:
        _neighbours(rng, scene, skin, piece)
    if rng.random() < 0.8:
        soft = between(rng, 0.8, 25)
        move = np.array([[1.0, 0.0, fall[0]], [0.0, 1.0, fall[1]]])
        body = piece.body.astype(np.float32)
        dark = cv2.warpAffine(body, move, shape[::-1])
        dark = cv2.GaussianBlur(np.maximum(dark, 0.5 * body), (0, 0), soft)
        scene *= (1 - rng.uniform(0.1, 0.9) * dark)[..., None]
    on = piece.body > 0
    scene[on] = (skin * piece.shading[..., None])[on]
    if rng.random() < 0.4:  # a line of contact or a worn arris all round
        edge = cv2.morphologyEx(piece.face, cv2.MORPH_GRADIENT, np.ones((3, 3)))
        rim = cv2.GaussianBlur(edge.astype(np.float32), (0, 0), between(rng, 0.6, 2))
        scene *= np.exp(rng.uniform(-1.2, 0.5) * rim)[..., None]
    things = np.zeros(shape, np.uint8)
    if rng.random() < 0.1:
        things |= tie_holes(rng, scene, piece.face)
    if rng.random() < 0.16:
        things |= stamp(rng, scene, piece.face)
    for _ in range(rng.choice([0, 1, 2, 3, 4], p=[0.3, 0.34, 0.2, 0.1, 0.06])):
        things |= _placed(rng, scene, piece, fall)
    _lit(rng, scene)
    return scene, things


def _neighbours(
    rng: np.random.Generator, scene: Light, skin: Light, piece: _Piece
) -> None:
    """Other pieces of the same mix beside it, at any gap: not face."""
    rows, cols = np.nonzero(piece.body)
    if len(rows) == 0:
        return
    y, x = np.mgrid[: scene.shape[0], : scene.shape[1]]
    gap = between(rng, 1.5, 40)
    low, high = (x.min(), y.min()), (x.max(), y.max())
    side = int(rng.integers(4))
    tone = rng.uniform(0.35, 0.85) if rng.random() < 0.8 else rng.uniform(1.1, 1.4)
    lean = rng.normal(0, 0.03)
    if side == 0:
        there = x < cols.min() - gap + lean * (y - high[1] / 2)
    elif side == 1:
        there = x > cols.max() + gap + lean * (y - high[1] / 2)
    elif side == 2:
        there = y < rows.min() - gap + lean * (x - high[0] / 2)
    else:
        there = y > rows.max() + gap + lean * (x - high[0] / 2)
    if rng.random() < 0.5:  # it does not run the whole length
        ends = np.sort(rng.uniform(0, 1, 2))
        along = y / max(high[1] - low[1], 1) if side < 2 else x / max(high[0], 1)
        there &= (along > ends[0]) & (along < ends[1])
    scene[there] = (skin[::-1, ::-1] * tone)[there]


def _placed(
    rng: np.random.Generator,
    scene: Light,
    piece: _Piece,
    fall: tuple[float, float],
) -> Mask:
    """Lay one thing at the piece's edge, on it or anywhere."""
    thing = any_thing(rng)
    rows, cols = scene.shape[:2]
    lot = rng.random()
    edge = cv2.morphologyEx(piece.face, cv2.MORPH_GRADIENT, np.ones((3, 3)))
    spots = np.argwhere(edge > 0) if lot < 0.6 else np.argwhere(piece.face > 0)
    if lot > 0.85 or len(spots) == 0:
        y, x = rng.uniform(0, rows), rng.uniform(0, cols)
    else:
        y, x = spots[rng.integers(len(spots))].astype(float)
    turn = rng.uniform(0, 2 * np.pi)
    if rng.random() < 0.6:
        turn = round(turn / (np.pi / 2)) * np.pi / 2 + rng.normal(0, 0.06)
    high, wide = thing.cover.shape
    zoom = between(rng, 0.35, 1.1)
    if lot < 0.6:  # beside the edge, at a gap of its own
        inner = cv2.distanceTransform(piece.face, cv2.DIST_L2, 3)
        outer = cv2.distanceTransform(1 - piece.face, cv2.DIST_L2, 3)
        signed = np.clip(outer, 0, 999) - np.clip(inner, 0, 999)
        signed = cv2.GaussianBlur(signed, (0, 0), 3)
        iy, ix = int(y), int(x)
        dy = signed[min(iy + 2, rows - 1), ix] - signed[max(iy - 2, 0), ix]
        dx = signed[iy, min(ix + 2, cols - 1)] - signed[iy, max(ix - 2, 0)]
        out = np.arctan2(dy, dx)
        along = out + np.pi / 2 if wide >= high else out
        if rng.random() < 0.7:
            turn = along + rng.normal(0, 0.03)
        thick = zoom * min(high, wide) / 2
        gap = thick + rng.choice([0.0, between(rng, 0.5, 30)])
        if rng.random() < 0.3:
            gap = rng.uniform(-1, 1) * thick
        y, x = y + gap * np.sin(out), x + gap * np.cos(out)
    c, s = zoom * np.cos(turn), zoom * np.sin(turn)
    matrix = np.array([[c, -s, x], [s, c, y], [0, 0, 1.0]]) @ np.array(
        [[1, 0, -wide / 2], [0, 1, -high / 2], [0, 0, 1.0]]
    )
    matrix[2, :2] += rng.normal(0, 0.0002, 2)
    part = rng.uniform(0.02, 0.25)
    shadow = (fall[0] * part, fall[1] * part, between(rng, 0.6, 5), rng.uniform(0, 0.8))
    cover = lay(scene, thing, matrix, shadow=shadow)
    return (cover > 0.5).astype(np.uint8)


def _lit(rng: np.random.Generator, scene: Light) -> None:
    """Light all of it: a slope, shadows of what stands outside, the lamp's tint."""
    shape = (scene.shape[0], scene.shape[1])
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j].astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    slope = np.exp(rng.uniform(0, 0.6) * (np.cos(turn) * x + np.sin(turn) * y))
    if rng.random() < 0.32:
        if rng.random() < 0.5:
            away = (x - rng.uniform(-1, 1)) * np.cos(turn) + y * np.sin(turn)
        else:
            away = rough(rng, shape, between(rng, 60, 300)) - rng.uniform(-1, 1)
        dark = step(away, between(rng, 0.005, 0.3))
        slope *= 1 - rng.uniform(0.2, 0.75) * dark
    if rng.random() < 0.12:  # a highlight
        at = rng.uniform(-1, 1, 2)
        spot = np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / between(rng, 0.01, 0.3))
        slope *= 1 + rng.uniform(0.2, 1.5) * spot
    scene *= slope[..., None] * colour(rng, 0.06)


def _photographed(rng: np.random.Generator, light: Light) -> Mask:
    """Blur, expose, add noise, develop and pack as a phone does."""
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), between(rng, 0.4, 1.6)))
    middle = float(np.percentile(light, rng.uniform(50, 97)))
    light *= between(rng, 0.3, 0.95) / max(middle, 1e-3)
    spread = between(rng, 0.001, 0.03)
    light += (
        spread
        * np.sqrt(np.maximum(light, 0.02))
        * rng.standard_normal(light.shape, dtype=np.float32)
    )
    tone = np.clip(light, 0, 1) ** (1 / rng.uniform(1.8, 2.6))
    if rng.random() < 0.4:
        tone += rng.uniform(0, 1) * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2))
    if rng.random() < 0.05:
        tone = np.repeat(tone.mean(axis=2, keepdims=True), 3, axis=2)
    pixels = np.clip(tone * 255, 0, 255).astype(np.uint8)
    if rng.random() < 0.6:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 96))]
        done, data = cv2.imencode(".jpg", pixels[..., ::-1], quality)
        if done:
            read = cv2.imdecode(data, cv2.IMREAD_COLOR)
            pixels = np.ascontiguousarray(np.asarray(read)[..., ::-1])
    return np.asarray(pixels, np.uint8)
