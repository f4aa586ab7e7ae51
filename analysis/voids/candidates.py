"""Dark spots that may be voids, found at every size, each with its own boundary."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

from analysis.voids.detection_pass import DetectionPass, run_pass
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.detection_pass import PassResult

_SET = SETTINGS.passes
# The scan whose background stands for the face; every plan holds it.
_USUAL = (1, _SET.cell_px)
_NO_MARGIN = np.float32(_SET.outside_depth)
_KERNEL = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """The face around the candidates, on the usual background.

    Attributes
    ----------
    background : Background
        Light without voids.
    backgrounds : dict of int to Background
        The same by the reduction it was found on; the usual one for the photo itself.
    dim : ndarray of bool, (rows, cols)
        Everything darker than the look level.
    noise : float
        Median noise of the background, as a share of it.
    """

    background: Background
    backgrounds: dict[int, Background]
    dim: NDArray[np.bool_]
    noise: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidates:
    """Dark candidates.

    Attributes
    ----------
    labels : ndarray of int32, (rows, cols)
        0 is background, candidates are 1 to n.
    area_px : ndarray of float64, (n,)
        Sub-pixel area inside the boundary, px².
    depth : ndarray of float64, (n,)
        Depth of the darkest part: 1 - light / background.
    noise : ndarray of float64, (n,)
        Noise of the background there, in units of depth.
    edge_px : ndarray of float64, (n,)
        Width of the edge, px of the photo reduced by `step`.
    background : ndarray of float64, (n,)
        Light of the background there, linear.
    step : ndarray of float64, (n,)
        Reduction of the photo on which the candidate was found.
    """

    labels: NDArray[np.int32]
    area_px: NDArray[np.float64]
    depth: NDArray[np.float64]
    noise: NDArray[np.float64]
    edge_px: NDArray[np.float64]
    background: NDArray[np.float64]
    step: NDArray[np.float64]


def detection_passes(longest_px: float) -> tuple[DetectionPass, ...]:
    """Plan the searches, coarse to fine, for a face of a given longest side.

    Examples
    --------
    >>> [scan.step for scan in detection_passes(1000)]
    [4, 1, 1]
    """
    plan = [
        DetectionPass(
            step=1,
            cell_px=_SET.fine_cell_px,
            least_px=_SET.fine_least_px,
            most_px=_SET.fine_most_px,
        ),
        DetectionPass(
            step=1,
            cell_px=_SET.cell_px,
            least_px=_SET.usual_least_px,
            most_px=_SET.most_px,
        ),
    ]
    step = _SET.step_ratio
    while longest_px / step >= _SET.fewest_cells * _SET.cell_px:
        plan.append(
            DetectionPass(
                step=step,
                cell_px=_SET.cell_px,
                least_px=_SET.coarse_least_px,
                most_px=_SET.most_px,
            )
        )
        step *= _SET.step_ratio
    # Nothing coarser follows to take what is longer.
    plan[-1] = replace(plan[-1], most_px=_SET.longest_px)
    return tuple(reversed(plan))


def find_candidates(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None
) -> tuple[Candidates, Surroundings]:
    """Find dark candidates from large to small; what a larger one took is taken.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels; None takes all.

    Returns
    -------
    candidates : Candidates
    surroundings : Surroundings

    Examples
    --------
    >>> flat = np.full((90, 120), 0.5, np.float32)
    >>> flat[40:50, 60:70] = 0.1
    >>> find_candidates(flat, None)[0].area_px.round(1)
    array([100.])
    """
    labels = np.zeros(light.shape, dtype=np.int32)
    columns = [np.empty((0, 6))]
    around: Surroundings
    backgrounds: dict[int, Background] = {}
    for scan in detection_passes(max(light.shape)):
        small, inside = reduced(light, face, scan.step)
        result = run_pass(small, inside, scan)
        kept = _claim(labels, sum(len(some) for some in columns), result)
        # Areas are told in px of the photo, edge widths in reduced ones.
        scaled = result.figures[kept] * [scan.step**2, 1, 1, 1, 1]
        steps = np.full(len(scaled), float(scan.step))
        columns.append(np.column_stack([scaled, steps]))
        backgrounds.setdefault(scan.step, result.background)
        if (scan.step, scan.cell_px) == _USUAL:
            around = Surroundings(
                background=result.background,
                backgrounds=backgrounds,
                dim=result.dim,
                noise=result.noise,
            )
    figures = np.concatenate(columns)
    order = _raster_order(labels, len(figures))
    area, depth, noise, edge, base, step = figures[order].T
    candidates = Candidates(
        labels=labels,
        area_px=area,
        depth=depth,
        noise=noise,
        edge_px=edge,
        background=base,
        step=step,
    )
    return candidates, around


def _raster_order(labels: NDArray[np.int32], count: int) -> NDArray[np.intp]:
    """Renumber candidates by their first px, in place, and return their old order.

    So that sums over candidates do not depend on the bands they were found in.
    """
    flat = np.flatnonzero(labels > 0)
    label = labels.ravel()[flat] - 1
    first = np.zeros(count, dtype=np.int64)
    first[label[::-1]] = flat[::-1]  # the first px is written last
    order = np.argsort(first, kind="stable")
    renumber = np.empty(count, dtype=np.int32)
    renumber[order] = 1 + np.arange(count)
    labels.ravel()[flat] = renumber[label]
    return order


def reduced(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None, step: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_] | None]:
    """Return light and face at one px for each `step` px.

    Examples
    --------
    >>> reduced(np.ones((8, 12), np.float32), None, 4)[0].shape
    (2, 3)
    """
    if step == 1:
        return light, face
    rows, cols = light.shape
    size = (max(1, round(cols / step)), max(1, round(rows / step)))
    small = np.asarray(
        cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float32
    )
    if face is None:
        return small, None
    part = cv2.resize(face.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return small, np.asarray(part > 0)


def _claim(
    labels: NDArray[np.int32], count: int, result: PassResult
) -> NDArray[np.bool_]:
    """Enter new candidates in the full labels, unless larger ones hold their place."""
    flat, label = result.flat, result.label
    if result.margin is not None:
        shape = (labels.shape[0], labels.shape[1])
        flat, label = _enlarged_px(result.margin, result.labels, shape)
    number = len(result.figures)
    taken = labels.ravel()[flat] > 0
    # One entry a label, the first unused: px that larger ones hold already, and all px.
    lost = np.bincount(label, taken, number + 1)
    size = np.bincount(label, minlength=number + 1)
    kept = (lost <= _SET.taken_share * size) & (size > 0)
    kept[0] = False
    # Those not kept are numbered 0, and so entered as background.
    renumber = np.zeros(number + 1, dtype=np.int32)
    renumber[kept] = count + 1 + np.arange(np.count_nonzero(kept))
    enter = ~taken
    labels.ravel()[flat[enter]] = renumber[label[enter]]
    return kept[1:]


def enlarged(
    margin: NDArray[np.float32], found: NDArray[np.int32], shape: tuple[int, int]
) -> NDArray[np.int32]:
    """Labels of a reduced photo on the full one, boundaries interpolated.

    Examples
    --------
    >>> found = np.zeros((4, 4), np.int32)
    >>> found[1:3, 1:3] = 1
    >>> margin = np.where(found > 0, 0.3, -0.3).astype(np.float32)
    >>> int((enlarged(margin, found, (16, 16)) == 1).sum())
    60
    """
    full = np.zeros(shape, dtype=np.int32)
    flat, label = _enlarged_px(margin, found, shape)
    full.ravel()[flat] = label
    return full


def _enlarged_px(
    margin: NDArray[np.float32], found: NDArray[np.int32], shape: tuple[int, int]
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Px of the enlarged candidates, ascending, and their labels.

    Candidates of a reduced photo are large and few, so that going through them one by
    one costs little and needs no full-size pictures.
    """
    flats, sizes = [np.empty(0, np.int64)], [0]
    tall, wide = shape[0] / found.shape[0], shape[1] / found.shape[1]
    for number, box in enumerate(ndimage.find_objects(found), start=1):
        rows = np.arange(
            int(box[0].start * tall), min(shape[0], int(box[0].stop * tall) + 1)
        )
        cols = np.arange(
            int(box[1].start * wide), min(shape[1], int(box[1].stop * wide) + 1)
        )
        # One px more on each side: the boundary lies between the candidate's px and
        # those that touch it. What lies further is held just outside: it may be
        # another's.
        window = (
            slice(max(0, box[0].start - 1), box[0].stop + 1),
            slice(max(0, box[1].start - 1), box[1].stop + 1),
        )
        near = cv2.dilate((found[window] == number).astype(np.uint8), _KERNEL) > 0
        inside = np.where(near, np.maximum(margin[window], -1.0), _NO_MARGIN)
        # Middles of full px, in px of the window. Px are counted by their middles, but
        # it is edges that scale: hence the halves.
        at_row = (rows + 0.5) / tall - 0.5 - window[0].start
        at_col = (cols + 0.5) / wide - 0.5 - window[1].start
        col_map, row_map = np.meshgrid(
            at_col.astype(np.float32), at_row.astype(np.float32)
        )
        soft = cv2.remap(
            inside.astype(np.float32),
            col_map,
            row_map,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        down, right = np.nonzero(np.asarray(soft) > 0)
        flats.append((rows[0] + down) * shape[1] + cols[0] + right)
        sizes.append(len(down))
    # A px of two candidates is the first one's.
    flat, first = np.unique(np.concatenate(flats), return_index=True)
    label = np.repeat(np.arange(len(sizes), dtype=np.int32), sizes)
    return flat, label[first]
