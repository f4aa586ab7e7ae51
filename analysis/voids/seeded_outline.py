"""The outline of a dark spot a person pointed at, by the rule that cuts all others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import InputError
from analysis.model.review import Outline
from analysis.voids.candidates import enlarged, reduced
from analysis.voids.detection_pass import DetectionPass, run_pass
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import outlines

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SET = SETTINGS.seeded
_SWEEPS = tuple(
    DetectionPass(
        step=step,
        cell_px=cell_px,
        least_px=1,
        most_px=most_px,
        keep_share=_SET.keep_depth,
        keep_sigmas=_SET.keep_sigmas,
        keep_faint_sigmas=_SET.keep_sigmas,
        softest_px=_SET.softest_px,
    )
    for step, cell_px, most_px in _SET.searches
)


def outline_around(
    light: NDArray[np.float32],
    face: NDArray[np.bool_],
    at_px: tuple[float, float],
    reach_px: float,
) -> Outline:
    """Find where the dark candidate at a point, or the nearest within reach, ends.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light around the point.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    at_px : tuple of float
        (row, col) in `light`.
    reach_px : float
        How far off the candidate may lie.

    Returns
    -------
    Outline
        In the px of `light`.

    Raises
    ------
    InputError
        There is no dark candidate with an edge of its own.

    Examples
    --------
    >>> light = np.full((90, 120), 0.5, np.float32)
    >>> light[40:50, 60:70] = 0.4
    >>> found = outline_around(light, np.ones(light.shape, bool), (44, 66), 5)
    >>> round(found.area_px)
    99
    """
    smooth = np.asarray(
        cv2.GaussianBlur(light, (0, 0), SETTINGS.patches.smoothing_px), dtype=np.float32
    )
    inside = None if face.all() else face
    found = [
        candidate
        for scan in _SWEEPS
        if (candidate := _spot(smooth, inside, at_px, reach_px, scan)) is not None
    ]
    if not found:
        msg = "There is no dark candidate with an edge here: draw round it instead."
        raise InputError(msg)
    # The searches may have found the void, a part of it or the stain around it: of
    # those with a steep rim the largest is the void.
    steepest = max(slope for slope, _ in found)
    return max(
        (
            outline
            for slope, outline in found
            if slope >= _SET.as_steep_share * steepest
        ),
        key=lambda outline: outline.area_px,
    )


def _spot(
    light: NDArray[np.float32],
    face: NDArray[np.bool_] | None,
    at_px: tuple[float, float],
    reach_px: float,
    scan: DetectionPass,
) -> tuple[float, Outline] | None:
    """Return the candidate one search finds there, with the slope of its rim per px."""
    small, inside = reduced(light, face, scan.step)
    if min(small.shape) < 2 * scan.cell_px:
        return None
    result = run_pass(small, inside, scan)
    labels = result.labels
    if result.margin is not None:
        labels = enlarged(result.margin, labels, (light.shape[0], light.shape[1]))
    number = _nearest(labels, at_px, reach_px)
    if number == 0:
        return None
    area, peak, _, edge, _ = result.figures[number - 1]
    (line,) = outlines((labels == number).astype(np.int32), 1)
    if len(line) < 3 or _cut_by_window(line, labels.shape, face):  # noqa: PLR2004  a polygon
        return None
    outline = Outline(
        line_px=line,
        area_px=float(area) * scan.step**2,
        contrast=min(1.0, float(peak)),
        drawn=False,
    )
    return float(peak) / (float(edge) * scan.step), outline


def _nearest(
    labels: NDArray[np.int32], at_px: tuple[float, float], reach_px: float
) -> int:
    """Return the number of the candidate nearest to a point, 0 for none near."""
    row, col = np.nonzero(labels)
    away = np.hypot(row - at_px[0], col - at_px[1])
    if len(away) == 0 or away.min() > max(reach_px, 1.0):
        return 0
    first = int(np.argmin(away))
    return int(labels[row[first], col[first]])


def _cut_by_window(
    line: NDArray[np.float64],
    shape: tuple[int, ...],
    face: NDArray[np.bool_] | None,
) -> bool:
    """Tell a candidate that leaves the pixels given, unless the face ends there too."""
    ends = (line <= 0) | (line >= np.array(shape[:2]) - 1)
    row, col = line[ends.any(axis=1)].astype(np.intp).T
    return len(row) > 0 and (face is None or bool(face[row, col].any()))


def drawn_outline(
    light: NDArray[np.float32], line_px: NDArray[np.float64], background: float
) -> Outline:
    """Take a void as a person drew it.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light around it.
    line_px : ndarray of float64, (n, 2)
        Corners, (row, col) in `light`, n of 3 or more.
    background : float
        Light of the background there, more than 0.

    Returns
    -------
    Outline

    Raises
    ------
    InputError
        Fewer than three corners, or they enclose nothing.

    Examples
    --------
    >>> square = np.array([[2.0, 2.0], [2.0, 6.0], [6.0, 6.0], [6.0, 2.0]])
    >>> drawn_outline(np.full((9, 9), 0.2, np.float32), square, 0.5).area_px
    16.0
    """
    line = np.asarray(line_px, dtype=np.float64).reshape(-1, 2)
    row, col = line.T
    # The shoelace formula.
    area = abs(float(row @ np.roll(col, -1) - col @ np.roll(row, -1))) / 2
    if len(line) < 3 or area <= 0:  # noqa: PLR2004  a polygon
        msg = (
            f"An outline of {len(line)} points encloses nothing: "
            "tap three points or more round the void."
        )
        raise InputError(msg)
    inner = np.zeros(light.shape, np.uint8)
    cv2.fillPoly(inner, [np.rint(line[:, ::-1]).astype(np.int32)], 1)
    darkest = float(light[inner > 0].min()) if inner.any() else background
    return Outline(
        line_px=line,
        area_px=area,
        contrast=min(1.0, max(0.0, 1.0 - darkest / background)),
        drawn=True,
    )
