"""What differs between the pours of a signal and the pours before them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.errors import InputError
from analysis.model.monitoring import Difference

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, Track

ALWAYS = ("form_type", "stage", "joint_sealing", "method_version")
WORTH_SHOWING = 0.5


def differences(
    pieces: PieceColumns, result: Track, pour: str
) -> tuple[Difference, ...]:
    """Rank the settings by how unlike the pours before they are at a signal.

    Parameters
    ----------
    pieces : PieceColumns
        The table the track was made from.
    result : Track
        From `track`.
    pour : str
        Pour with a signal, or any other on the chart.

    Returns
    -------
    tuple of Difference
        Most unlike first. The pours of the signal are the unbroken run on one side
        of the centre that ends at `pour`; those before it are the earlier ones of
        the same era.

    Raises
    ------
    InputError
        The pour is not on the chart.

    Notes
    -----
    A level of a named setting: Fisher's exact test on pours; a number: Mann and
    Whitney's rank test on pour means. They rank where to look; with many settings
    one of them will differ by chance.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.010, 0.012, 0.011, 0.009] * 3 + [0.05],
    ...     stage=["as struck"] * 13, form_type=["trough"] * 12 + ["panel"])
    >>> from analysis.model.monitoring import TrackOptions
    >>> result = track(table, TrackOptions(together=("product_line",)))
    >>> [(d.setting, d.level, d.now) for d in differences(table, result, "P0013")]
    [('form_type', 'panel', 1)]
    """
    points = result.points
    at = np.flatnonzero(points.pour == pour)
    if not len(at):
        msg = f"Pour {pour} is not on the chart: choose one of its pours."
        raise InputError(msg)
    last = int(at[0])
    start = int(np.flatnonzero(points.era == points.era[last])[0])
    first = _run_start(points.value, points.centre, start, last)
    # Per pour: 1 in the run of the signal, 0 before it in its era, -1 not looked at.
    group = np.full(len(points), -1)
    group[start:first] = 0
    group[first : last + 1] = 1
    if first == start:
        return ()
    kept = pieces.take(result.piece_rows)
    named = [(name, getattr(kept, name)) for name in ALWAYS]
    named += list(kept.settings)
    found = [
        _of_levels(name, column, result.pour_of_piece, group) for name, column in named
    ]
    amounts = [("form_use", kept.form_use), *kept.amounts]
    found += [
        _of_amounts(name, column, result.pour_of_piece, group)
        for name, column in amounts
    ]
    shown = [d for d in found if d is not None and d.p_value < WORTH_SHOWING]
    return tuple(sorted(shown, key=lambda d: d.p_value))


def _run_start(
    value: NDArray[np.float64], centre: NDArray[np.float64], start: int, last: int
) -> int:
    """First pour of the unbroken run on one side of the centre."""
    side = value > centre
    first = last
    while first > start and side[first - 1] == side[last]:
        first -= 1
    return first


def _of_levels(
    name: str,
    column: NDArray[np.str_],
    of_piece: NDArray[np.int64],
    group: NDArray[np.int64],
) -> Difference | None:
    """Compare how many pours have each level; the most unlike level speaks."""
    n_now, n_before = int((group == 1).sum()), int((group == 0).sum())
    best: Difference | None = None
    for level in np.unique(column[group[of_piece] == 1]):
        # Pours with a piece of the level, (pours,): Fisher's table is of pours.
        has = np.zeros(len(group), dtype=bool)
        has[of_piece[column == level]] = True
        now, before = int(has[group == 1].sum()), int(has[group == 0].sum())
        table = [[now, n_now - now], [before, n_before - before]]
        p_value = float(scipy.stats.fisher_exact(table).pvalue)
        if best is None or p_value < best.p_value:
            best = Difference(
                setting=name,
                level=str(level),
                now=now,
                before=before,
                of_now=n_now,
                of_before=n_before,
                p_value=p_value,
            )
    return best


def _of_amounts(
    name: str,
    column: NDArray[np.float64],
    of_piece: NDArray[np.int64],
    group: NDArray[np.int64],
) -> Difference | None:
    known = np.isfinite(column)
    count = np.bincount(of_piece[known], minlength=len(group))
    total = np.bincount(of_piece[known], column[known], len(group))
    mean = np.full(len(group), np.nan)
    mean[count > 0] = total[count > 0] / count[count > 0]
    now, before = (mean[(group == side) & (count > 0)] for side in (1, 0))
    if not len(now) or not len(before) or np.ptp(np.r_[now, before]) == 0:
        return None
    return Difference(
        setting=name,
        level=None,
        now=float(np.median(now)),
        before=float(np.median(before)),
        of_now=len(now),
        of_before=len(before),
        p_value=float(scipy.stats.mannwhitneyu(now, before, method="auto").pvalue),
    )
