"""Grids and fields drawn by lot over the measured face."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number
from analysis.errors import InputError
from analysis.model.point_count import CountField, CountPlan, Stratum

if TYPE_CHECKING:
    from numpy.typing import NDArray

# One of the grids that the standard prints (16, 25, 49 and 100 points).
POINTS_PER_FIELD = 25
MOST_POINTS = 20_000
_SIDE = 5
# So many fields are laid for each that is drawn, so that the draw is a draw.
_LAID_FOR_ONE = 4
_LEAST_FIELDS = 2
_FINER = 0.9
_LEAST_TILE_PX = 8.0


def draw_even(
    face: NDArray[np.bool_], points_wanted: int, *, void_px2: float, seed: int
) -> CountPlan:
    """Lay a grid over the face and draw fields of it by lot.

    The grid's place is drawn, then which of its fields are counted, each once at most.
    Every field holds the same number of points, all on the face.

    Parameters
    ----------
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    points_wanted : int
        At least 50; rounded up to whole fields.
    void_px2 : float
        Usual area of a void, px²; 0 if none is known.
    seed : int

    Returns
    -------
    CountPlan
        Points in px of `face`.

    Raises
    ------
    InputError
        Too many points, or a face too small for them.

    Examples
    --------
    >>> plan = draw_even(np.ones((300, 400), bool), 100, void_px2=0, seed=1)
    >>> len(plan.fields), plan.point_count
    (4, 100)
    """
    rng = np.random.default_rng(seed)
    count = _fields_for(points_wanted)
    runs, spacing = _laid(face, count, rng)
    drawn = rng.permutation(len(runs))[:count]
    fields = tuple(CountField(stratum=0, points_px=runs[at]) for at in drawn)
    part = Stratum(
        name="face", weight=1.0, spacing_px=spacing, fields_to_draw_from=len(runs)
    )
    return CountPlan(
        kind="even", seed=seed, strata=(part,), fields=fields, void_px2=void_px2
    )


def draw_by_candidates(
    face: NDArray[np.bool_],
    candidates: NDArray[np.bool_],
    wanted: tuple[int, int],
    *,
    void_px2: float,
    seed: int,
) -> CountPlan:
    """Lay a fine grid where candidates lie and a coarse one over the rest.

    Which px are which is settled before anything is counted, so that the estimate,
    the weighted sum of both parts, is right whatever the search missed or took for a
    void; a good search only makes it more exact.

    Parameters
    ----------
    face : ndarray of bool, (rows, cols)
    candidates : ndarray of bool, (rows, cols)
        Tiles with candidates, counted or not.
    wanted : tuple of int
        Points among the candidates and elsewhere, each at least 50.
    void_px2 : float
    seed : int

    Returns
    -------
    CountPlan
        The fields of both parts in one order drawn by lot.

    Raises
    ------
    InputError
        A part is empty or too small: count evenly.
    """
    rng = np.random.default_rng(seed)
    parts = (face & candidates, face & ~candidates)
    strata, fields = [], []
    for at, (part, points_wanted) in enumerate(zip(parts, wanted, strict=True)):
        count = _fields_for(points_wanted)
        runs, spacing = _laid(part, count, rng)
        strata.append(
            Stratum(
                name=("candidates", "others")[at],
                weight=float(np.count_nonzero(part) / np.count_nonzero(face)),
                spacing_px=spacing,
                fields_to_draw_from=len(runs),
            )
        )
        drawn = rng.permutation(len(runs))[:count]
        fields += [CountField(stratum=at, points_px=runs[one]) for one in drawn]
    order = rng.permutation(len(fields))
    return CountPlan(
        kind="candidates",
        seed=seed,
        strata=tuple(strata),
        fields=tuple(fields[at] for at in order),
        void_px2=void_px2,
    )


def candidate_tiles(
    candidates: NDArray[np.bool_], usual_across_px: float
) -> NDArray[np.bool_]:
    """Mark the square tiles that hold a candidate, about twice as wide as a usual one.

    Parameters
    ----------
    candidates : ndarray of bool, (rows, cols)
        Px of candidates.
    usual_across_px : float
        Usual diameter of one.

    Returns
    -------
    ndarray of bool, (rows, cols)

    Examples
    --------
    >>> seen = np.zeros((20, 20), bool)
    >>> seen[3, 3] = True
    >>> int(candidate_tiles(seen, 4.0).sum())
    64
    """
    side = max(_LEAST_TILE_PX, 2 * usual_across_px)
    rows, cols = (np.arange(length) // side for length in candidates.shape)
    row, col = rows.astype(np.intp), cols.astype(np.intp)
    tiles = np.zeros((row[-1] + 1, col[-1] + 1), dtype=bool)
    at = np.nonzero(candidates)
    tiles[row[at[0]], col[at[1]]] = True
    return tiles[row[:, None], col[None, :]]


def _fields_for(points_wanted: int) -> int:
    number(
        points_wanted,
        "Number of points",
        low=_LEAST_FIELDS * POINTS_PER_FIELD,
        high=MOST_POINTS,
    )
    return math.ceil(points_wanted / POINTS_PER_FIELD)


def _laid(
    part: NDArray[np.bool_], fields: int, rng: np.random.Generator
) -> tuple[list[NDArray[np.float64]], float]:
    """Lay a grid over a part and cut it into fields of one size.

    Returns the points of each field and the spacing, px.
    """
    area = int(np.count_nonzero(part))
    # As if no point were lost; where edges cut too many off, it is made finer.
    spacing = math.sqrt(area / (_LAID_FOR_ONE * fields * POINTS_PER_FIELD))
    start = rng.uniform(0.0, 1.0, 2)
    while spacing >= 1.0:
        runs = _runs(part, spacing, start, rng)
        if len(runs) >= fields:
            return runs, spacing
        spacing *= _FINER
    msg = (
        f"{fields * POINTS_PER_FIELD} points do not fit on {area} px of face: "
        "choose fewer points."
    )
    raise InputError(msg)


def _runs(
    part: NDArray[np.bool_],
    spacing: float,
    start: NDArray[np.float64],
    rng: np.random.Generator,
) -> list[NDArray[np.float64]]:
    """Cut the grid's points on the part into runs of one length.

    Points are taken block by block of 5 x 5, the rows of blocks to and fro, so that a
    run lies together; what an edge cuts off a block is made up from the next one.
    """
    rows, cols = (
        np.arange(first * spacing - 0.5, length - 0.5, spacing)
        for first, length in zip(start, part.shape, strict=True)
    )
    grid = np.stack(np.meshgrid(rows, cols, indexing="ij"), axis=-1)
    row, col = np.meshgrid(np.arange(len(rows)), np.arange(len(cols)), indexing="ij")
    px = np.clip(np.rint(grid).astype(np.intp), 0, np.array(part.shape) - 1)
    inside = part[px[..., 0], px[..., 1]]
    block_row, block_col = row // _SIDE, col // _SIDE
    block_col = np.where(block_row % 2, block_col.max(initial=0) - block_col, block_col)
    # The last key rules: row of blocks, then block, then row and column inside it.
    order = np.lexsort((col[inside], row[inside], block_col[inside], block_row[inside]))
    points_px = grid[inside][order]
    count = len(points_px) // POINTS_PER_FIELD
    if not count:
        return []
    # Which points are left over beyond the last whole field is drawn too.
    points_px = np.roll(points_px, int(rng.integers(len(points_px))), axis=0)
    return list(
        np.round(points_px[: count * POINTS_PER_FIELD], 2).reshape(
            count, POINTS_PER_FIELD, 2
        )
    )
