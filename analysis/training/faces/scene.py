"""Whole drawn photos of pieces, with what of each pixel is face."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.close_ups import close_up
from analysis.training.faces.concrete import concrete
from analysis.training.faces.grounds import ground
from analysis.training.faces.pieces import (
    DrawnPiece,
    flat_piece,
    free_form,
    no_piece,
    prism,
    round_piece,
    whole_face,
)
from analysis.training.faces.textures import between, colour, rough, step
from analysis.training.faces.things import any_thing, lay, stamp, tie_holes

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Mask = NDArray[np.uint8]

BESIDE, FACE, THING = 0, 1, 2
_LONG_PX = 352
_PIECES: tuple[
    tuple[Callable[[np.random.Generator, tuple[int, int]], DrawnPiece], float], ...
] = (
    (whole_face, 0.08),
    (close_up, 0.14),
    (flat_piece, 0.35),
    (round_piece, 0.22),
    (prism, 0.13),
    (free_form, 0.06),
    (no_piece, 0.02),
)
# A piece that takes more of the photo has no neighbour: what lies beyond a line on a
# close-up is the face's other side, and looks the same.
_MOST_WITH_NEIGHBOUR = 0.6


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
    lot = rng.choice(len(_PIECES), p=[part for _, part in _PIECES])
    maker = _PIECES[lot][0]
    piece = maker(rng, shape)
    light, things = _composed(rng, piece, shape, close=maker is close_up)
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


def _composed(
    rng: np.random.Generator, piece: DrawnPiece, shape: tuple[int, int], *, close: bool
) -> tuple[Light, Mask]:
    """Put bench, neighbours, piece, shadows and things together."""
    scene = ground(rng, shape)
    skin = concrete(rng, shape)
    own_tone = rng.random() < 0.2
    if own_tone:  # a floor or a wall of the piece's own tone
        tone = between(rng, 0.7, 1.4) * np.median(
            skin * piece.shading[..., None], (0, 1)
        )
        scene *= tone / np.maximum(np.median(scene, axis=(0, 1)), 1e-3)
    turn, away = rng.uniform(0, 2 * np.pi), between(rng, 0.5, 60)
    fall = (away * np.cos(turn), away * np.sin(turn))
    if rng.random() < 0.34 and piece.face.mean() < _MOST_WITH_NEIGHBOUR:
        _neighbours(rng, scene, skin, piece)
    if rng.random() < (0.5 if close else 0.2):  # out of focus behind a near face
        scene = np.asarray(cv2.GaussianBlur(scene, (0, 0), between(rng, 2, 25)))
    # Where the tones are alike, a shadow or a line tells where the piece ends.
    by_shadow = own_tone and rng.random() < 0.5
    if by_shadow or rng.random() < 0.8:
        soft = between(rng, 0.8, 25)
        move = np.array([[1.0, 0.0, fall[0]], [0.0, 1.0, fall[1]]])
        body = piece.body.astype(np.float32)
        dark = cv2.warpAffine(body, move, shape[::-1])
        dark = cv2.GaussianBlur(np.maximum(dark, 0.5 * body), (0, 0), soft)
        scene *= (1 - rng.uniform(0.1, 0.9) * dark)[..., None]
    on = piece.body > 0
    scene[on] = (skin * piece.shading[..., None])[on]
    if rng.random() < 0.12:
        _mirrored(rng, scene, piece)
    if (own_tone and not by_shadow) or rng.random() < 0.4:
        # a line of contact or a worn arris all round
        edge = cv2.morphologyEx(piece.face, cv2.MORPH_GRADIENT, np.ones((3, 3)))
        rim = cv2.GaussianBlur(edge.astype(np.float32), (0, 0), between(rng, 0.6, 2))
        scene *= np.exp(rng.uniform(-1.2, 0.5) * rim)[..., None]
    if rng.random() < 0.1:
        _voids_at_edge(rng, scene, piece)
    things = np.zeros(shape, np.uint8)
    if rng.random() < 0.1:
        things |= tie_holes(rng, scene, piece.face)
    if rng.random() < 0.16:
        things |= stamp(rng, scene, piece.face)
    for _ in range(rng.choice([0, 1, 2, 3, 4], p=[0.26, 0.36, 0.21, 0.11, 0.06])):
        things |= _placed(rng, scene, piece, fall)
    _lit(rng, scene)
    return scene, things


def _mirrored(rng: np.random.Generator, scene: Light, piece: DrawnPiece) -> None:
    """Mirror lamps and windows, softly, in a polished face."""
    shape = piece.face.shape
    gloss = np.zeros(shape, np.float32)
    for _ in range(rng.integers(1, 5)):
        corners = rng.uniform(-0.2, 1.2, 2) * shape[::-1] + between(
            rng, 10, 150
        ) * rng.standard_normal((4, 2)) * rng.uniform(0.2, 1, 2)
        spot = np.zeros(shape, np.float32)
        hull = cv2.convexHull(corners.astype(np.int32))
        cv2.fillPoly(spot, [hull], float(rng.uniform(0.2, 1)))
        gloss += cv2.GaussianBlur(spot, (0, 0), between(rng, 2, 40))
    tone = between(rng, 0.03, 0.7) * colour(rng, 0.05)
    scene += (gloss * (piece.body > 0))[..., None] * tone


def _voids_at_edge(rng: np.random.Generator, scene: Light, piece: DrawnPiece) -> None:
    """Cut voids through the outline: they open beside the face and belong to it."""
    edge = cv2.morphologyEx(piece.face, cv2.MORPH_GRADIENT, np.ones((3, 3)))
    spots = np.argwhere(edge > 0)
    if len(spots) == 0:
        return
    dark = np.zeros(piece.face.shape, np.float32)
    # Few and small: a dark bay of any size is as often a notch or a mouth, not face.
    for _ in range(round(between(rng, 1, 12))):
        y, x = spots[rng.integers(len(spots))].tolist()
        size = between(rng, 1.2, 4.5)
        axes = (max(1, round(size)), max(1, round(size * rng.uniform(0.5, 1))))
        lean, deep = float(rng.uniform(0, 180)), float(rng.uniform(0.3, 0.95))
        cv2.ellipse(dark, (x, y), axes, lean, 0, 360, deep, -1)
    soft = cv2.GaussianBlur(dark, (0, 0), between(rng, 0.3, 1.2))
    scene *= 1 - (soft * piece.face)[..., None]


def _neighbours(
    rng: np.random.Generator, scene: Light, skin: Light, piece: DrawnPiece
) -> None:
    """Other pieces of the same mix beside it, at any gap: not face."""
    rows, cols = np.nonzero(piece.body)
    if len(rows) == 0:
        return
    y, x = np.mgrid[: scene.shape[0], : scene.shape[1]]
    gap = between(rng, 0.7, 40)
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
    piece: DrawnPiece,
    fall: tuple[float, float],
) -> Mask:
    """Lay one thing at the piece's edge or corner, on it or anywhere."""
    thing = any_thing(rng)
    rows, cols = scene.shape[:2]
    lot = rng.random()
    edge = cv2.morphologyEx(piece.face, cv2.MORPH_GRADIENT, np.ones((3, 3)))
    spots = np.argwhere(edge > 0) if lot < 0.62 else np.argwhere(piece.face > 0)
    if 0.4 < lot < 0.62:
        corners = _corners_in(piece.face)
        spots = corners if len(corners) else spots
    if lot > 0.85 or len(spots) == 0:
        y, x = rng.uniform(0, rows), rng.uniform(0, cols)
    else:
        y, x = spots[rng.integers(len(spots))].astype(float)
    turn = rng.uniform(0, 2 * np.pi)
    if rng.random() < 0.6:
        turn = round(turn / (np.pi / 2)) * np.pi / 2 + rng.normal(0, 0.06)
    high, wide = thing.cover.shape
    zoom = between(rng, 0.35, 1.4)
    held = (wide / 2, high / 2)  # what of the thing lies at (x, y)
    out = _outwards(piece.face, (y, x))
    if thing.tip is not None and lot < 0.8:  # a hand reaches in from outside
        held = thing.tip
        turn = out + np.pi + rng.normal(0, 0.5)
        deep = between(rng, 2, 90)
        y, x = y - deep * np.sin(out), x - deep * np.cos(out)
    elif lot < 0.4:  # beside the edge, at a gap of its own
        along = out + np.pi / 2 if wide >= high else out
        if rng.random() < 0.7:
            turn = along + rng.normal(0, 0.03)
        thick = zoom * min(high, wide) / 2
        gap = thick + rng.choice([0.0, between(rng, 0.5, 8), between(rng, 0.5, 30)])
        if rng.random() < 0.3:
            gap = rng.uniform(-1, 1) * thick
        y, x = y + gap * np.sin(out), x + gap * np.cos(out)
    elif lot < 0.62:  # over the corner, more or less of it
        reach = zoom * min(high, wide) / 2
        y, x = np.array([y, x]) + reach * rng.uniform(-0.9, 0.9, 2)
    c, s = zoom * np.cos(turn), zoom * np.sin(turn)
    matrix = np.array([[c, -s, x], [s, c, y], [0, 0, 1.0]]) @ np.array(
        [[1, 0, -held[0]], [0, 1, -held[1]], [0, 0, 1.0]]
    )
    matrix[2, :2] += rng.normal(0, 0.0002, 2)
    part = rng.uniform(0.02, 0.25)
    shadow = (fall[0] * part, fall[1] * part, between(rng, 0.6, 5), rng.uniform(0, 0.8))
    cover = lay(scene, thing, matrix, shadow=shadow)
    return (cover > 0.5).astype(np.uint8)


def _corners_in(face: Mask) -> NDArray[np.int64]:
    """Return the face's corners (row, col) that lie within the photo."""
    rows, cols = face.shape
    lines, _ = cv2.findContours(face, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not lines:
        return np.zeros((0, 2), np.int64)
    line = max(lines, key=cv2.contourArea)
    few = cv2.approxPolyDP(line, 0.03 * max(rows, cols), True)[:, 0, ::-1]
    inside = (few > 2).all(1) & (few < np.array([rows, cols]) - 3).all(1)
    return np.asarray(few[inside], np.int64)


def _outwards(face: Mask, at: tuple[float, float]) -> float:
    """Return the way out of the face near a place, radians from x towards y."""
    rows, cols = face.shape
    inner = cv2.distanceTransform(face, cv2.DIST_L2, 3)
    outer = cv2.distanceTransform(1 - face, cv2.DIST_L2, 3)
    signed = np.clip(outer, 0, 999) - np.clip(inner, 0, 999)
    signed = cv2.GaussianBlur(signed, (0, 0), 3)
    iy, ix = (int(np.clip(k, 0, n - 1)) for k, n in zip(at, face.shape, strict=True))
    dy = signed[min(iy + 2, rows - 1), ix] - signed[max(iy - 2, 0), ix]
    dx = signed[iy, min(ix + 2, cols - 1)] - signed[iy, max(ix - 2, 0)]
    if dy == 0 and dx == 0:  # nothing but face: the way to the frame
        return float(np.arctan2(iy - rows / 2, ix - cols / 2))
    return float(np.arctan2(dy, dx))


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
