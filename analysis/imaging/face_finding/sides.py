"""Outlines drawn in past a side of the piece, or the mouth of a pot, seen beside it.

Both are of the face's own colour in less light, and a sharp step that runs along the
outline parts them from it. Soft shadows, and light that falls off towards the edge of a
round piece, have no such step; facets are wider.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.edges import cheapest_way, normals, round_blurred
from analysis.imaging.face_finding.tucking import drawing_in_cost, unlike

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]
    Mask = NDArray[np.bool_]

# Steps are looked for in a picture of this longest side, voids blurred away.
_WORKED_PX = 280
_VOIDS_PX = 5
# Of the longest side: how wide a side may be, and is at least (narrower ones are drawn
# in px by px afterwards); where the face farther in ends; half the stretch along the
# outline that tells what is usual; how long a side is at least.
_WIDEST, _NARROWEST, _DEEP = 0.055, 0.012, 0.11
_ALONG, _SHORTEST = 0.0285, 0.03
_BEND, _MOST_BEND = 0.6, 3
# How much of the whole difference lies in the step itself.
_SHARP = (0.75, 1.25)
# Its light as a share of the face's; its hue differs by no more (CIE Lab in 8 bits).
_LIGHT, _SAME_HUE, _LEAST_STEP = (0.12, 0.75), 5.0, 12.0
# The step is found to about a px of the small picture: so much is given back.
_BACK_PX = 1.0
_FRAME_PX = 6.0
_CLEAR_PX = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strips:
    """What lies inside each place of the outline, in px of the small picture."""

    colours: NDArray[np.float32]  # (n, deep, 3)
    thing: Mask  # (n, deep)
    most: int

    @property
    def deep(self) -> int:
        return int(self.colours.shape[1])


def without_sides(line: Line, picture: NDArray[np.float32], thing: Mask) -> Line | None:
    """Draw a closed line in to where a side of the piece ends and its face begins.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture, about 2 px apart.
    picture : ndarray of float32, (rows, cols, 3)
        CIE Lab in 8 bits.
    thing : ndarray of bool, (k, k)
        Where the picture shows a ruler, a card, a hand; of any size. There nothing is
        drawn in.

    Returns
    -------
    ndarray of float64, (n, 2), or None
        It may cross itself at corners. None where no side is seen.

    Examples
    --------
    >>> picture = np.full((840, 1120, 3), 128, np.float32)
    >>> picture[:, 560:] = (30, 128, 128)
    >>> picture[:, 520:560] = (70, 128, 128)
    >>> down = np.arange(2.0, 838)[::2]
    >>> right = np.stack([down, np.full_like(down, 560.0)], 1)
    >>> left = np.stack([down[::-1], np.full_like(down, 90.0)], 1)
    >>> top = np.stack([np.full(235, 2.0), np.linspace(90, 560, 235)], 1)
    >>> below = np.stack([np.full(235, 837.0), np.linspace(560, 90, 235)], 1)
    >>> square = np.vstack([top, right, below, left])
    >>> found = without_sides(square, picture, np.zeros((9, 9), bool))
    >>> bool(abs(np.median(found[300:600, 1]) - 524) < 4)
    True
    """
    rows, cols = picture.shape[:2]
    zoom = max(rows, cols) / _WORKED_PX
    if zoom < 1:
        return None
    every = max(1, round(zoom / 2))
    inwards = normals(line)
    few = line[::every]
    strips = _strips(few, inwards[::every], picture, thing, zoom)
    stretch = max(1, round(_ALONG * _WORKED_PX / 4))
    depth = np.arange(strips.deep, dtype=np.float64) + 0.5
    off = unlike(strips.colours, depth, strips.most, stretch)[:, : strips.most]
    at_frame = few.min(axis=1) < _FRAME_PX
    at_frame |= (np.array([rows, cols]) - 1 - few).min(axis=1) < _FRAME_PX
    way = cheapest_way(drawing_in_cost(off, at_frame), _BEND, _MOST_BEND)
    drawn_in = np.zeros(len(few))
    for run in _runs(way >= max(2, _NARROWEST * _WORKED_PX)):
        clear = [k for k in run if not strips.thing[k, : way[k] + _CLEAR_PX].any()]
        if len(clear) >= _SHORTEST * _WORKED_PX and _is_side(strips, clear, way):
            drawn_in[clear] = way[clear] * zoom
    if not drawn_in.any():
        return None
    # Only every few points were looked at; between them the move is linear.
    move = np.interp(np.arange(len(line)), np.arange(len(few)) * every, drawn_in)
    move = np.maximum(move - _BACK_PX * zoom, 0)
    return line - round_blurred(move[:, None], 1.5) * inwards


def _strips(
    few: Line,
    inwards: Line,
    picture: NDArray[np.float32],
    thing: Mask,
    zoom: float,
) -> _Strips:
    rows, cols = picture.shape[:2]
    size = (round(cols / zoom), round(rows / zoom))
    small: Any = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(small.clip(0, 255).astype(np.uint8), _VOIDS_PX)
    # Neighbouring normals alike: a jagged line would shuffle its places.
    inwards = round_blurred(inwards, 1.5)
    inwards = inwards / np.maximum(np.hypot(*inwards.T), 1e-6)[:, None]
    depth = np.arange(round(_DEEP * _WORKED_PX)) + 0.5
    at = (few[:, None] + 0.5) / zoom - 0.5 - depth[None, :, None] * inwards[:, None]
    colours = _read(small.astype(np.float32), at)
    ratio = np.array(thing.shape) / (size[1], size[0])
    known = _read(thing.astype(np.float32), (at + 0.5) * ratio - 0.5)
    return _Strips(
        colours=colours.reshape(*at.shape[:2], -1),
        thing=known > 0.3,  # noqa: PLR2004  a little beyond its edge
        most=round(_WIDEST * _WORKED_PX),
    )


def _read(picture: NDArray[np.float32], at: NDArray[np.float64]) -> NDArray[np.float32]:
    read = cv2.remap(
        picture,
        at[..., 1].astype(np.float32),
        at[..., 0].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(read, np.float32)


def _runs(there: Mask) -> list[list[int]]:
    """Return the numbers of places that follow each other, on a closed line."""
    if not there.any() or there.all():
        return []
    count, runs = len(there), []
    for first in np.flatnonzero(there & ~np.roll(there, 1)).tolist():
        run = [first]
        while there[(run[-1] + 1) % count]:
            run.append((run[-1] + 1) % count)
        runs.append(run)
    return runs


def _is_side(strips: _Strips, run: list[int], way: NDArray[np.intp]) -> bool:
    """Tell whether a strip is the face's own material in less light, sharply parted."""
    beyond = max(4, strips.deep - strips.most)
    strip, inner, last, first = [], [], [], []
    for k in run:
        place, end = strips.colours[k], int(way[k])
        strip.append(np.median(place[: end - 1], axis=0))
        inner.append(np.median(place[end + 1 : end + 1 + beyond], axis=0))
        last.append(place[max(0, end - 3) : end - 1].mean(axis=0))
        first.append(place[end + 1 : end + 3].mean(axis=0))
    # Each is (places, 3) of CIE Lab. A px on either side of the step is left out, since
    # blur fills it with both.
    whole = np.array(strip) - np.array(inner)
    far = np.hypot.reduce(whole, axis=1)
    step = np.hypot.reduce(np.array(last) - np.array(first), axis=1)
    light = np.median(_light(np.array(strip)) / _light(np.array(inner)))
    hue = np.median(np.hypot.reduce(whole[:, 1:], axis=1))
    sharp = np.median(step / np.maximum(far, 1.0))
    return bool(
        np.median(far) > _LEAST_STEP
        and _SHARP[0] < sharp < _SHARP[1]
        and _LIGHT[0] < light < _LIGHT[1]
        and hue < _SAME_HUE
    )


def _light(colours: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return linear light of CIE Lab in 8 bits."""
    # CIE L* to Y by its cube law; the straight foot below L* = 8 is left aside.
    return np.asarray(((colours[:, 0] / 2.55 + 16) / 116) ** 3, np.float64)
