"""Which other settings are taken out of a comparison, if none are named.

A setting is taken out if it leans on the compared one, or if it tells the shares apart
once the compared one is known: leaving out what does either is what misleads (double
selection: Belloni, Chernozhukov and Hansen 2014, Rev. Econ. Stud. 81:608). Only
settings and conditions of the day qualify; a result never does: settings cause it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.assignment import days_of
from analysis.compare.confounding import same_thing
from analysis.compare.design import codes, means
from analysis.distributions import f_sf
from analysis.fields import role_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

TIME = "cast_on"
LEANS_BELOW = 0.1
ACTS_BELOW = 0.05
DRIFTS_BELOW = 0.02  # drift costs two or three numbers, so it must act more clearly
MOST_LEVELS = 6
KNOWN_LEAST = 0.5
SPARE = 5  # units that stay to judge by
FEWEST_TIMES = 6
BENDS_TWICE_FROM = 16  # units from which a drift may bend twice
SMALL = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A setting that is taken out.

    Attributes
    ----------
    name : str
        Its column; ``cast_on`` is drift over time.
    leaning : float
        Share of the levels' spread over units that it explains, 0..1.
    """

    name: str
    leaning: float


def time_columns(
    table: PieceTable, cluster: NDArray[np.int64]
) -> NDArray[np.float64] | None:
    """Return a drift over time that may bend, None where days are not known.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},2026-01-0{n}" for n in range(1, 8)]
    >>> table = read_table(chr(10).join(["piece,pour,cast_on", *rows]))
    >>> time_columns(table, np.arange(7)).shape
    (7, 2)
    """
    days = days_of(table)
    if days is None:
        return None
    rank = days.code.astype(np.float64)
    times = int(rank.max(initial=0))
    if times + 1 < FEWEST_TIMES:
        return None
    # On -1..1, so that the powers are of one size and less alike.
    at = 2 * rank / times - 1
    columns = [at, at**2]
    if int(cluster.max(initial=0)) + 1 >= BENDS_TWICE_FROM:
        columns.append(at**3)
    return np.column_stack(columns)


def columns_of(
    table: PieceTable, name: str, cluster: NDArray[np.int64]
) -> NDArray[np.float64] | None:
    r"""Return the columns of a setting, None where it cannot be taken out.

    Words are levels, unknown ones a level of their own; numbers are a slope, seconds
    one for each method.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix\n1,A,C25\n2,B,C40\n3,C,C40\n")
    >>> columns_of(table, "mix", np.arange(3)).ravel().tolist()
    [0.0, 1.0, 1.0]
    """
    if name == TIME:
        return time_columns(table, cluster)
    levels = table.levels(name)
    count = len(levels.names)
    if count < 2:  # noqa: PLR2004
        return None
    if name not in table.number or count <= 2:  # noqa: PLR2004
        if count > MOST_LEVELS:
            return None
        return levels.columns()
    values = table.number[name]
    known = ~np.isnan(values)
    if known.mean() < KNOWN_LEAST:
        return None
    groups = np.zeros(len(values), dtype=np.int64)
    if name == "vibration_s" and "vibration_method" in table.text:
        groups = table.levels("vibration_method").code
    columns = []
    for group in range(int(groups.max()) + 1):
        inside = (groups == group) & known
        if not inside.any():
            continue
        middle = float(values[inside].mean())
        columns.append(np.where(inside, np.where(known, values, middle) - middle, 0.0))
        if groups.any():
            columns.append((groups == group).astype(np.float64))
    return np.column_stack(columns) if columns else None


def _unit_rows(
    columns: NDArray[np.float64],
    x: NDArray[np.float64],
    cluster: NDArray[np.int64],
    stratum: NDArray[np.int64],
) -> NDArray[np.float64]:
    """Return units: means of clusters with one level, pieces within the others."""
    mean, _ = means(columns, cluster)
    side, _ = means(x, cluster)
    mixed = ((side > SMALL) & (side < 1 - SMALL))[cluster]
    # Any row speaks for a cluster of one level: the last one written stays.
    first = np.zeros(len(side), dtype=np.int64)
    first[cluster] = np.arange(len(cluster))
    pure = first[~mixed[first]]
    outer = mean[cluster[pure]]
    if len(pure):
        layer = codes(stratum[pure])
        outer = outer - means(outer, layer)[0][layer]
    return np.vstack([outer, (columns - mean[cluster])[mixed]])


def _rest(
    values: NDArray[np.float64], columns: NDArray[np.float64]
) -> NDArray[np.float64]:
    return np.asarray(
        values - columns @ np.linalg.lstsq(columns, values, rcond=SMALL)[0]
    )


def _told(
    y: NDArray[np.float64], columns: NDArray[np.float64], df: int
) -> tuple[float, float]:
    """Return the share of y that columns explain, and p of its being chance."""
    total = float(y @ y)
    rank = int(np.linalg.matrix_rank(columns, tol=1e-7))
    if total <= SMALL or rank == 0 or df - rank < 1:
        return 0.0, 1.0
    left = _rest(y, columns)
    explained = max(1 - float(left @ left) / total, 0.0)
    f = explained / rank / max((1 - explained) / (df - rank), 1e-300)
    return explained, float(f_sf(f, rank, df - rank))


def qualifying(table: PieceTable, by: str, barred: Iterable[str]) -> tuple[str, ...]:
    r"""Return the columns that may be taken out of a comparison.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix,leak,air_c\n1,A,C25,none,12\n")
    >>> qualifying(table, "oil", ())
    ('mix', 'air_c')
    """
    taken = {by, *barred, *same_thing(by), "form"}
    in_time = {TIME, "cast_at"}
    names = [
        name
        for name in table.text
        if name not in taken | in_time
        and role_of(name) in {"setting", "condition_of_day"}
    ]
    if "joint_sealing" in names and "joints_sealed" in names:
        names.remove("joints_sealed")
    return (*names, TIME) if TIME in table.text and TIME not in taken else (*names,)


def beside(
    table: PieceTable,
    by: str,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    cluster: NDArray[np.int64],
    stratum: NDArray[np.int64],
    barred: Iterable[str] = (),
) -> tuple[Beside, ...]:
    """Choose what is taken out of a comparison, what leans most first.

    Parameters
    ----------
    table : PieceTable
        Pieces of the two levels.
    by : str
        The compared factor.
    x, y : ndarray of float64, (n,)
        Level (1 or 0) and log outcome.
    cluster, stratum : ndarray of int64, (n,)
        Units between which, and strata inside which levels are compared.
    barred : iterable of str
        Columns that are dealt with already.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},{'xy'[n % 2 if n > 3 else 1]}" for n in range(20)]
    >>> table = read_table(chr(10).join(["piece,pour,oil", *rows]))
    >>> x = np.arange(20) % 2 * 1.0
    >>> rows = np.arange(20)
    >>> [one.name for one in beside(table, "mix", x, x + rows, rows, rows * 0)]
    ['oil']
    """
    level = _unit_rows(x[:, None], x, cluster, stratum)[:, 0]
    size = _unit_rows(y[:, None], x, cluster, stratum)[:, 0]
    lost = len(np.unique(stratum)) if len(level) else 0
    df = len(level) - lost
    found: list[tuple[float, Beside, int]] = []
    for name in qualifying(table, by, barred):
        columns = columns_of(table, name, cluster)
        if columns is None:
            continue
        rows = _unit_rows(columns, x, cluster, stratum)
        leaning, p_leans = _told(level, rows, df)
        # Acts beyond the levels: both sides with the compared level taken out (Frisch,
        # Waugh and Lovell), which costs one degree of freedom.
        both = np.column_stack([size, rows])
        rest = _rest(both, level[:, None]) if float(level @ level) > 0 else both
        _, p_acts = _told(rest[:, 0], rest[:, 1:], df - 1)
        acts = DRIFTS_BELOW if name == TIME else ACTS_BELOW
        if p_leans < LEANS_BELOW or p_acts < acts:
            rank = int(np.linalg.matrix_rank(rows, tol=1e-7))
            one = Beside(name=name, leaning=leaning)
            found.append((min(p_leans, p_acts), one, rank))
    # Clearest first; at most half of what can be spared goes to settings.
    room = max((df - SPARE) // 2, 0)
    chosen = []
    for _, one, rank in sorted(found, key=lambda item: item[0]):
        if rank <= room:
            chosen.append(one)
            room -= rank
    return tuple(sorted(chosen, key=lambda one: -one.leaning))
