"""Outlines drawn in where the strip just inside them is unlike the face farther in.

The strongest edge near a face may be the far side of a gap between stones, of a blade
of grass, of the mouth of a pot or of a narrow side seen beside the face. What lies
between would be counted as one long void. Each place is held against the face farther
in, and the line goes where least is lost: face left outside costs, so does other ground
kept inside, and so does each bend, so that a void at the edge does not dent the line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.edges import cheapest_way, normals, round_blurred

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]

# Of the picture's longest side: how far in the line may go, where the face farther in
# begins and ends, half the stretch along the outline that tells what is usual there.
_MOST, _DEEP, _ALONG = 0.0125, 0.04, 0.086
# Every so many points tell what is usual; a place itself by so many of them each side.
_EVERY, _OWN = 4, 2
# Off by so many times the face's own scatter is unlike it; how sharp that limit is.
_UNLIKE, _SHARP = 3.5, 2.5
# Steps of CIE Lab in 8 bits: a smooth face scatters so much at least.
_LEAST_SCATTER = 5.0
# For each px of way across the line, and px of the longest side.
_BEND = 4.0 / 1120
_MOST_BEND = 3
_FRAME_PX = 4.0


def tucked(line: Line, picture: NDArray[np.float32]) -> Line:
    """Draw a closed line in to where the face begins.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture, about 2 px apart, at the edge or a little beyond.
    picture : ndarray of float32, (rows, cols, k)
        Colours in which distances mean something: CIE Lab in 8 bits.

    Returns
    -------
    ndarray of float64, (n, 2)
        No point farther in than 1.25 % of the picture's longest side. Points at the
        picture's frame stay.

    Examples
    --------
    >>> picture = np.zeros((300, 400, 1), np.float32)
    >>> picture[50:250, 60:340] = 120
    >>> side = np.arange(0, 1, 0.01)[:, None]
    >>> corners = np.array([(47, 57), (47, 342), (252, 342), (252, 57)], float)
    >>> square = np.vstack(
    ...     [a + side * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0))]
    ... )
    >>> bool(np.abs(tucked(square, picture)[130:170].mean(axis=0)[1] - 339.5) < 1)
    True
    """
    rows, cols = picture.shape[:2]
    longest = max(rows, cols)
    most, deep = max(2, round(_MOST * longest)), max(6, round(_DEEP * longest))
    inwards = normals(line)
    depth = np.arange(deep) + 0.5
    # at: (n, deep, 2), places straight in from each point; `normals` point outwards.
    at = line[:, None] - depth[None, :, None] * inwards[:, None]
    profile = cv2.remap(
        picture,
        np.clip(at[..., 1], 0, cols - 1).astype(np.float32),
        np.clip(at[..., 0], 0, rows - 1).astype(np.float32),
        cv2.INTER_LINEAR,
    )
    profile = np.asarray(profile, np.float32).reshape(*at.shape[:2], -1)
    stretch = max(1, round(_ALONG * longest / 2 / _EVERY))
    off = unlike(profile, depth, most, stretch)[:, :most]
    edge = line.min(axis=1) < _FRAME_PX
    edge |= (np.array([rows, cols]) - 1 - line).min(axis=1) < _FRAME_PX
    cost = drawing_in_cost(off, edge)
    way = cheapest_way(cost, _BEND * longest, _MOST_BEND).astype(np.float64)
    move = round_blurred(way[:, None], 1.0)
    move[edge] = 0.0
    return line - move * inwards


def drawing_in_cost(
    off: NDArray[np.float64], stays: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Return what it costs to draw each place of a line in by 0, 1, 2 ... px.

    Parameters
    ----------
    off : ndarray of float64, (n, most)
        How unlike the face each px inside a place is, 0 to 1.
    stays : ndarray of bool, (n,)
        Places that may not be drawn in.

    Returns
    -------
    ndarray of float64, (n, most + 1)

    Examples
    --------
    >>> drawing_in_cost(np.array([[1.0, 1.0, 0.0]]), np.array([False])).tolist()
    [[2.0, 1.0, 0.0, 1.0]]
    """
    none = np.zeros((len(off), 1))
    # Drawn in by k px, the face in the first k is lost and other ground from k on is
    # kept: cumulative sums give both for every k.
    lost = np.concatenate([none, np.cumsum(1 - off, axis=1)], axis=1)
    shed = np.concatenate([none, np.cumsum(off, axis=1)], axis=1)
    cost: NDArray[np.float64] = lost + shed[:, -1:] - shed
    cost[stays, 1:] = np.inf
    return cost


def unlike(
    profile: NDArray[np.float32],
    depth: NDArray[np.float64],
    first: int,
    stretch: int,
) -> NDArray[np.float64]:
    """Return how unlike the face farther in each place is, 0 to 1.

    Parameters
    ----------
    profile : ndarray of float32, (n, deep, k)
        Colours inside each place of a closed line.
    depth : ndarray of float64, (deep,)
        How far in each is.
    first : int
        From here on all is face.
    stretch : int
        Every fourth place is taken; so many of these each side tell what is usual.

    Returns
    -------
    ndarray of float64, (n, deep)

    Notes
    -----
    A place is like the face if it is like either what is usual so far in along this
    stretch (light falls off towards the edges of a round piece: a line through the
    medians at each depth follows it), or what lies straight in from it (facets end at
    the outline, and a stretch may hold two).

    Examples
    --------
    >>> profile = np.full((40, 9, 1), 120, np.float32)
    >>> profile[:, :2] = 30
    >>> unlike(profile, np.arange(9.0), 4, 2)[0].round(2).tolist()[:4]
    [1.0, 1.0, 0.0, 0.0]
    """
    some = profile[::_EVERY]
    count = len(some)
    near = _round(count, stretch)
    # near: (count, 2 stretch + 1), so some[near] is (count, neighbours, deep, k); the
    # medians at each depth are over neighbours.
    usual = np.median(some[near], axis=1)
    inner = usual[:, first:]
    away = depth - depth[first:].mean()
    level = inner.mean(axis=1, keepdims=True)
    # Least squares of a line through each (place, colour): depths are about their mean,
    # so level and slope part.
    slope = np.einsum("j,njk->nk", away[first:], inner - level)
    slope /= (away[first:] ** 2).sum()
    expected = level + slope[:, None] * away[None, :, None]
    rest = _distance(some[:, first:], expected[:, first:])
    scatter = np.median(rest[near].reshape(count, -1), axis=1)
    close = some[_round(count, _OWN)][:, :, first:]
    own = np.median(close.reshape(count, -1, profile.shape[2]), axis=1)
    # Each place uses what the last taken one, at or before it, has told.
    here = np.minimum(np.arange(len(profile)) // _EVERY, count - 1)
    off = np.minimum(
        _distance(profile, expected[here]), _distance(profile, own[here][:, None])
    )
    times = off / np.maximum(scatter, _LEAST_SCATTER)[here][:, None]
    return np.asarray(1 / (1 + np.exp(-_SHARP * (times - _UNLIKE).clip(-20, 20))))


def _round(count: int, reach: int) -> NDArray[np.intp]:
    """Return the numbers of each point's neighbours on a closed line."""
    return (np.arange(count)[:, None] + np.arange(-reach, reach + 1)) % count


def _distance(
    one: NDArray[np.float32], other: NDArray[np.floating[Any]]
) -> NDArray[np.float64]:
    return np.asarray(np.sqrt(((one - other) ** 2).sum(axis=2)), np.float64)
