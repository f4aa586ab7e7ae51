"""Outlines drawn as a stiff line: pieces are cast in forms, the ground beside is loose.

Between stones, blades of grass or in the shadow of a gap the ground may be as dark as
the face, and there a line wanders by a few px: what it takes in counts as voids. A
form's sides are straight or evenly bent. So the way round is sought that costs least in
face lost and ground kept, where each turn of the line costs as well. Turning once round
costs the same on a disc as on a square: no corner is rounded for it, only to and fro is
dear. What reaches far, as a notch or a slit, is worth its turns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.edges import (
    normals,
    round_blurred,
    simplified,
    stepped,
)
from analysis.imaging.face_finding.tucking import drawing_in_cost, unlike

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]
    Table = NDArray[np.float64]

# All lengths are shares of the picture's longest side.
# Jitter up to this is taken off first: corners and stretches between them remain.
_JITTER = 0.002
# Drawing in leaves the soft rim of the face outside; so much is given back.
_RIM = 0.0018
# How far in and how far out the line may go from there: as far as stones reach below a
# face; outwards only across what is dented by less than a void.
_IN, _OUT = 0.0125, 0.0036
# Where the face farther in begins to tell and where it ends; half the stretch along the
# outline that tells what is usual.
_DEEP, _ALONG, _EVERY = 0.04, 0.086, 4
# Going outwards costs, however much like the face it is there: beyond a faint edge all
# is like it.
_OUTWARDS = 0.8
# The line turns only every so many points, 2 px apart: shorter ways would turn at each
# stone.
_LINK = 12
# Places in steps of half a px: whole ones would make a slanted side a staircase.
_STEP_PX = 0.5
# What a px by which a link leaves the last one's direction costs, in px2 of face lost
# over the 2 px between points.
_TURN = 3.0
_FRAME_PX = 4.0


def stiffened(line: Line, picture: NDArray[np.float32]) -> Line:
    """Draw a closed line stiffly along the edge of the face.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture, a little within the edge or astray by a few px.
    picture : ndarray of float32, (rows, cols, k)
        CIE Lab in 8 bits.

    Returns
    -------
    ndarray of float64, (m, 2)
        About 2 px apart. Points at the picture's frame stay.

    Examples
    --------
    >>> picture = np.zeros((300, 400, 1), np.float32)
    >>> picture[50:250, 60:340] = 120
    >>> corners = [(51, 61), (51, 339), (120, 339), (122, 341), (124, 339), (249, 339)]
    >>> found = stiffened(stepped(np.array([*corners, (249, 61)], float)), picture)
    >>> right = found[(abs(found[:, 0] - 122) < 9) & (found[:, 1] > 300), 1]
    >>> bool(np.ptp(right) < 1)
    True
    """
    rows, cols = picture.shape[:2]
    longest = max(rows, cols)
    base = stepped(simplified(line, _JITTER * longest))
    outwards = normals(base)
    base = base + _RIM * longest * outwards
    out, inner = round(_OUT * longest), max(2, round(_IN * longest))
    deep = max(inner + 4, round(_DEEP * longest))
    depth = np.arange(-out, deep) + 0.5
    # at: (n, out + deep, 2), places from beyond each point to far inside of it.
    at = (base[:, None] - depth[None, :, None] * outwards[:, None]).astype(np.float32)
    profile = cv2.remap(
        picture,
        np.clip(at[..., 1], 0, cols - 1),
        np.clip(at[..., 0], 0, rows - 1),
        cv2.INTER_LINEAR,
    )
    profile = np.asarray(profile, np.float32).reshape(*at.shape[:2], -1)
    stretch = max(1, round(_ALONG * longest / 2 / _EVERY))
    off = unlike(profile, depth, out + inner, stretch)[:, : out + inner]
    off[:, :out] = np.maximum(off[:, :out], _OUTWARDS)
    edge = base.min(axis=1) < _FRAME_PX
    edge |= (np.array([rows, cols]) - 1 - base).min(axis=1) < _FRAME_PX
    cost = _cost(off, out, edge)
    count = max(6, len(base) // _LINK)
    nodes = np.linspace(0, len(base), count, endpoint=False)
    at_nodes = nodes.round().astype(int)
    way = stiffest_way(
        _links(cost, at_nodes), _turns(base[at_nodes], outwards[at_nodes]), _TURN
    )
    place = way * _STEP_PX - out
    inwards = np.interp(
        np.arange(len(base)), [*at_nodes, len(base)], [*place, place[0]]
    )
    move = round_blurred(inwards[:, None], 1.0)
    move[edge] = 0.0
    moved: Line = base - move * outwards
    return moved


def _cost(off: Table, out: int, stays: NDArray[np.bool_]) -> Table:
    """Return what each place across the line costs, half px by half px."""
    whole = drawing_in_cost(off, np.zeros_like(stays))
    places = np.arange(0, off.shape[1] + 1e-9, _STEP_PX)
    below = np.minimum(places.astype(int), off.shape[1] - 1)
    part = places - below
    cost: Table = whole[:, below] * (1 - part) + whole[:, below + 1] * part
    # Dearer than all face that could be lost: at the frame the line stays.
    cost[stays] = off.shape[1]
    cost[stays, round(out / _STEP_PX)] = 0.0
    return cost


def _links(cost: Table, nodes: NDArray[np.intp]) -> Table:
    """Return what each straight way from node to node costs, (nodes, k, k)."""
    count, wide = len(nodes), cost.shape[1]
    ends = np.append(nodes[1:], len(cost))
    places = np.arange(wide)
    total = np.zeros((count, wide, wide))
    for step in range(_LINK):
        part = step / _LINK
        point = nodes + ((ends - nodes) * part).astype(int)
        between = np.rint(places[:, None] * (1 - part) + places * part).astype(int)
        total += cost[point][:, between]
    return total


def _turns(nodes: Line, outwards: Line) -> NDArray[np.float64]:
    """Return how many steps each node lies off the middle of its neighbours, twice."""
    off = np.roll(nodes, -1, axis=0) - 2 * nodes + np.roll(nodes, 1, axis=0)
    return np.asarray((off * outwards).sum(axis=1) / _STEP_PX)


def stiffest_way(links: Table, turns: NDArray[np.float64], dear: float) -> NDArray[Any]:
    """Return the place of each node of a closed line, by dynamic programming.

    Parameters
    ----------
    links : ndarray of float64, (n, k, k)
        What the way from each place at a node to each place at the next costs.
    turns : ndarray of float64, (n,)
        How the line turns at each node where all places are alike, outwards positive,
        in steps.
    dear : float
        What turning costs, for each px.

    Returns
    -------
    ndarray of int, (n,)
        Places are counted inwards.

    Examples
    --------
    >>> links = np.ones((8, 5, 5))
    >>> links[:, 3, 3] = 0
    >>> links[4, 1, 1] = links[4, 3, 3] - 1
    >>> stiffest_way(links, np.zeros(8), 3.0).tolist() == [3] * 8
    True
    """
    count, wide = links.shape[:2]
    place = np.arange(wide)
    # bend: (k, k, k), by how much a middle place lies off its neighbours' middle,
    # twice, as a number into the list of all that occur.
    bend = place[:, None, None] - 2 * place[None, :, None] + place[None, None, :]
    bend = bend + 2 * wide
    listed = np.arange(4 * wide + 1) - 2 * wide
    # Three times round, and the middle one is kept: its ends then have before and
    # behind them what they have on the closed line.
    rounds = [node % count for node in range(1, 3 * count)]
    best, came = links[0], []
    for node in rounds:
        # best: (before, here), the least cost of a way to these two places.
        turn = dear * _STEP_PX * np.abs(turns[node] - listed)
        ways = best[:, :, None] + turn[bend]
        lot = ways.argmin(axis=0)
        came.append(lot.astype(np.int16))
        best = np.take_along_axis(ways, lot[None], axis=0)[0] + links[node]
    before, here = np.unravel_index(int(best.argmin()), best.shape)
    path = [here, before]
    for lot in reversed(came):
        earlier = lot[before, here]
        path.append(earlier)
        before, here = earlier, before
    return np.array(path[::-1])[count : 2 * count]
