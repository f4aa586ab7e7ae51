"""Close-ups reduced before a pair is lined up and read, and brought back.

What pairs ask of px (how near photos must lie, how broad a rim and a background are)
was set on photos of 5 to 11 px a mm, on which the smallest void counted is 4 px across.
A close-up of 12 megapixels has three to four times as many, and its px hold little but
noise: it is read as a photo of fewer px, in a quarter of the time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy import ndimage

from analysis.imaging.registration import described

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration

    Plane = NDArray[np.float32]
    Matrix = NDArray[np.float64]

# The smallest void counted stays so many px across, half as many again as the 4 px at
# which pairs were set: reduced further, black faces lose rims (drawn pairs of 25 px a
# mm: IoU 0.89 at half the size, 0.87 at a third, 0.70 at a quarter).
SMALLEST_ACROSS_PX: Final = 6.0
# And so many px along the face are left to line up by: `imaging.registration` looks at
# no more, so that it sees the same mottling as ever.
LEAST_SIDE_PX: Final = 1280
_AROUND = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """How many px of each photo, along a side, become one; 1 leaves it as it is."""

    first: int
    second: int


AS_TAKEN: Final = Steps(first=1, second=1)


def steps_of(
    smallest_px2: float,
    window: tuple[int, ...],
    first: tuple[int, ...],
    second: tuple[int, ...],
) -> Steps:
    """Choose how far both photos of a pair are reduced.

    Parameters
    ----------
    smallest_px2 : float
        Smallest counted area, px² of the first photo.
    window : tuple of int
        (rows, cols) of the window round the face in the first photo.
    first, second : tuple of int
        (rows, cols) of both photos; one of more px is reduced further, so that both
        show the face at about one size.

    Examples
    --------
    >>> close, usual = 133.0, 12.6  # 0.5 mm at 26 px a mm, and 4 px across
    >>> steps_of(close, (3000, 4000), (3000, 4000), (3000, 4000))
    Steps(first=2, second=2)
    >>> steps_of(usual, (800, 1000), (800, 1000), (2400, 3000))
    Steps(first=1, second=3)
    """
    across = 2 * math.sqrt(smallest_px2 / math.pi)
    step = max(1, min(int(across / SMALLEST_ACROSS_PX), max(window) // LEAST_SIDE_PX))
    longer = max(second[:2]) / max(first[:2])
    return Steps(first=step, second=max(1, round(step * longer)))


def reduced(picture: NDArray[np.generic], step: int) -> NDArray[np.generic]:
    """Take the mean of each `step` x `step` px; what is left over at the end goes.

    Examples
    --------
    >>> reduced(np.arange(8, dtype=np.float32).reshape(2, 4), 2)
    array([[2.5, 4.5]], dtype=float32)
    """
    if step == 1:
        return picture
    rows, cols = (side // step for side in picture.shape[:2])
    whole = np.ascontiguousarray(picture[: rows * step, : cols * step])
    return np.asarray(cv2.resize(whole, (cols, rows), interpolation=cv2.INTER_AREA))


def reduced_face(inside: NDArray[np.bool_], step: int) -> NDArray[np.bool_]:
    """Keep the reduced px that lie in the face as a whole.

    Examples
    --------
    >>> reduced_face(np.array([[True, True, True, False]] * 2), 2)
    array([[ True, False]])
    """
    if step == 1:
        return inside
    rows, cols = (side // step for side in inside.shape)
    # Axes 1 and 3 run within a block of `step` x `step` px.
    blocks = inside[: rows * step, : cols * step].reshape(rows, step, cols, step)
    return np.asarray(blocks.all(axis=(1, 3)))


def grown(step: int) -> Matrix:
    """Matrix from (x, y, 1) px of a reduced photo to px of the photo itself.

    Examples
    --------
    >>> grown(2) @ [0, 0, 1]
    array([0.5, 0.5, 1. ])
    """
    # Px are named by their centres: a block's lies so far behind that of its first.
    off = (step - 1) / 2
    return np.array([[step, 0.0, off], [0.0, step, off], [0.0, 0.0, 1.0]])


def as_taken(
    lying: Registration,
    steps: Steps,
    first: tuple[int, ...],
    second: tuple[int, ...],
) -> Registration:
    """Return how the photos lie, in px of the photos themselves.

    Parameters
    ----------
    lying : Registration
        In px of the reduced ones.
    steps : Steps
    first, second : tuple of int
        (rows, cols) of the window and of the second photo, as taken.
    """
    if steps == AS_TAKEN:
        return lying
    matrix = grown(steps.second) @ lying.to_second @ np.linalg.inv(grown(steps.first))
    return described(
        matrix,
        (first[0], first[1]),
        lying.rms_px * steps.first,
        lying.scatter_px * steps.first,
        second=second,
    )


def enlarged_mask(
    mask: NDArray[np.bool_], step: int, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Bring a mask back block by block; what was left over is none of it.

    Examples
    --------
    >>> enlarged_mask(np.array([[True, False]]), 2, (2, 5)).astype(int)
    array([[1, 1, 0, 0, 0],
           [1, 1, 0, 0, 0]])
    """
    whole = np.zeros(shape, dtype=np.bool_)
    rows, cols = (side * step for side in mask.shape)
    whole[:rows, :cols] = np.repeat(np.repeat(mask, step, axis=0), step, axis=1)
    return whole


def enlarged_labels(
    labels: NDArray[np.int32], step: int, shape: tuple[int, ...]
) -> NDArray[np.int32]:
    """Bring labels back, each with a smooth rim and its own area.

    The distance to the rim is interpolated; then the px that lie farthest in are
    taken, as many as the label had, each for `step` x `step`.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        1 to n on the reduced photo; 0 is none.
    step : int
    shape : tuple of int
        (rows, cols) to bring them to.

    Examples
    --------
    >>> one = np.zeros((9, 9), np.int32)
    >>> one[3:6, 3:6] = 1
    >>> large = enlarged_labels(one, 2, (18, 19))
    >>> large.shape, int((large == 1).sum())
    ((18, 19), 36)
    """
    whole = np.zeros(shape, dtype=np.int32)
    edged = np.pad(labels, _AROUND)
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:
            continue
        # The box in the padded labels, with two px of its own surroundings.
        near = tuple(slice(part.start, part.stop + 2 * _AROUND) for part in box)
        own = (edged[near] == number).astype(np.uint8)
        # Distance to the rim, signed: above 0 inside, below 0 outside.
        depth = _depth(own) - _depth(1 - own)
        size = (own.shape[1] * step, own.shape[0] * step)
        soft = cv2.resize(depth, size, interpolation=cv2.INTER_LINEAR)
        rows, cols = (
            slice((part.start - _AROUND) * step, (part.stop + _AROUND) * step)
            for part in box
        )
        top, left = max(0, -rows.start), max(0, -cols.start)
        target = whole[max(0, rows.start) : rows.stop, max(0, cols.start) : cols.stop]
        soft = soft[top : top + target.shape[0], left : left + target.shape[1]]
        # What a label before has taken is not to be had. Sorted stably: which of px as
        # deep as each other `argpartition` takes hangs on the processor.
        free = np.where(target == 0, soft, -np.inf).ravel()
        wanted = min(np.count_nonzero(own) * step**2, np.count_nonzero(target == 0))
        inner = np.argsort(-free, kind="stable")[:wanted]
        row, col = np.divmod(inner, target.shape[1])
        target[row, col] = number
    return whole


def _depth(own: NDArray[np.uint8]) -> Plane:
    """Distance of each px from the rim, 0 outside."""
    # Measured to the centre of the next px outside: the rim lies half a px before it.
    far = cv2.distanceTransform(own, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(np.maximum(far - 0.5, 0.0), dtype=np.float32)
