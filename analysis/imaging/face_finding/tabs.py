"""Tabs of an outline cut off: what of the ground hangs on past a sharp inward corner.

Where a pot's mouth or a side of the piece was left outside, its ends often stay in: the
outline runs smoothly along the face, turns out sharply round a small tab, and comes
back. The smooth stretch, drawn on, parts the tab from the face. It is cut off if it is
small, closed by that line, and of the colour of what lies outside along the stretch.
Real corners, as of a leg or a notch, have face beyond the line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face import polygon_mask
from analysis.imaging.face_finding.edges import normals, outline_of, stepped

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Picture = NDArray[np.float32]

# Lengths are shares of the picture's longest side, if nothing else is said.
# A corner turns inwards by so much, radians, between what lies before and behind it.
_SHARP, _ARM = 0.6, 0.0143
# The smooth stretch: how long, how far from the corner it ends (there the line is
# rounded), and how well a parabola fits it. Of a bent or broken one the nearer part.
_STRETCH, _FROM_CORNER, _SMOOTH = 0.1, 0.0143, 0.0016
_PARTS = (1.0, 0.67, 0.5)
# How far past the corner the tab may reach, along the stretch and across it: larger
# ones are parts of the piece or of a neighbour, and `sure` tells them.
_REACH, _HIGH = 0.09, 0.08
_SMALLEST_PX = 30
# Where ground and face are looked at, on both sides of the stretch.
_BESIDE = (0.0045, 0.007, 0.01)
# They differ by so many steps of CIE Lab, 8 bits; the ground scatters by no more than
# so much of that (a mouth and a side are of one colour, gravel is not); and so much of
# a tab is more like the ground, since a round face gets darker towards its edge.
_APART, _ONE_COLOUR, _LIKE_GROUND = 8.0, 0.5, 0.8
# The drawn-on line is astray by so much: what is like the ground there goes as well,
# if it lies by the tab.
_ASTRAY = 0.006
_VOIDS_PX, _THREAD_PX = 5, 7
_NEAR_PX = 15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stretch:
    """A smooth part of the outline that ends before a corner."""

    points: Line  # (n, 2), the last by the corner
    outwards: Line  # (n, 2), unit vectors
    ahead: NDArray[np.float64]  # (2,), unit vector towards the corner
    aside: NDArray[np.float64]  # (2,), unit vector out of the face
    bend: NDArray[np.float64]  # parabola of `aside` over `ahead`, from the last point


def without_tabs(line: Line, picture: Picture, thing: Mask) -> Line:
    """Return an outline without the small tabs of ground that hang on it.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture, about 2 px apart, closed.
    picture : ndarray of float32, (rows, cols, 3)
        CIE Lab in 8 bits.
    thing : ndarray of bool, (k, k)
        Where the picture, squeezed into a square, shows a ruler, a card, a hand: beside
        one the face ends where the thing does, and nothing is cut off.

    Returns
    -------
    ndarray of float64, (m, 2)
        The same array where no tab is seen.

    Examples
    --------
    >>> picture = np.full((840, 1120, 3), 128, np.float32)
    >>> picture[:200, :, 0] = 60
    >>> tab = [(170.0, 300.0), (170.0, 340.0), (200.0, 345.0)]
    >>> rest = [(200.0, 800.0), (700.0, 800.0), (700.0, 300.0)]
    >>> line = stepped(np.array(tab + rest))
    >>> found = without_tabs(line, picture, np.zeros((9, 9), bool))
    >>> bool(found[:, 0].min() > 196)
    True
    """
    corners = _inward_corners(line, max(picture.shape[:2]))
    if not corners:
        return line
    inside = polygon_mask(line, (picture.shape[0], picture.shape[1]))
    # Voids would tell the face's colour wrongly.
    soft: Any = cv2.medianBlur(picture.clip(0, 255).astype(np.uint8), _VOIDS_PX)
    colours = soft.astype(np.float32)
    known: Any = cv2.resize(
        thing.astype(np.uint8), inside.shape[::-1], interpolation=cv2.INTER_NEAREST
    )
    outwards = normals(line)
    gone = np.zeros_like(inside)
    for corner in corners:
        for way in (1, -1):
            stretch = _stretch(line, outwards, corner, way, max(inside.shape))
            if stretch is not None:
                gone |= _tab(inside, known > 0, colours, stretch, line[corner])
    # Voids of the face are dark as a mouth is: what is thin or small stays.
    gone = _opened(gone)
    if not gone.any():
        return line
    # Threads beside what goes, go too; elsewhere the outline is left as it is.
    rest = inside & ~gone
    kept = _opened(rest) | (rest & ~_grown(gone))
    return stepped(outline_of(kept)) if kept.any() else line


def _inward_corners(line: Line, longest: int) -> list[int]:
    """Return the numbers of the points at sharp inward corners, sharpest first."""
    arm = max(3, round(_ARM * longest / 2))
    before = line - np.roll(line, arm, axis=0)
    behind = np.roll(line, -arm, axis=0) - line
    cross = before[:, 0] * behind[:, 1] - before[:, 1] * behind[:, 0]
    turn = np.arctan2(cross, (before * behind).sum(axis=1))
    following = np.roll(line, -1, axis=0)
    # The sign of the shoelace sum tells which way round the line runs.
    if (line[:, 0] * following[:, 1] - line[:, 1] * following[:, 0]).sum() > 0:
        turn = -turn
    found: list[int] = []
    for point in np.argsort(-turn, kind="stable"):
        if turn[point] < _SHARP:
            break
        away = [abs(int(point) - other) for other in found]
        if all(min(far, len(line) - far) > arm for far in away):
            found.append(int(point))
    return found


def _stretch(
    line: Line, outwards: Line, corner: int, way: int, longest: int
) -> _Stretch | None:
    """Return the smooth stretch on one side of a corner; None where there is none."""
    long = round(_STRETCH * longest / 2)
    if long > len(line) // 4:
        return None
    first = max(3, round(_FROM_CORNER * longest / 2))
    numbers = (corner - way * (first + np.arange(long)[::-1])) % len(line)
    ahead = line[numbers[-1]] - line[numbers[long // 2]]
    ahead = ahead / max(float(np.hypot(*ahead)), 1e-6)
    aside = np.array([ahead[1], -ahead[0]])
    if aside @ outwards[numbers].mean(axis=0) < 0:
        aside = -aside
    for part in _PARTS:
        some = numbers[-max(6, round(part * long)) :]
        off = line[some] - line[some[-1]]
        along, across = off @ ahead, off @ aside
        bend = np.polyfit(along, across, 2)
        rough = np.sqrt(((np.polyval(bend, along) - across) ** 2).mean())
        if rough < _SMOOTH * longest:
            return _Stretch(
                points=line[some],
                outwards=outwards[some],
                ahead=ahead,
                aside=aside,
                bend=bend,
            )
    return None


def _tab(
    inside: Mask,
    thing: Mask,
    colours: Picture,
    stretch: _Stretch,
    corner: NDArray[np.float64],
) -> Mask:
    """Return what of a tab past the corner is to go, if there is one."""
    longest = max(inside.shape)
    reach, end = _REACH * longest, stretch.points[-1]
    gone = np.zeros_like(inside)
    # Only a window about the corner is looked at: the tab lies in it.
    low = np.maximum((end - 1.4 * reach).astype(int), 0)
    high = np.minimum((end + 1.4 * reach).astype(int), inside.shape)
    window = (slice(low[0], high[0]), slice(low[1], high[1]))
    rows, cols = np.mgrid[window]
    along = (rows - end[0]) * stretch.ahead[0] + (cols - end[1]) * stretch.ahead[1]
    across = (rows - end[0]) * stretch.aside[0] + (cols - end[1]) * stretch.aside[1]
    over = across - np.polyval(stretch.bend, along)
    there = inside[window] & (along > -_FROM_CORNER * longest)
    _, labels = cv2.connectedComponents((there & (over > 2)).astype(np.uint8))  # noqa: PLR2004
    by_corner = np.hypot(rows - corner[0], cols - corner[1]) < 0.01 * longest
    numbers = set(np.unique(labels[by_corner]).tolist()) - {0}
    tab = np.isin(labels, list(numbers))
    beyond = (along > reach) | (across > _HIGH * longest)
    if tab.sum() < _SMALLEST_PX or (tab & (beyond | thing[window])).any():
        return gone
    (ground, scatter), (face, _) = (
        _beside(colours, stretch, side * longest) for side in (1, -1)
    )
    apart = np.hypot.reduce(ground - face)
    if apart < _APART or scatter > _ONE_COLOUR * apart:
        return gone
    here = colours[window]
    like_ground = np.hypot.reduce(here - ground, axis=2) < np.hypot.reduce(
        here - face, axis=2
    )
    if like_ground[tab].mean() < _LIKE_GROUND:
        return gone
    rim = there & _grown(tab) & (over > -_ASTRAY * longest) & ~beyond
    gone[window] = (tab | rim) & like_ground
    return gone


def _grown(mask: Mask) -> Mask:
    kernel = np.ones((_NEAR_PX, _NEAR_PX), np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel)) > 0


def _opened(mask: Mask) -> Mask:
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_THREAD_PX, _THREAD_PX))
    return (
        np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel)) > 0
    )


def _beside(
    colours: Picture, stretch: _Stretch, side_px: float
) -> tuple[NDArray[np.floating[Any]], float]:
    """Return the usual colour along one side of a stretch, and the usual distance."""
    end = np.array(colours.shape[:2]) - 1
    places = [stretch.points + part * side_px * stretch.outwards for part in _BESIDE]
    rows, cols = np.rint(np.clip(np.vstack(places), 0, end)).astype(int).T
    some = colours[rows, cols]
    usual = np.median(some, axis=0)
    return usual, float(np.median(np.hypot.reduce(some - usual, axis=1)))
