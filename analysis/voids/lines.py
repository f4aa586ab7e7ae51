"""Long thin dark marks: cracks, joints, scratches; voids on them stay voids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.components import boxes, components
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import (
    disc_px,
    on_boundary,
    region_pixels,
    region_shapes,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.shapes import Pixels, Shapes

_SET = SETTINGS.lines


def on_lines(
    looked: NDArray[np.bool_],
    light: NDArray[np.float32],
    background: Background,
    pixels: Pixels,
    shapes: Shapes,
) -> NDArray[np.bool_]:
    """Tell which candidates are pieces of a long thin mark.

    Parameters
    ----------
    looked : ndarray of bool, (rows, cols)
        Everything darker than the look level.
    light : ndarray of float32, (rows, cols)
        Linear light.
    background : Background
        The light the face would show without voids.
    pixels : Pixels
    shapes : Shapes
        Of the candidates.

    Returns
    -------
    ndarray of bool, (n,)
    """
    dark = looked.view(np.uint8)
    bridge = np.ones((_SET.bridge_px, _SET.bridge_px), np.uint8)
    bridged = np.asarray(
        cv2.morphologyEx(dark, cv2.MORPH_CLOSE, bridge), dtype=np.uint8
    )
    candidates = _Spots(
        pixels=pixels,
        width=shapes.feret_min_px,
        thinness=shapes.thinness(shapes.pixel_count),
        depth=_mean_depth(light, background, pixels),
    )
    return _on_long_marks(dark, light, background, candidates) | _on_long_marks(
        bridged, light, background, candidates
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spots:
    """What decides whether a candidate on a line is part of it."""

    pixels: Pixels
    width: NDArray[np.float64]
    thinness: NDArray[np.float64]
    depth: NDArray[np.float64]


def _mean_depth(
    light: NDArray[np.float32], background: Background, pixels: Pixels
) -> NDArray[np.float64]:
    """Mean of 1 - light / background over each region."""
    row = np.minimum(pixels.row // background.cell_px, background.cells.shape[0] - 1)
    col = np.minimum(pixels.col // background.cell_px, background.cells.shape[1] - 1)
    depth = 1.0 - light.ravel()[pixels.flat] / background.cells[row, col]
    return pixels.total(depth) / np.maximum(pixels.total(), 1.0)


def _on_long_marks(
    dark: NDArray[np.uint8],
    light: NDArray[np.float32],
    background: Background,
    candidates: _Spots,
) -> NDArray[np.bool_]:
    pixels = candidates.pixels
    number, marks, label = components(dark > 0)
    box = boxes(marks, label, number, dark.shape[1])
    longest = np.hypot(box.width.astype(np.float64), box.height.astype(np.float64))
    area = np.bincount(label, minlength=number)
    # By the box first, which costs little and lets all long marks pass: its diagonal is
    # no shorter than the mark. The few that are left are measured below.
    maybe = (longest >= _SET.shortest_px) & (
        disc_px(longest) >= _SET.thinnest_ratio * area
    )
    maybe[0] = False
    renumber = np.zeros(number, dtype=np.int32)
    renumber[maybe] = 1 + np.arange(np.count_nonzero(maybe))
    count = int(np.count_nonzero(maybe))
    if count == 0 or pixels.count == 0:
        return np.zeros(pixels.count, dtype=bool)
    found = np.zeros(dark.shape, dtype=np.int32)
    found.ravel()[marks] = renumber[label]
    lines = region_pixels(found, count)
    line_shapes = region_shapes(lines)
    thin = line_shapes.thinness(line_shapes.pixel_count)
    rim = np.bincount(lines.label[on_boundary(lines)], minlength=lines.count)
    # The rim runs along both sides of a line: half of it is the line's length, and area
    # over that its width.
    width = 2 * line_shapes.pixel_count / np.maximum(rim, 1)
    width[
        (thin < _SET.thinnest_ratio) | (line_shapes.feret_max_px < _SET.shortest_px)
    ] = 0.0
    depth = _mean_depth(light, background, lines)
    under = found.ravel()[pixels.flat]

    def below(figure: NDArray[np.float64]) -> NDArray[np.float64]:
        """Largest figure of the lines under each candidate; 0 where there is none."""
        largest = np.zeros(pixels.count)
        np.maximum.at(largest, pixels.label, np.concatenate([[0.0], figure])[under])
        return largest

    # Px on no line read the 0 in front; short and broad marks have a width of 0.
    on_line = pixels.total(np.concatenate([[0.0], width])[under] > 0)
    share = on_line / pixels.total()
    wider = candidates.width > _SET.wider_ratio * below(width)
    deeper = candidates.depth > _SET.deeper_ratio * below(depth)
    pit = (wider | deeper) & (candidates.thinness < _SET.most_thin_ratio)
    return np.asarray((share > _SET.on_line_share) & ~pit)
