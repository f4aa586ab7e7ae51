"""Runs of a JPEG's blocks that are all off by one amount, to the end of a restart.

A JPEG's blocks tell only how much brighter, or more coloured, each is than the one
before. Where one is lost without a word, all that follow in the order of the file are
off by the same amount: from some block of a row on, and in the next row up to there.
What bounds such a run is an edge of one height and no width at all on the grid of the
blocks, with the photo's own grain on both sides. A lens draws no such edge; where a
picture has one off the grid too, it is a drawing, and nothing is told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf
from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.block_planes import BLOCK, read_planes
from analysis.imaging.staircase import stairs_of
from analysis.robust import robust_sd

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    from analysis.imaging.block_planes import BlockPlanes

_BAND_ROWS = 512
# Larger steps are told by their size alone, elsewhere; what black or white may cut off
# is no longer of one height.
_LARGEST_STEP, _CUT_STEP = 40.0, 60.0
# Height of an edge in sd of its mean, as the photo's rows have it on and off the grid.
_SDS, _LEAST_SD = 8.0, 0.25
_LEAST_COLUMNS, _LEAST_WIDE = 6, 24
# Columns over which the lost block itself may lie.
_GARBLED = 3
# Parts of the height: by how much both ends may differ, the rest of both rows may step,
# and the rows of px beside the edge may. Colour is drawn softly over two rows of px.
_UNEVEN, _STILL, _SOFT, _SOFT_COLOUR = 0.25, 0.25, 0.15, 0.3
_BY_CHANCE_SDS = 3.0
# Of the columns, which step by a third of the height unless grain makes them less, so
# many may not; and so much more may they scatter than columns elsewhere.
_PART, _UNLIKE, _SCATTER = 1 / 3, 0.08, 1.5
# A run from one side to the other has but one edge, as level things have: it is told
# only where it stands out so many times from whatever lies off the grid, and colour,
# which coarse files draw in whole blocks, from what else lies on it.
_STANDS_OUT, _COARSE_PART = 2.0, 99.5
# Through a lens a fifth of an edge lies in the row of px beside it. A file may round it
# away where it is under q / 2, q being the quantisation of slopes down a block: a row
# of px that is 1 brighter makes 1.0 to 1.4 of them (ITU-T T.81, A.3.3).
_LENS_SHOWS, _SLOPES = 2.5, (8, 16, 24)
_LEAST_LEVELS, _LEAST_COLOUR_LEVELS = 1.5, 2.0
# Where the slope of light beside an edge is looked at, rows of px.
_SLOPE_AT = (-4, -3, -2, 2, 3, 4)
# Rows of px that an edge on the grid may reach into.
_ITS_WIDTH = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Plane:
    """Steps from row to row of brightness or of one difference of colour.

    Attributes
    ----------
    step : ndarray of float32, (rows, columns of 8 px)
        Step beyond the slope there, levels; row `pitch + i` is that between rows i and
        i + 1, and the first and last `pitch` rows are absent.
    pitch : int
        Rows between two edges of the grid; row r is on it where r + 1 is a multiple.
    sd : float
        Of one column's step.
    mean_sd : float
        Of a whole row's mean, times the root of its columns: sd or more.
    least, largest : float
        Height of an edge, levels.
    soft : float
        Part of its height that rows beside an edge may step by.
    least_seen_soft : float
        Height from which on the file would show that a lens drew the edge, levels.
    """

    step: NDArray[np.float32]
    pitch: int
    sd: float
    mean_sd: float
    least: float
    largest: float
    soft: float
    least_seen_soft: float

    @property
    def rows(self) -> NDArray[np.int64]:
        """Rows with which a run may begin: the first is above the picture."""
        return np.arange(self.pitch - 1, len(self.step) - self.pitch)

    def along(self, run: _Place, shift: int) -> NDArray[np.float32]:
        """Return the steps at the edge of a run, or `shift` rows beside it."""
        first, last = self.pitch, len(self.step) - self.pitch
        behind = slice(run.column + _GARBLED, None)
        below = run.row + self.pitch
        parts = [] if run.row < first else [self.step[run.row + shift, behind]]
        if run.is_bar:
            parts.append(-self.step[below + shift, behind])
        elif below < last:
            parts.append(self.step[below + shift, : run.column])
        return np.concatenate(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a run begins; a bar ends with its own row of blocks, before a restart."""

    row: int
    column: int
    is_bar: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A run, its height in levels and in sd; whether it begins far from both sides."""

    place: _Place
    height: float
    sds: float
    is_aside: bool


def has_shifted_run(
    image: Image.Image, rows: int, planes: BlockPlanes | None = None
) -> bool:
    """Tell whether a run of blocks is off by one amount in brightness or colour.

    Parameters
    ----------
    image : PIL.Image.Image
        A decoded JPEG, not turned.
    rows : int
        Rows of px that are coded together, 8 or 16.
    planes : BlockPlanes, optional
        Of this picture, where they were read already.

    Returns
    -------
    bool
        False for pictures under 192 px wide or three rows of blocks high.

    Examples
    --------
    >>> from PIL import Image
    >>> has_shifted_run(Image.new("RGB", (320, 320), (128, 128, 128)), 16)
    False
    """
    if image.width // BLOCK < _LEAST_WIDE or image.height < 3 * rows:
        return False
    stairs = stairs_of(image)
    planes = planes or read_planes(image, rows)
    light = _plane(
        _means(planes.light_sums),
        pitch=rows,
        least=max(_LEAST_LEVELS, stairs),
        largest=_LARGEST_STEP,
        soft=_SOFT,
        least_seen_soft=_least_seen_soft(image),
    )
    if _has_run(light, light):
        return True
    for sums in planes.colour_sums:
        colour = _means(sums)
        if rows > BLOCK:
            even = len(colour) // 2 * 2
            # Colour is then stored for two rows of px at a time: in pairs its grid is 8
            # again.
            colour = colour[:even].reshape(even // 2, 2, -1).mean(axis=1)
        seen = _plane(
            colour,
            pitch=BLOCK,
            least=max(_LEAST_COLOUR_LEVELS, stairs),
            largest=float("inf"),
            soft=_SOFT_COLOUR if rows > BLOCK else _SOFT,
            least_seen_soft=0.0,
        )
        if _has_run(seen, light):
            return True
    return False


def _least_seen_soft(image: Image.Image) -> float:
    """Return from which height on the file shows that an edge is soft."""
    layers, tables = (getattr(image, name, None) for name in ("layer", "quantization"))
    if not layers or not tables:
        return 0.0
    of_light = tables[layers[0][3]]
    return _LENS_SHOWS * max(float(of_light[at]) for at in _SLOPES)


def _means(sums: NDArray[np.uint16]) -> NDArray[np.float32]:
    return sums.astype(np.float32) / np.float32(BLOCK)


def _plane(
    plane: NDArray[np.float32],
    *,
    pitch: int,
    least: float,
    largest: float,
    soft: float,
    least_seen_soft: float,
) -> _Plane:
    high = len(plane) - 1
    step = np.clip(np.diff(plane, axis=0), -_CUT_STEP, _CUT_STEP)
    reach = max(_SLOPE_AT)
    beside = np.pad(step, ((reach, reach), (0, 0)), mode="edge")
    slope = sum(beside[reach + at : reach + at + high] for at in _SLOPE_AT)
    step -= slope / np.float32(len(_SLOPE_AT))
    # Coarse files have rougher edges on the grid than off it.
    sets = (step, step[pitch - 1 :: pitch])
    sd = max(_LEAST_SD, *(_spread(one) for one in sets))
    root = float(np.sqrt(step.shape[1]))
    mean_sd = max(sd, *(_spread(one.mean(axis=1)) * root for one in sets))
    return _Plane(
        step=np.pad(step, ((pitch, pitch), (0, 0))),
        pitch=pitch,
        sd=sd,
        mean_sd=mean_sd,
        least=least,
        largest=largest,
        soft=soft,
        least_seen_soft=least_seen_soft,
    )


def _spread(values: NDArray[np.float32]) -> float:
    thin = values[:: max(1, values.size // 1_000_000)]
    return robust_sd(thin)


def _has_run(plane: _Plane, light: _Plane) -> bool:
    every = plane.rows
    on_grid = (every + 1) % plane.pitch == 0
    found, _ = _bounds(plane, every[on_grid])
    if not found:
        return False
    # The control: the same search on rows off the grid, clear of the edges found.
    near = np.zeros(len(plane.step) + plane.pitch, np.bool_)
    for run in found:
        for edge in (run.place.row, run.place.row + plane.pitch):
            near[edge - _ITS_WIDTH : edge + _ITS_WIDTH + 1] = True
    away = ~on_grid & ~near[every] & ~near[every + plane.pitch]
    drawn, others = _bounds(plane, every[away])
    if drawn:
        return False
    if any(run.is_aside for run in found):
        return True
    # All black or white for some rows of blocks, down to a restart.
    cut_off = {np.sign(run.height) for run in found if abs(run.height) > plane.largest}
    if len(cut_off) > 1:
        return True
    found = [
        run
        for run in found
        if run.sds > _STANDS_OUT * others
        and abs(run.height) > plane.least_seen_soft
        and abs(run.height) < plane.largest
    ]
    if plane is light or not found:
        return bool(found)
    rest = every[on_grid & ~near[every]]
    blocks = np.percentile(np.abs(plane.step[rest]), _COARSE_PART) if len(rest) else 0.0
    return any(
        abs(run.height) > _STANDS_OUT * blocks and not _is_soft_in(light, plane, run)
        for run in found
    )


def _is_soft_in(light: _Plane, colour: _Plane, run: _Run) -> bool:
    """Tell whether brightness shows that an edge of colour may be that of a thing."""
    row = (run.place.row + 1) // colour.pitch * light.pitch - 1
    place = replace(run.place, row=row)
    # A coarse file moves an edge of colour to that of its block.
    reach = BLOCK - 1
    steps = [light.along(place, at).mean() for at in range(-reach, reach + 1)]
    heights = np.abs(np.convolve(steps, np.ones(3), mode="same"))
    height = float(heights.max())
    if height < 2 * light.least:
        return False
    if abs(int(heights.argmax()) - reach) > 1:
        return True
    return height < light.least_seen_soft or not _sharp_height(light, place)


def _bounds(plane: _Plane, rows: NDArray[np.int64]) -> tuple[list[_Run], float]:
    """Return the runs that begin in these rows, and the height in sd of the likeliest.

    The likeliest need not be sharp.
    """
    found: list[_Run] = []
    highest = 0.0
    last = plane.step.shape[1] - _GARBLED - _LEAST_COLUMNS
    for start in range(0, len(rows), _BAND_ROWS):
        some = rows[start : start + _BAND_ROWS]
        for is_bar, (columns, sds) in zip(
            (False, True), _best(plane, some), strict=True
        ):
            highest = max(highest, float(sds.max()))
            for one in np.flatnonzero(sds > _SDS):
                column = int(columns[one])
                place = _Place(row=int(some[one]), column=column, is_bar=is_bar)
                height = _sharp_height(plane, place)
                if height:
                    aside = abs(height) < plane.largest
                    aside &= _LEAST_COLUMNS <= column < last
                    run = _Run(
                        place=place,
                        height=height,
                        sds=float(sds[one]),
                        is_aside=aside,
                    )
                    found.append(run)
    return found, highest


def _best(
    plane: _Plane, rows: NDArray[np.int64]
) -> tuple[tuple[NDArray[np.int64], NDArray[np.float64]], ...]:
    """Return where a run most likely begins in each row, and its height in sd.

    First of runs that go on in the row of blocks below, then of bars.
    """
    wide = plane.step.shape[1]
    column = np.arange(wide - _GARBLED)
    # Every column is tried at once as that of the lost block: arrays are (rows,
    # columns), sums over the columns before it and behind the garbled ones.
    behind, before = wide - _GARBLED - column, np.maximum(column, 1)

    def sums(at: NDArray[np.int64]) -> tuple[NDArray[np.float64], ...]:
        total = np.cumsum(plane.step[at], axis=1, dtype=np.float64)
        total = np.pad(total, ((0, 0), (1, 0)))
        return total[:, column], total[:, -1:] - total[:, column + _GARBLED]

    (left, right), (left_below, right_below) = sums(rows), sums(rows + plane.pitch)
    inside, inside_below = (
        ((at >= plane.pitch) & (at < len(plane.step) - plane.pitch))[:, None]
        for at in (rows, rows + plane.pitch)
    )

    def likeliest(
        other: NDArray[np.float64],
        beside: NDArray[np.float64],
        few: NDArray[np.int64],
        rest: NDArray[np.int64],
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Join what is behind a column with `few` other columns of the row below."""
        count = behind * inside + few * inside_below
        size = np.abs(right + other) / np.maximum(count, 1)

        def within(
            value: NDArray[np.float64], part: float, weight: NDArray[np.float64]
        ) -> NDArray[np.bool_]:
            by_chance = _BY_CHANCE_SDS * plane.mean_sd * np.sqrt(weight)
            return np.asarray(np.abs(value) < np.maximum(part * size, by_chance))

        some = np.maximum(few, 1)
        both = inside & inside_below & (few > 0)
        uneven = right / behind - other / some
        sure = ~both | within(uneven, _UNEVEN, 1 / behind + 1 / some)
        sure &= within(left / before, _STILL, 1 / before)
        sure &= within(beside / rest, _STILL, 1 / rest)
        sure &= (count >= _LEAST_COLUMNS) & (size > plane.least)
        # Mean step of `count` columns over the standard error of such a mean.
        sds = np.where(sure, size * np.sqrt(count) / plane.mean_sd, 0.0)
        best = sds.argmax(axis=1)
        return best, sds[np.arange(len(rows)), best]

    run = likeliest(left_below, right_below, column, behind)
    best, sds = likeliest(-right_below, left_below, behind, before)
    return run, (best, sds * (inside & inside_below)[:, 0])


def _sharp_height(plane: _Plane, place: _Place) -> float:
    """Return the height of an edge of no width, with grain as elsewhere; else 0.

    One that is cut off by black or white has no grain, and is over the largest.
    """
    steps = plane.along(place, 0)
    height = float(steps.mean())
    size, by_chance = abs(height), _BY_CHANCE_SDS / float(np.sqrt(len(steps)))
    # What is taken for slope leaves a part of the edge behind, of the other sign.
    beside = max(
        abs(
            float(plane.along(place, shift).mean())
            + height * (abs(shift) > 1) / len(_SLOPE_AT)
        )
        for shift in (-2, -1, 1, 2)
    )
    unlike = float((steps * np.sign(height) < size * _PART).mean())
    # Of normal grain, so many fall short by chance.
    short = (1 - erf(size * (1 - _PART) / plane.sd / 2**0.5)) / 2
    is_sharp = (
        beside < plane.soft * size + by_chance * plane.sd
        and unlike < _UNLIKE + short
        and _spread(steps) < _SCATTER * plane.sd
    )
    return height if is_sharp else 0.0
