"""How much pieces differ within and between pours, settings and forms taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.design import codes
from analysis.compare.power import SUPPOSED_SPREAD

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable


SUPPOSED_WITHIN = 0.35  # of log shares between pieces of a pour; own judgement
LEAST_DF = 6
_SETTINGS = ("joint_sealing", "vibration_s", "release_agent")
FEW_LEVELS = 6


def spreads(table: PieceTable, by: str) -> tuple[float, float, bool]:
    r"""Return the spread of log shares within and between pours, and if supposed.

    What is known of how pieces were made is taken out first: pieces of one form made
    alike have a mean of their own.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> spreads(read_table("piece,pour,mix,void_area_percent\n1,A,x,0.4\n"), "mix")
    (0.35, 0.5, True)
    """
    shares = table.number.get("void_area_percent")
    if shares is None or not (shares > 0).any():
        return SUPPOSED_WITHIN, SUPPOSED_SPREAD, True
    known = np.isfinite(shares)
    floor = shares[shares > 0].min() / 2
    logs = np.log(np.maximum(shares[known], floor))
    cell = _cells(table, by, known)
    pour = table.levels("pour").taken(known).code
    rest = logs - _means(logs, cell)[cell]
    of_pours = _means(rest, pour)
    inner = rest - of_pours[pour]
    # Cells and pours share the grand mean, which is counted once.
    df_within = len(logs) - len(of_pours) - (cell.max() + 1) + 1
    df_between = len(of_pours) - 1
    supposed = bool(df_within < LEAST_DF or df_between < LEAST_DF)
    within, between = SUPPOSED_WITHIN, SUPPOSED_SPREAD
    if df_within >= LEAST_DF:
        within = float((inner**2).sum() / df_within) ** 0.5
    if df_between >= LEAST_DF:
        # A pour's mean of m pieces varies by between + within / m, so pours of unlike
        # sizes need the mean of 1 / m.
        of_one = float(np.mean(1 / np.bincount(pour)))
        left = float(of_pours.var(ddof=1)) - within**2 * of_one
        between = max(left, 0.0) ** 0.5
    return within, between, supposed


def _cells(table: PieceTable, by: str, known: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Give pieces made alike one number: form, level, settings of a few levels."""
    names = ["form", by, *(name for name in _SETTINGS if name != by)]
    columns = [table.levels(name).taken(known) for name in names if name in table.text]
    few = [its.code for its in columns if len(its.names) <= FEW_LEVELS]
    return codes(*few) if few else np.zeros(int(known.sum()), dtype=np.intp)


def _means(values: NDArray[np.float64], group: NDArray[np.intp]) -> NDArray[np.float64]:
    means: NDArray[np.float64] = np.bincount(group, values) / np.bincount(group)
    return means
