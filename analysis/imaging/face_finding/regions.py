"""From likely places to the piece's region and what is left out of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.network import BESIDE, FACE, SIDE_PX, THING

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A second part of a face that a ruler or a hand cuts in two is this large at least.
_SMALLEST_PART = 0.06
_WHOLE = 0.985
# Holes of the region: a thing of this share of the face, sure as said, is left out, and
# so is a larger opening through the piece. All other holes are voids and stains: face.
_SMALLEST_THING, _SURE_THING = 0.0006, 0.5
_SMALLEST_OPENING, _SURE_OPENING = 0.012, 0.75


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Regions:
    """Masks on a reduced photo.

    Attributes
    ----------
    piece : ndarray of bool, (rows, cols)
        Inside of the outline, holes filled.
    left_out : ndarray of bool, (rows, cols)
        What is left out of it.
    whole : bool
        The piece fills the photo.
    """

    piece: NDArray[np.bool_]
    left_out: NDArray[np.bool_]
    whole: bool


def regions_of(likely: NDArray[np.float32], shape: tuple[int, int]) -> Regions | None:
    """Find the piece in the middle and the things on it.

    Parameters
    ----------
    likely : ndarray of float32, (n, n, 3)
        As `looks_like` gives it, one look.
    shape : tuple of int
        Rows and columns of the masks.

    Returns
    -------
    Regions or None
        None where nothing looks like a face.

    Examples
    --------
    >>> sure = np.zeros((256, 256, 3), np.float32)
    >>> sure[..., 1] = 1
    >>> regions_of(sure, (60, 80)).whole
    True
    """
    large = cv2.resize(likely, shape[::-1], interpolation=cv2.INTER_LINEAR)
    large = np.asarray(large, np.float32)
    kind = large.argmax(axis=2)
    face = _opened(kind == FACE, shape)
    parts = _parts(face)
    if parts is None:
        return None
    thing = kind == THING
    piece = _joined(parts, thing)
    step = max(shape) / SIDE_PX
    piece = _closed(piece, 1.2 * step)
    filled = _filled(piece)
    left_out = np.zeros(shape, bool)
    area = max(int(filled.sum()), 1)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (filled & ~(piece & (kind == FACE))).astype(np.uint8), connectivity=8
    )
    for number in range(1, count):
        hole = labels == number
        share = int(stats[number, cv2.CC_STAT_AREA]) / area
        likely_there = large[hole].mean(axis=0)
        is_thing = likely_there[THING] > _SURE_THING and share > _SMALLEST_THING
        opening = likely_there[BESIDE] > _SURE_OPENING and share > _SMALLEST_OPENING
        if is_thing or opening:
            left_out |= hole
    share = float((filled | (thing & ~left_out)).mean())
    whole = share > _WHOLE
    if whole:
        left_out |= thing & ~filled & (large[..., THING] > _SURE_THING)
        filled = np.ones(shape, bool)
    return Regions(piece=filled, left_out=left_out, whole=whole)


def _opened(mask: NDArray[np.bool_], shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Cut off threads thinner than a place of the network."""
    wide = max(1, round(0.8 * max(shape) / SIDE_PX))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * wide + 1, 2 * wide + 1))
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel)
    return np.asarray(opened > 0)


def _closed(mask: NDArray[np.bool_], reach_px: float) -> NDArray[np.bool_]:
    """Close what voids at the edge bite out of it."""
    wide = max(1, round(reach_px))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * wide + 1, 2 * wide + 1))
    padded = cv2.copyMakeBorder(
        mask.astype(np.uint8), wide, wide, wide, wide, cv2.BORDER_REPLICATE
    )
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, kernel)
    return np.asarray(closed[wide:-wide, wide:-wide] > 0)


def _parts(face: NDArray[np.bool_]) -> list[NDArray[np.bool_]] | None:
    """Return the parts of the face, the largest and most central one first."""
    count, labels, stats, centres = cv2.connectedComponentsWithStats(
        face.astype(np.uint8), connectivity=4
    )
    if count < 2:  # noqa: PLR2004  nothing but ground
        return None
    areas = stats[1:, cv2.CC_STAT_AREA].astype(float)
    middle = np.array(face.shape[::-1]) / 2
    away = np.hypot(*((centres[1:] - middle) / middle).T)
    # In the middle of a side of the photo `away` is 1: there area counts half.
    order = np.argsort(-areas * np.exp(-0.7 * away))
    first = areas[order[0]]
    return [labels == k + 1 for k in order if areas[k] >= _SMALLEST_PART * first]


def _joined(
    parts: list[NDArray[np.bool_]], thing: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Join parts of the face across the things that cut it, with what lies between."""
    piece = parts[0]
    if len(parts) == 1:
        return piece
    kernel = np.ones((5, 5), np.uint8)
    count, labels = cv2.connectedComponents(
        cv2.dilate(thing.astype(np.uint8), kernel), connectivity=8
    )
    touching = [set(np.unique(labels[part]).tolist()) - {0} for part in parts]
    joined, own = piece.copy(), touching[0]
    links: set[int] = set()
    for part, touched in zip(parts[1:], touching[1:], strict=True):
        if own & touched:
            joined |= part
            links |= own & touched
    if not links or count < 2:  # noqa: PLR2004
        return piece
    # Only as far as the hull: a ruler that runs on beyond the piece is no piece.
    bridge = np.isin(labels, list(links)) & _hull(joined)
    return np.asarray(joined | bridge)


def _hull(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    points = cv2.findNonZero(mask.astype(np.uint8))
    hull: Any = cv2.convexHull(points)
    filled = np.zeros(mask.shape, np.uint8)
    cv2.fillPoly(filled, [hull], 1)
    return np.asarray(filled > 0)


def _filled(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fill the holes of the largest part."""
    contours, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    largest: Any = max(contours, key=cv2.contourArea)
    filled = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(filled, [largest], -1, 1, -1)
    return np.asarray(filled > 0)
