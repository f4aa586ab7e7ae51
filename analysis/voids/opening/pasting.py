"""Openings, each drawn in a patch of its own, entered into one label image."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.opening.openings import CHUNK
from analysis.voids.opening.planes import PATCH_PX
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.voids.opening.openings import Openings

_SET = SETTINGS.opening


def paste(
    drawn: Openings, chosen: NDArray[np.bool_], shape: tuple[int, int]
) -> tuple[NDArray[np.int32], NDArray[np.intp], NDArray[np.float64]]:
    """Enter openings into one label image; those that overlap become one.

    Larger openings go first. One that lies mostly on another is the same opening,
    seen from another dark part of it.

    Parameters
    ----------
    drawn : Openings
    chosen : ndarray of bool, (n,)
        Which to enter.
    shape : tuple of int
        Rows and columns of the photo.

    Returns
    -------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to m.
    origin : ndarray of intp, (m,)
        Spot that each region was drawn for.
    own_px : ndarray of float64, (m,)
        Px of the opening of that candidate, before others joined or clipped it.
    """
    labels = np.zeros(shape, dtype=np.int32)
    origin: list[int] = []
    own_px: list[int] = []
    order = np.argsort(-drawn.area_px, kind="stable")
    order = order[chosen[order]]
    for number, window, inside in _at_full_size(drawn, order, shape):
        part = labels[window]
        held = part[inside]
        taken = np.count_nonzero(held)
        if len(held) == 0:
            continue
        if taken > _SET.inside_share * len(held):
            # The opening that holds most of its px.
            part[inside & (part == 0)] = np.bincount(held[held > 0]).argmax()
            continue
        origin.append(number)
        own_px.append(len(held))
        # Most lie on nothing yet: their px are not looked at twice.
        part[inside & (part == 0) if taken else inside] = len(origin)
    return labels, np.array(origin, dtype=np.intp), np.array(own_px, dtype=float)


def _at_full_size(
    drawn: Openings, order: NDArray[np.intp], shape: tuple[int, int]
) -> Iterator[tuple[int, tuple[slice, slice], NDArray[np.bool_]]]:
    """Yield patches, in that order, with their window and which of its px are inside.

    What costs by the call is worked out for many patches at once.
    """
    frames = drawn.frames
    for start in range(0, len(order), CHUNK):
        some = order[start : start + CHUNK]
        half = frames.half_px[some]
        ends, maps = [], []
        for middle, side in zip(
            (frames.row_px[some], frames.col_px[some]), shape, strict=True
        ):
            first = np.maximum(0, (middle - half).astype(np.intp))
            stop = np.minimum(side, (middle + half).astype(np.intp) + 2)
            most = max(0, int((stop - first).max()))
            away = first[:, None] + np.arange(most) - middle[:, None]
            scale = (half / (PATCH_PX / 2))[:, None]
            at = away / scale + PATCH_PX / 2 - 0.5
            ends += [first.tolist(), stop.tolist()]
            maps.append(at.astype(np.float32))
        at_row, at_col = maps
        for index, (number, top, bottom, left, right) in enumerate(
            zip(some.tolist(), *ends, strict=True)
        ):
            col_map, row_map = np.empty((2, bottom - top, right - left), np.float32)
            col_map[:] = at_col[index, : right - left]
            row_map[:] = at_row[index, : bottom - top, None]
            soft = cv2.remap(
                drawn.opening[number],
                col_map,
                row_map,
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
            )
            window = slice(top, bottom), slice(left, right)
            yield number, window, np.asarray(soft) > _SET.inside_share
