"""Steps between the rows of blocks of a JPEG whose decoder has lost its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.block_planes import BLOCK, read_planes
from analysis.robust import robust_sd

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    from analysis.imaging.block_planes import BlockPlanes

# A step in brightness along one row of blocks, in grey levels and in sd of its mean:
# of all of it, and of each of its two ends.
_STEP_LEVELS, _STEP_SDS, _EACH_SDS, _LARGEST_STEP = 1.5, 8.0, 4.0, 40.0
_STAIRS = 2.5
_LARGE_STEP = 30.0
_MOSTLY = 0.5
# Of colour, whose slopes are drawn in coarser stairs: on sound photos stored at
# qualities from 60 to 95, upright and turned, none is over 2 levels.
_COLOUR_LEVELS = 3.0
_LEAST_COLUMNS = 6
# A step all across or back again: over the least of one aside, alike in so many
# columns, this much of it at most as slope on either side, and grain alike to this.
_ACROSS_TIMES, _IN_COLUMNS, _SOFTEST = 2.0, 0.9, 0.75
_MOST_UNLIKE, _NO_GRAIN = 1.35, 0.3
# How far the columns of one end agree on up or down: 1 all, 0 half of them.
_IN_ENDS = 0.65
# Columns over which a lost sector itself may lie.
_GARBLED_COLUMNS = 12


def has_staircase(
    image: Image.Image,
    rows: int,
    planes: BlockPlanes | None = None,
    restarts: NDArray[np.bool_] | None = None,
) -> bool:
    """Tell whether brightness steps from some block on, to where decoding began anew.

    A JPEG's blocks tell only how much brighter they are than the one before. Where one
    is lost, all that follow are off by as much, to the end of the picture or of what
    restarts: in its own row from there on, in the next row from the left edge to below
    it, and back again where it restarts. Such an edge of one step exactly between two
    rows of blocks, with the same grain on both sides, is no edge of things.
    """
    wide = image.width // BLOCK
    if wide < 4 * _LEAST_COLUMNS or image.height < 3 * rows:
        return False
    planes = planes or read_planes(image, rows)
    seen = _gathered(planes.light_edges)
    stairs = stairs_of(image)
    least, of_colour = max(_STEP_LEVELS, stairs), max(_COLOUR_LEVELS, stairs)
    sd = _sd(seen)
    if restarts is None:
        restarts = np.ones(len(seen.step), np.bool_)
    return (
        _steps_aside(seen, sd, least, restarts)
        or _steps_across(seen, sd, least)
        or _steps_at_an_end(seen, sd, least)
        # Sound photos have edges of colour all across, but none that changes its side.
        or any(
            _steps_aside(one, _sd(one), of_colour, restarts[: len(one.step)])
            for one in map(_gathered, planes.colour_edges)
        )
    )


def stairs_of(image: Image.Image) -> float:
    """Return up to how many levels the stairs are in which a JPEG draws a soft slope.

    Parameters
    ----------
    image : PIL.Image.Image
        Decoded; another file than a JPEG counts as the finest.

    Examples
    --------
    >>> from PIL import Image
    >>> stairs_of(Image.new("L", (64, 64)))
    0.3125
    """
    tables = getattr(image, "quantization", None) or {}
    # By so much a JPEG can tell one block's brightness from another's.
    level = max((float(table[0]) for table in tables.values()), default=1.0) / BLOCK
    return _STAIRS * level


def _sd(seen: _Steps) -> float:
    return robust_sd(seen.step)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Steps:
    """Tops of the rows of blocks, each (rows of blocks - 1, columns of 8 px).

    Attributes
    ----------
    step : ndarray of float64
        Step in brightness beyond the slope there, grey levels.
    above, below : ndarray of float64
        Change from px to px on either side, without its sign: grain and softness.
    beyond : ndarray of float64
        1 where one side is nearly black or white, 0 elsewhere.
    """

    step: NDArray[np.float64]
    above: NDArray[np.float64]
    below: NDArray[np.float64]
    beyond: NDArray[np.float64]


def _steps_aside(
    seen: _Steps, sd: float, least: float, restarts: NDArray[np.bool_]
) -> bool:
    """Tell a row of blocks that steps from some block on, with its other end below."""
    wide = seen.step.shape[1]
    gap = min(_GARBLED_COLUMNS, wide // 4)
    after = wide - gap
    n = np.arange(1, after)

    def halves(
        values: NDArray[np.float64],
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        # Entry n - 1 of both: the mean of the first n columns, and that of all behind
        # the next `gap`, by differences of cumulative sums.
        total = np.cumsum(values, axis=1)
        return (
            total[:, : after - 1] / n,
            (total[:, -1:] - total[:, gap:-1]) / (after - n),
        )

    left, right = halves(seen.step)
    signs = [np.abs(half) > _IN_ENDS for half in halves(np.sign(seen.step))]
    grain = [
        _alike(above, below)
        for above, below in zip(halves(seen.above), halves(seen.below), strict=True)
    ]
    # So large a step may leave too little of black or white to compare the grain.
    large = [
        (np.abs(half) > _LARGE_STEP) & (beyond > _MOSTLY)
        for half, beyond in zip((left, right), halves(seen.beyond), strict=True)
    ]
    ends = [a & (b | c) for a, b, c in zip(signs, grain, large, strict=True)]
    # Bounds are in standard errors: sd over the root of the columns averaged.
    few = np.minimum(n, after - n)
    sure = _STEP_SDS * sd / np.sqrt(after)
    needed = np.maximum(max(least, sure), _EACH_SDS * sd / np.sqrt(few))
    inside = few >= min(_LEAST_COLUMNS, after // 4)
    # Row r steps from behind block k on, and row r + 1 up to block k.
    low = np.minimum(np.abs(right[:-1]), np.abs(left[1:]))
    even = np.abs(right[:-1] - left[1:]) < low / 2
    still = np.maximum(np.abs(left[:-1]), np.abs(right[1:]))
    hit = even & inside & (low > needed) & (still < low / 3)
    if bool((hit & ends[1][:-1] & ends[0][1:]).any()):
        return True
    # Or it steps back from behind block k on, being the last before a restart.
    low = np.minimum(np.abs(right[:-1]), np.abs(right[1:]))
    even = np.abs(right[:-1] + right[1:]) < low / 2
    still = np.maximum(np.abs(left[:-1]), np.abs(left[1:]))
    hit = even & inside & (low > needed) & (still < low / 3) & restarts[1:, None]
    return bool((hit & ends[1][:-1] & ends[1][1:]).any())


def _steps_across(seen: _Steps, sd: float, least: float) -> bool:
    """Tell a step of one height all across: a block lost near the side of the picture.

    An edge of things is softer, not of one height, or not level to the pixel.
    """
    aside = min(_GARBLED_COLUMNS, seen.step.shape[1] // 4)
    steps = seen.step[:, aside:-aside]
    above, below = (
        np.median(side[:, aside:-aside], axis=1) for side in (seen.above, seen.below)
    )
    height = np.median(steps, axis=1)
    size = np.abs(height)
    needed = max(_ACROSS_TIMES * least, _STEP_SDS * sd / np.sqrt(steps.shape[1]))
    alike = (steps * np.sign(height)[:, None] > size[:, None] / 3).mean(axis=1)
    hit = (size > needed) & (alike > _IN_COLUMNS) & _alike(above, below)
    # What is drawn has level edges of one height, and no grain.
    grain, soft = np.minimum(above, below), np.maximum(above, below)
    return bool((hit & (grain > _NO_GRAIN) & (soft < size * _SOFTEST)).any())


def _steps_at_an_end(seen: _Steps, sd: float, least: float) -> bool:
    """Tell a block lost in the first or the last row: only one edge of it is inside.

    Below the first row all is off, so the step is above its blocks up to the lost one;
    in the last row it is above those from the lost one on.
    """
    first = np.stack([seen.step[0], seen.above[0], seen.below[0], seen.beyond[0]])
    last = np.stack([seen.step[-1], seen.above[-1], seen.below[-1], seen.beyond[-1]])
    return any(_is_stepped(one, sd, least) for one in (first, last[:, ::-1]))


def _is_stepped(edge: NDArray[np.float64], sd: float, least: float) -> bool:
    """Tell an edge whose columns step alike up to some column and lie still behind."""
    step, above, below, beyond = edge
    wide = len(step)
    gap = min(_GARBLED_COLUMNS, wide // 4)
    counts = np.arange(_LEAST_COLUMNS, wide - gap - _LEAST_COLUMNS)
    # A median is beyond a bound only where half of its values are: few counts are left.
    bound = max(_ACROSS_TIMES * least, _STEP_SDS * sd / np.sqrt(wide))
    beyond_it = [np.cumsum(way * step > bound)[counts - 1] for way in (1, -1)]
    for count in counts[2 * np.maximum(*beyond_it) >= counts].tolist():
        height = float(np.median(step[:count]))
        size = abs(height)
        needed = max(_ACROSS_TIMES * least, _STEP_SDS * sd / np.sqrt(count))
        if not size > needed or abs(float(np.median(step[count + gap :]))) > size / 3:
            continue
        alike = (step[:count] * np.sign(height) > size / 3).mean()
        still = (np.abs(step[count + gap :]) < size / 2).mean()
        one, other = float(np.median(above[:count])), float(np.median(below[:count]))
        grain, soft = min(one, other), max(one, other)
        ratio = (soft + _NO_GRAIN) / (grain + _NO_GRAIN)
        grained = ratio < _MOST_UNLIKE and grain > _NO_GRAIN
        burnt = size > _LARGE_STEP and beyond[:count].mean() > _MOSTLY
        if (
            min(alike, still) > _IN_COLUMNS
            and (grained or burnt)
            and soft < size * _SOFTEST
        ):
            return True
    return False


def _alike(above: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell where both sides of a step have the same grain."""
    ratio = (above + _NO_GRAIN) / (below + _NO_GRAIN)
    return np.asarray(np.maximum(ratio, 1 / ratio) < _MOST_UNLIKE)


def _gathered(edges: NDArray[np.float32]) -> _Steps:
    step, above, below, beyond = edges.astype(np.float64)
    step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
    return _Steps(step=step, above=above, below=below, beyond=beyond)
