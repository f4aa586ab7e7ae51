"""Drawn things that lie on or beside a piece: rulers, paper, hands, tools, holes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.drawn_hands import hand_light
from analysis.training.faces.textures import between, colour, rough

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Mask = NDArray[np.uint8]

_FONTS = (
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_DUPLEX,
    cv2.FONT_HERSHEY_COMPLEX,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A drawn thing, flat.

    Attributes
    ----------
    light : ndarray of float32, (rows, cols, 3)
        Its light.
    cover : ndarray of float32, (rows, cols)
        1 where it is, 0 beside it.
    tip : tuple of float, optional
        x, y of the end that is held over a piece; it comes in from the left.
    """

    light: Light
    cover: Light
    tip: tuple[float, float] | None = None


def lay(
    scene: Light,
    thing: Thing,
    matrix: NDArray[np.float64],
    *,
    shadow: tuple[float, float, float, float] | None = None,
) -> Light:
    """Lay a thing into a scene, in place.

    Parameters
    ----------
    scene : ndarray of float32, (rows, cols, 3)
        Changed in place.
    thing : Thing
    matrix : ndarray of float64, (3, 3)
        From the thing's (x, y) to the scene's.
    shadow : tuple, optional
        How its shadow falls: right, down and softness in px, and the share of light
        it takes.

    Returns
    -------
    ndarray of float32, (rows, cols)
        How much of each pixel it covers.

    Examples
    --------
    >>> one = Thing(light=np.ones((4, 4, 3), np.float32), cover=np.ones((4, 4), "f4"))
    >>> float(lay(np.zeros((9, 9, 3), np.float32), one, np.eye(3)).sum())
    16.0
    """
    size = (scene.shape[1], scene.shape[0])
    cover = np.asarray(cv2.warpPerspective(thing.cover, matrix, size), np.float32)
    light = cv2.warpPerspective(
        thing.light, matrix, size, borderMode=cv2.BORDER_REPLICATE
    )
    if shadow is not None:
        right, down, soft, taken = shadow
        move = np.array([[1.0, 0.0, right], [0.0, 1.0, down]])
        dark = cv2.GaussianBlur(cv2.warpAffine(cover, move, size), (0, 0), soft)
        scene *= (1 - taken * dark)[..., None]
    scene += cover[..., None] * (light - scene)
    return cover


def _sheet(rng: np.random.Generator, rows: int, cols: int, tone: Light) -> Thing:
    light = np.empty((rows, cols, 3), np.float32)
    light[:] = tone
    light *= (1 + 0.03 * rough(rng, (rows, cols), between(rng, 8, 60)))[..., None]
    return Thing(light=light, cover=np.ones((rows, cols), np.float32))


def _ink(rng: np.random.Generator) -> tuple[float, float, float]:
    tone = (between(rng, 0.01, 0.2) * colour(rng, 0.3)).tolist()
    return (tone[0], tone[1], tone[2])


def _ruler(rng: np.random.Generator) -> Thing:
    long, wide = int(rng.integers(120, 520)), int(rng.integers(8, 44))
    kinds = ((0.8, 0.8, 0.78), (0.75, 0.55, 0.06), (0.4, 0.4, 0.42), (0.5, 0.35, 0.17))
    tone = np.array(kinds[rng.integers(4)], np.float32) * rng.uniform(0.5, 1.2)
    dark = rng.random() < 0.12
    if dark:
        tone = np.full(3, 0.03, np.float32)
    thing = _sheet(rng, wide, long, tone)
    ink = (0.7, 0.7, 0.7) if dark else _ink(rng)
    step = between(rng, 3, 12)
    for number in range(int(long / step)):
        high = wide * (0.55 if number % 10 == 0 else 0.38 if number % 5 == 0 else 0.25)
        x = round(number * step)
        cv2.line(thing.light, (x, 0), (x, round(high)), ink, 1)
        if rng.random() < 0.98 and wide > 20:
            cv2.line(thing.light, (x, wide), (x, wide - round(high * 0.6)), ink, 1)
        if number % 10 == 0 and wide > 12:
            _write(
                rng, thing.light, str(number // 10), (x + 1, round(wide * 0.85)), ink
            )
    return thing


def _tape(rng: np.random.Generator) -> Thing:
    thing = _ruler(rng)
    wide = thing.light.shape[0]
    body = round(wide * rng.uniform(1.6, 3.5))
    rows = body + 4
    light = np.zeros((rows, thing.light.shape[1] + body, 3), np.float32)
    cover = np.zeros(light.shape[:2], np.float32)
    top = int(rng.integers(0, rows - wide + 1))
    light[top : top + wide, body:] = thing.light
    cover[top : top + wide, body:] = 1
    case = np.zeros_like(cover)
    middle = (body // 2, rows // 2)
    half = max(2, body // 2 - 1)
    if rng.random() < 0.5:
        cv2.circle(case, middle, half, 1, -1)
    else:
        cv2.rectangle(case, (1, rows // 2 - half), (body, rows // 2 + half), 1, -1)
    light[case > 0] = between(rng, 0.03, 0.6) * colour(rng, 0.6)
    return Thing(light=light, cover=np.maximum(cover, case))


def _write(
    rng: np.random.Generator,
    light: Light,
    text: str,
    at: tuple[int, int],
    ink: tuple[float, float, float],
) -> None:
    drawn = np.zeros(light.shape[:2], np.uint8)
    cv2.putText(
        drawn, text, at, _FONTS[rng.integers(3)], rng.uniform(0.25, 0.5), 255, 1
    )
    cover = drawn[..., None] / np.float32(255)
    light += cover * (np.array(ink, np.float32) - light)


def _paper(rng: np.random.Generator) -> Thing:
    """Paper with lines of writing, squares like markers, codes and grey patches."""
    rows, cols = int(rng.integers(30, 170)), int(rng.integers(40, 240))
    tone = between(rng, 0.45, 0.95) * colour(rng, 0.25 if rng.random() < 0.2 else 0.02)
    thing = _sheet(rng, rows, cols, tone.astype(np.float32))
    light = thing.light
    if rng.random() < 0.7:
        count = int(rng.integers(1, 5))
        side = int(min(rows, cols) * rng.uniform(0.25, 0.6))
        places = [(0.05, 0.08), (0.95, 0.08), (0.95, 0.92), (0.05, 0.92), (0.5, 0.5)]
        for x, y in [places[k] for k in rng.permutation(5)[:count]]:
            cells = rng.random((int(rng.integers(6, 26)),) * 2) < 0.5
            if rng.random() < 0.8:  # a black edge, as markers have
                cells[[0, -1]] = True
                cells[:, [0, -1]] = True
            drawn = cv2.resize(
                cells.astype(np.float32), (side, side), interpolation=cv2.INTER_NEAREST
            )
            row, col = round(y * (rows - side)), round(x * (cols - side))
            spot = light[row : row + side, col : col + side]
            spot *= (1 - 0.96 * drawn[: spot.shape[0], : spot.shape[1]])[..., None]
    for _ in range(rng.integers(0, 8)):
        words = "".join(rng.choice(list("abcdefghiklmnorstu  "), 20))
        at = (int(rng.integers(0, cols)), int(rng.integers(5, rows)))
        _write(rng, light, words, at, _ink(rng))
    for _ in range(rng.integers(0, 4)):
        y = int(rng.integers(0, rows))
        cv2.line(light, (0, y), (cols, y), _ink(rng), 1)
    if rng.random() < 0.15:
        thing.cover[:] = 0
        cv2.ellipse(
            thing.cover,
            (cols // 2, rows // 2),
            (cols // 2, rows // 2),
            0,
            0,
            360,
            1,
            -1,
        )
    return thing


def _hand(rng: np.random.Generator) -> Thing:
    light, cover, tip = hand_light(rng)
    return Thing(light=light, cover=cover, tip=tip)


def _tool(rng: np.random.Generator) -> Thing:
    """Rods, handles, trowels, clamps, pens: long bodies of one or two parts."""
    rows, cols = int(rng.integers(10, 90)), int(rng.integers(60, 360))
    cover = np.zeros((rows, cols), np.float32)
    light = np.zeros((rows, cols, 3), np.float32)
    at = 0
    while at < cols:
        part = int(rng.integers(20, max(cols // 2, 22) + 1))
        # Now and then a thin neck between handle and blade.
        half = (rng.uniform(0.12, 0.5) if rng.random() < 0.8 else 0.06) * rows
        half_end = half * rng.uniform(0.4, 1)
        y = rows / 2
        corners = [
            (at, y - half),
            (at + part, y - half_end),
            (at + part, y + half_end),
            (at, y + half),
        ]
        mask = np.zeros((rows, cols), np.uint8)
        cv2.fillPoly(mask, [np.array(corners).astype(np.int32)], 1)
        tone = between(rng, 0.01, 0.7) * colour(rng, rng.uniform(0, 0.8))
        cross = np.abs(np.arange(rows) - y) / max(half, 1)
        gloss = rng.uniform(0.2, 0.9) * np.sqrt(np.clip(1 - cross**2, 0, 1)) + 0.4
        light[mask > 0] = (gloss[:, None, None] * tone * np.ones((1, cols, 1)))[
            mask > 0
        ]
        cover[mask > 0] = 1
        at += part
        if rng.random() < 0.35:
            break
    return Thing(light=light, cover=cover)


def _block(rng: np.random.Generator) -> Thing:
    """Any other thing: a box, a lid, a roll, a coin."""
    rows, cols = int(rng.integers(20, 140)), int(rng.integers(20, 140))
    tone = between(rng, 0.02, 0.85) * colour(rng, rng.uniform(0, 0.7))
    thing = _sheet(rng, rows, cols, tone.astype(np.float32))
    if rng.random() < 0.5:
        thing.cover[:] = 0
        half = (cols // 2 - 1, rows // 2 - 1)
        cv2.ellipse(thing.cover, (cols // 2, rows // 2), half, 0, 0, 360, 1, -1)
        if rng.random() < 0.5:
            inner = (round(half[0] * 0.7), round(half[1] * 0.7))
            shade = (tone * rng.uniform(0.2, 1.6)).tolist()
            cv2.ellipse(
                thing.light, (cols // 2, rows // 2), inner, 0, 0, 360, shade, -1
            )
    return thing


_BESIDE: tuple[tuple[Callable[[np.random.Generator], Thing], float], ...] = (
    (_ruler, 2.8),
    (_tape, 1.2),
    (_paper, 3.4),
    (_hand, 3.0),
    (_tool, 1.7),
    (_block, 0.8),
)


def any_thing(rng: np.random.Generator) -> Thing:
    """Return a thing that may lie on a piece or beside it.

    Examples
    --------
    >>> any_thing(np.random.default_rng(1)).cover.ndim
    2
    """
    weights = np.array([weight for _, weight in _BESIDE])
    return _BESIDE[rng.choice(len(_BESIDE), p=weights / weights.sum())][0](rng)


def tie_holes(rng: np.random.Generator, scene: Light, piece: Mask) -> Mask:
    """Draw round holes of one size in a regular pattern; return where, 0 or 1.

    Examples
    --------
    >>> scene = np.ones((60, 60, 3), np.float32)
    >>> tie_holes(np.random.default_rng(1), scene, np.ones((60, 60), np.uint8)).max()
    np.uint8(1)
    """
    low_col, low_row, wide, high = cv2.boundingRect(piece)
    radius = max(4, round(min(wide, high) * rng.uniform(0.025, 0.07)))
    across, down = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    found = np.zeros_like(piece)
    dark = rng.uniform(0.03, 0.3)
    squeeze = rng.uniform(0.8, 1.0)
    for k in range(across):
        for n in range(down):
            x = round(low_col + wide * (k + 0.5) / across)
            y = round(low_row + high * (n + 0.5) / down)
            inside = 0 <= y < piece.shape[0] and 0 <= x < piece.shape[1]
            if not inside or not piece[y, x]:
                continue
            tone = scene[y, x].copy()
            axes = (radius, max(3, round(radius * squeeze)))
            cv2.ellipse(found, (x, y), axes, 0, 0, 360, 1, -1)
            rim = (tone * rng.uniform(0.6, 1.25)).tolist()
            cv2.ellipse(scene, (x, y), axes, 0, 0, 360, rim, -1)
            part = rng.uniform(0.55, 0.97)
            inner = (round(axes[0] * part), round(axes[1] * part))
            cv2.ellipse(scene, (x, y), inner, 0, 0, 360, (tone * dark).tolist(), -1)
    return found


def stamp(rng: np.random.Generator, scene: Light, piece: Mask) -> Mask:
    """Write on the piece, in ink or relief; return the stamp's own area, 0 or 1.

    Examples
    --------
    >>> scene = np.ones((90, 90, 3), np.float32)
    >>> stamp(np.random.default_rng(1), scene, np.ones((90, 90), np.uint8)).shape
    (90, 90)
    """
    found = np.zeros_like(piece)
    rows, cols = np.nonzero(piece)
    if len(rows) == 0:
        return found
    lot = int(rng.integers(len(rows)))
    x, y = int(cols[lot]), int(rows[lot])
    tone = scene[y, x] * (between(rng, 0.05, 0.4) if rng.random() < 0.8 else 1.5)
    ink = tone.tolist()
    drawn = np.zeros_like(piece)
    if rng.random() < 0.5:
        reach = int(rng.integers(14, 50))
        cv2.circle(drawn, (x, y), reach, 255, int(rng.integers(1, 5)))
        cv2.circle(drawn, (x, y), round(reach * 0.65), 255, 1)
        at = (x - reach // 2, y + 4)
        cv2.putText(drawn, "KW 7", at, _FONTS[0], reach / 55, 255, 1)
        for turn in np.linspace(0, 2 * np.pi, 12, endpoint=False):
            at = (
                round(x + 0.82 * reach * np.cos(turn)),
                round(y + 0.82 * reach * np.sin(turn)),
            )
            cv2.circle(drawn, at, 2, 255, 1)
        cv2.circle(found, (x, y), reach + 2, 1, -1)
    else:
        text = "".join(rng.choice(list("ABCDEFGHKLMNPRSTUVWXYZ0123456789- "), 8))
        scale, thick = rng.uniform(0.4, 1.6), int(rng.integers(1, 4))
        font = _FONTS[rng.integers(3)]
        cv2.putText(drawn, text, (x, y), font, scale, 255, thick)
        (wide, high), low = cv2.getTextSize(text, font, scale, thick)
        cv2.rectangle(found, (x - 2, y - high - 2), (x + wide + 2, y + low), 1, -1)
    scene[(drawn > 127) & (piece > 0)] = ink
    return found & piece
