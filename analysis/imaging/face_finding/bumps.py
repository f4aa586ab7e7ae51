"""Short bumps of an outline taken off where both sides of it lie on one smooth line.

A gap between stones that is as dark as the piece draws the line out; a void that opens
at the edge draws it in, and would be lost. On both sides of either the outline runs on
as one straight or evenly bent line. A bump outwards is taken off; a dent is filled only
where it is a void: darker than the face, with the edge of the piece beyond it still to
be seen. A notch, a chip and a corner stay.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.edges import normals

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]

# Of the photo's longest side: half the length of a bump.
_HALF = (0.024, 0.014, 0.008)
# Of the same: how well both sides lie on one bent line, and the least height of a bump.
_SMOOTH, _HIGH = 0.0005, 0.0014
# The line's radius, in halves of the bump: what is bent more may be a corner.
_ROUND = 14.0
# Steps of CIE Lab, 8 bits: a void darker than the face, the ground unlike the void.
_DARKER, _EDGE = 12.0, 10.0
_FRAME_PX = 4.0
# Points of the line are about so far apart, px.
_STEP_PX = 2.0


def without_bumps(
    line: Line, picture: NDArray[np.float32], thing: NDArray[np.bool_] | None = None
) -> Line:
    """Return an outline without its short bumps and voids' dents.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture, about 2 px apart, closed.
    picture : ndarray of float32, (rows, cols, 3)
        CIE Lab in OpenCV's 8 bits.
    thing : ndarray of bool, (n, n), optional
        Where over the photo, squeezed into a square, a ruler, a card, a hand or a stamp
        may lie: what it cuts out of the face stays cut out.

    Returns
    -------
    ndarray of float64, (n, 2)

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    >>> reach = 300 + 9 * np.exp(-(((turn - 2) / 0.02) ** 2))
    >>> line = 400 + reach[:, None] * np.stack([np.sin(turn), np.cos(turn)], 1)
    >>> level = without_bumps(line, np.zeros((800, 800, 3), np.float32))
    >>> bool(np.abs(np.hypot(*(level - 400).T) - 300).max() < 2)
    True
    """
    longest = max(picture.shape[:2])
    found = line.copy()
    for part in _HALF:
        half = max(3, round(part * longest / _STEP_PX))
        if len(found) > 8 * half:
            found = _levelled(found, picture, half, _beside(found, picture, thing))
    return found


def _beside(
    line: Line, picture: NDArray[np.float32], thing: NDArray[np.bool_] | None
) -> NDArray[np.bool_]:
    """Return which points of a line lie by a thing."""
    if thing is None:
        return np.zeros(len(line), bool)
    near = cv2.dilate(thing.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    place = (line + 0.5) * np.array(near.shape) / picture.shape[:2]
    rows, cols = np.clip(place.astype(int), 0, np.array(near.shape) - 1).T
    return np.asarray(near[rows, cols])


def _levelled(
    line: Line, picture: NDArray[np.float32], half: int, beside: NDArray[np.bool_]
) -> Line:
    """Take off bumps of one length."""
    longest = max(picture.shape[:2])
    away = np.arange(-2 * half, 2 * half + 1)
    inner = np.abs(away) < half
    # around: (n, 4 half + 1, 2), the stretch of line about each point.
    places = (np.arange(len(line))[:, None] + away) % len(line)
    around = line[places]
    level, off, out, curve = _smooth_way(around, ~inner, normals(line))
    rough = np.sqrt((off[:, ~inner] ** 2).mean(axis=1))
    height = off[:, inner]
    top = height[np.arange(len(line)), np.abs(height).argmax(axis=1)]
    end = np.array(picture.shape[:2]) - 1 - _FRAME_PX
    at_frame = ((around < _FRAME_PX) | (around > end)).any(axis=(1, 2))
    is_bump = (rough < _SMOOTH * longest) & ~at_frame & ~beside[places].any(axis=1)
    is_bump &= curve * half * _STEP_PX * _ROUND < 1
    is_bump &= np.abs(top) > _HIGH * longest
    found = line.copy()
    taken = np.zeros(len(line), bool)
    # The smoothest surroundings first: there the bump lies in the middle.
    order = np.argsort(np.where(is_bump, rough - 0.1 * np.abs(top), np.inf))
    for k in order[: int(is_bump.sum())]:
        bump = places[k, inner]
        if taken[bump].any():
            continue
        flat = level[k, inner]
        if top[k] < 0 and not _is_void(flat, height[k], out[k], picture):
            continue
        found[bump] = flat
        taken[bump] = True
    return found


def _smooth_way(
    around: Line, flank: NDArray[np.bool_], outwards: Line
) -> tuple[Line, NDArray[np.float64], Line, NDArray[np.float64]]:
    """Lay a parabola through both flanks of each stretch of line.

    Returns
    -------
    level : ndarray of float64, (n, k, 2)
        The stretch as it would run on the parabola.
    off : ndarray of float64, (n, k)
        How far outwards the line lies from it, px.
    out : ndarray of float64, (n, 2)
        Unit vectors outwards.
    curve : ndarray of float64, (n,)
        Its curvature, 1/px.
    """
    half = flank.shape[0] // 2
    left, right = flank.copy(), flank.copy()
    left[half:], right[:half] = False, False
    middle = around[:, flank].mean(axis=1)
    along = around[:, right].mean(axis=1) - around[:, left].mean(axis=1)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    out = np.stack([along[:, 1], -along[:, 0]], 1)
    out *= np.where((out * outwards).sum(axis=1, keepdims=True) < 0, -1.0, 1.0)
    # x, y: (n, k), along and across each stretch.
    x = ((around - middle[:, None]) * along[:, None]).sum(axis=2)
    y = ((around - middle[:, None]) * out[:, None]).sum(axis=2)
    size = max(float(np.abs(x).max()), 1.0)
    # For all stretches at once by the normal equations; x over its largest, so that
    # their parts are of one size.
    powers = np.stack([np.ones_like(x), x / size, (x / size) ** 2], axis=2)
    some = powers[:, flank]
    square = some.transpose(0, 2, 1) @ some + 1e-9 * np.eye(3)
    bend = np.linalg.solve(square, some.transpose(0, 2, 1) @ y[:, flank, None])
    height = (powers @ bend)[..., 0]
    level = (
        middle[:, None]
        + x[..., None] * along[:, None]
        + height[..., None] * out[:, None]
    )
    return level, y - height, out, np.abs(2 * bend[:, 2, 0]) / size**2


def _is_void(
    flat: Line, off: NDArray[np.float64], out: Line, picture: NDArray[np.float32]
) -> bool:
    """Tell whether a dent is dark, and the piece's edge is seen where it ran on."""
    deep = off < 0.5 * off.min()
    inside = flat[deep] + 0.4 * off[deep, None] * out
    beyond = flat[deep] + max(3.0, 0.3 * -off.min()) * out
    farther = flat[deep] + (1.5 * off.min() - 4) * out
    void, ground, face = (
        np.median(_at(picture, places), axis=0) for places in (inside, beyond, farther)
    )
    edge = float(np.sqrt(((ground - void) ** 2).sum()))
    return bool(face[0] - void[0] > _DARKER and edge > _EDGE)


def _at(picture: NDArray[np.float32], places: Line) -> NDArray[np.float32]:
    rows, cols = places.T.astype(np.float32)
    colours: NDArray[Any] = cv2.remap(
        picture,
        cols[None],
        rows[None],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(colours[0], np.float32)
