"""One face in two hand-held photos: where each px of the first lies in the second."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import PairError
from analysis.imaging.homography import moved, slope
from analysis.imaging.registration_blocks import (
    LEAST_PEAK,
    as_matrix,
    fitted_shifts,
    misfit,
    peaks,
    shift_of_all,
    surfaces,
)
from analysis.imaging.registration_marks import guessed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.registration_known import Known

    Plane = NDArray[np.float32]
    Points = NDArray[np.float64]
    _Round = tuple[int, int, tuple[tuple[float, float, float], ...]]

# How far the photos may lie off each other, px of the first; and by how much blocks may
# miss the fit, their own noise included, px of the reduced photos they are taken from.
LARGEST_RMS_PX, _LARGEST_SCATTER_PX = 1.0, 1.0
_WORKED_PX = 1280
_DARKEST, _LEVEL_PX, _LEVEL_STEP = 1e-4, 40.0, 4
# Part of the blocks that must agree to this many px, and how sure all must be together.
_LEAST_AGREE, _AGREE_PX, _LEAST_SIGMAS = 0.5, 1.5, 12.0
_SETTLED_PX = 0.05
# Small blocks take over where so many of them see enough.
_SMALL_AGREE = 0.7
# So many marks leave little to search: the wide looks are left out.
_MANY_MARKS, _SURE_FROM = 400, 2
# Blocks, and reach, smoothing and tolerance of the looks at each.
_LARGE, _SMALL = 1, 2
_ROUNDS = (
    (_LARGE, 28, ((28.0, 2.0, 8.0), (8.0, 1.0, 3.0))),
    (_LARGE, 16, ((8.0, 1.0, 3.0), (4.0, 1.0, 1.5))),
    (_LARGE, 8, ((3.0, 1.0, 1.0), (2.0, 0.7, 0.5))),
    (_SMALL, 8, ((3.0, 0.7, 0.8), (1.5, 0.5, 0.4))),
    (_SMALL, 8, ((3.0, 0.7, 0.8), (1.5, 0.5, 0.4))),
    (_SMALL, 8, ((3.0, 0.7, 0.8), (1.5, 0.5, 0.4))),
)
# A large block, on a face large enough for a few of them beside each other.
_BLOCKS_PX, _BLOCKS_BESIDE = (256, 128, 64), 1.7
OTHER_FACE = (
    "The second photo does not show the same face, or nothing on it lines up ({why}): "
    "photograph one face twice, or lay a card beside it in both photos."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Registration:
    """How the second photo lies on the first.

    Attributes
    ----------
    to_second : ndarray of float64, (3, 3)
        Homography from (x, y, 1) px of the first photo to the second.
    rms_px : float
        Root mean square by which it lies off, px of the first photo: what blocks of
        the face miss it by, less their own noise (`registration_blocks.misfit`).
    scatter_px : float
        Root mean square by which the blocks miss it, noise and all.
    shift_px : float
        How far the middle of the first photo moves, px of the first.
    rotation_deg : float
        How far directions turn there, from the column axis towards the row axis.
    scale : float
        Lengths in the second over the first there.
    """

    to_second: Points
    rms_px: float
    scatter_px: float
    shift_px: float
    rotation_deg: float
    scale: float


def register(
    first: Plane,
    second: Plane,
    inside: NDArray[np.bool_],
    known: Known | None = None,
    *,
    trust_known: bool = False,
    step: int = 1,
) -> Registration:
    """Line up two photos of one face in different lights.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        Where the first photo shows the face.
    known : Known, optional
        How they lie by marks of known places: taken for the first guess.
    trust_known : bool, optional
        Take what is known as it is where it is sure to 1 px; right only for faces
        without texture, on which blocks see nothing.
    step : int, optional
        Px of the first photo as taken, along a side, to one of those given: a refusal
        tells px of the photo as taken.

    Raises
    ------
    PairError
        The photos do not show one face, or lie on each other no better than 1 px rms.
    """
    zoom = min(1.0, _WORKED_PX / max(first.shape))
    here, there = (levelled(_reduced(light, zoom)) for light in (first, second))
    size = (here.shape[1], here.shape[0])
    face = (
        cv2.resize(inside.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    )
    shape = (first.shape[0], first.shape[1])
    grow, grow_second = (
        _grown(full.shape, small.shape)
        for full, small in ((first, here), (second, there))
    )
    if known is not None and trust_known and known.off_px <= LARGEST_RMS_PX:
        off = known.off_px
        return described(known.to_second, shape, off, off, second=second.shape)
    start, count = None, 0
    if known is not None:
        # What is known is in full px of both photos; blocks work in reduced ones.
        start = np.linalg.inv(grow_second) @ known.to_second @ grow
    else:
        start, count = guessed(here, there, face)
    if start is None:
        raise PairError(OTHER_FACE.format(why="no marks in common"))
    rounds = _ROUNDS if count < _MANY_MARKS else _ROUNDS[_SURE_FROM:]
    matrix, rms, scatter, sigmas = _refined(
        here, there, start, np.asarray(face), rounds
    )
    if not sigmas > _LEAST_SIGMAS:
        raise PairError(OTHER_FACE.format(why="its mottling differs"))
    matrix = grow_second @ matrix @ np.linalg.inv(grow)
    rms_px = rms * grow[0, 0]
    if not (rms_px <= LARGEST_RMS_PX and scatter <= _LARGEST_SCATTER_PX):
        worst = max(rms_px, scatter)
        msg = (
            f"The two photos lie on each other no better than {worst * step:.2f} px, "
            f"at most {LARGEST_RMS_PX * step:g} px is needed: photograph the flat face "
            "straight on twice, from one place."
        )
        raise PairError(msg)
    scatter_px = scatter * grow[0, 0]
    return described(matrix, shape, rms_px, scatter_px, second=second.shape)


def described(
    matrix: Points,
    shape: tuple[int, int],
    rms_px: float,
    scatter_px: float,
    *,
    second: tuple[int, ...] | None = None,
) -> Registration:
    """Tell how a homography moves the middle of a photo of `shape`.

    What a frame of another size adds is no motion: a camera's film has fewer px than
    its stills. `second` is the other photo's shape, the same unless given.

    Examples
    --------
    >>> shifted = np.array([[1.0, 0, 3], [0, 1, 4], [0, 0, 1]])
    >>> described(shifted, (80, 100), 0.1, 0.2).shift_px
    5.0
    >>> halved = np.array([[0.5, 0, 1.25], [0, 0.5, 1.75], [0, 0, 1]])
    >>> described(halved, (80, 100), 0.1, 0.2, second=(40, 50)).shift_px
    5.0
    """
    matrix = matrix / matrix[2, 2]
    middle = (np.array(shape[::-1]) - 1) / 2
    there = shape if second is None else second[:2]
    finer = max(there) / max(shape)
    away = (moved(matrix, middle[None])[0] - (np.array(there[::-1]) - 1) / 2) / finer
    # The nearest rotation to a 2 x 2 matrix (its polar part) turns by this angle; the
    # root of its determinant is the geometric mean of its two stretches.
    turn = slope(matrix, middle)
    return Registration(
        to_second=matrix,
        rms_px=float(rms_px),
        scatter_px=float(scatter_px),
        shift_px=float(np.hypot(*away)),
        rotation_deg=float(
            np.degrees(np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1]))
        ),
        scale=float(np.sqrt(abs(np.linalg.det(turn)))),
    )


def levelled(light: Plane) -> Plane:
    """Return the log of the light over the light some tens of px around.

    Examples
    --------
    >>> float(np.abs(levelled(np.full((90, 90), 0.3, np.float32))).max()) < 1e-6
    True
    """
    logs = np.log(np.maximum(light, _DARKEST))
    size = tuple(max(1, side // _LEVEL_STEP) for side in light.shape[::-1])
    # The blur is so wide that it may be had on a quarter of the rows and columns, in a
    # small part of the time.
    small = cv2.resize(logs, size, interpolation=cv2.INTER_AREA)
    broad = cv2.GaussianBlur(small, (0, 0), _LEVEL_PX / _LEVEL_STEP)
    background = cv2.resize(broad, light.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(logs - background, dtype=np.float32)


def _reduced(light: Plane, zoom: float) -> Plane:
    if zoom == 1.0:
        return light
    size = tuple(max(1, round(side * zoom)) for side in light.shape[::-1])
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)


def _grown(full: tuple[int, ...], small: tuple[int, ...]) -> Points:
    """Matrix from px of a reduced photo to px of the full one."""
    # Not the plain zoom: sizes were rounded, so the two axes differ; and a px's centre
    # is at a whole number, so that corners lie at -0.5.
    across, down = full[1] / small[1], full[0] / small[0]
    return np.array(
        [[across, 0, (across - 1) / 2], [0, down, (down - 1) / 2], [0, 0, 1]]
    )


def _large_block(inside: NDArray[np.bool_]) -> int:
    """Side of the large blocks on a face, px."""
    rows, cols = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    shorter = min(rows[-1] - rows[0], cols[-1] - cols[0]) + 1 if len(rows) else 0
    fitting = [side for side in _BLOCKS_PX if shorter >= _BLOCKS_BESIDE * side]
    return fitting[0] if fitting else _BLOCKS_PX[-1]


def _refined(
    first: Plane,
    second: Plane,
    matrix: Points,
    inside: NDArray[np.bool_],
    rounds: tuple[_Round, ...],
) -> tuple[Points, float, float, float]:
    """Refine a guess; return it, its misfit, the scatter of blocks, and its sigmas."""
    shape = (first.shape[0], first.shape[1])
    rms, scatter, sigmas = np.inf, np.inf, 0.0
    large = _large_block(inside)
    for part, reach, looks in rounds:
        block = large // part
        stride = block * 3 // 8 if part == _LARGE else block // 2
        found = surfaces(
            first,
            second,
            matrix,
            inside,
            block_px=block,
            stride_px=stride,
            reach_px=min(reach, block // 8),
        )
        if found is None:
            break
        # First the one shift that fits all; then each block near what the fit so far
        # expects of it, ever closer, with less smoothing and less tolerance.
        near = np.tile(shift_of_all(found), (len(found.at), 1))
        for within, smooth, tolerance in looks:
            shift, height = peaks(found, near, within, smooth)
            small, near = fitted_shifts(found.at, shift, height, shape, tolerance)
        missed = shift - near
        off = np.hypot(*missed.T)
        seen = height > LEAST_PEAK
        agree = seen & (off < _AGREE_PX)
        if part == _SMALL and agree.mean() < _SMALL_AGREE:
            break
        # By a shift s the second, as laid, holds at x what the first holds at x + s. So
        # the change is undone first, then what was known already is applied.
        matrix = matrix @ np.linalg.inv(as_matrix(small, shape))
        rms = scatter = np.inf
        if seen.any():
            rms = misfit(found.at[seen], missed[seen], block, stride)
            scatter = float(np.sqrt(np.mean(off[seen] ** 2)))
        # Where most blocks disagree, the few that see something prove nothing: all of
        # them count.
        if agree.mean() < _LEAST_AGREE:
            rms = scatter = max(scatter, float(np.sqrt(np.mean(off**2))))
        # Mean height of n peaks, each in sd of its own surface, over the sd of that
        # mean.
        sigmas = float(height.mean() * np.sqrt(len(height)))
        step = float(np.sqrt(np.mean((near**2).sum(axis=1))))
        if part == _SMALL and step < _SETTLED_PX:
            break
    return matrix / matrix[2, 2], rms, scatter, sigmas
