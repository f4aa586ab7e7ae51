"""What went along with the compared factor, and so cannot be told from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.tangled import TIME, in_range, in_time, parted, together
from analysis.fields import role_of
from analysis.model.comparison import LEAST_POURS
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.comparison import Alias, PieceTable
    from analysis.model.word_columns import Levels

# The same thing under another name, or a part of it.
ONE_THING = (
    frozenset({"joint_sealing", JOINTS_SEALED}),
    frozenset({"form", "form_type", "product_line"}),
    frozenset({"vibration_method", "vibration_s"}),
)
RIVALS = frozenset({"setting", "condition_of_day", "condition_of_measuring"})
# What the estimate weighs by; order in time is looked at by itself.
NO_RIVALS = frozenset({"face_area_mm2", "cast_on", "cast_at"})
MANY = 3  # levels on each side from which a factor is a unit, not a setting
SPAN_LEVELS = 8
TWO = 2
_ENOUGH_ROWS = 2000  # to tell that a level is not the sum of what else was done


def candidates(table: PieceTable, by: str) -> tuple[str, ...]:
    r"""Return the recorded factors that could stand in for the compared one.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix,void_area_percent\n1,A,C25,0.4\n")
    >>> candidates(table, "pour")
    ('mix',)
    """
    same = {by, *same_thing(by)}
    if JOINTS_SEALED in table.text and "joint_sealing" not in same:
        same.add(JOINTS_SEALED)
    return tuple(
        name
        for name in table.text
        if name not in same and name not in NO_RIVALS and role_of(name) in RIVALS
    )


def same_thing(by: str) -> frozenset[str]:
    """Return the columns that are a factor under another name, or a part of it.

    Examples
    --------
    >>> sorted(same_thing("vibration_method"))
    ['vibration_method', 'vibration_s']
    """
    same = frozenset({by}).union(*(names for names in ONE_THING if by in names))
    return same - {"vibration_method"} if by == "vibration_s" else same


def _is_measure(table: PieceTable, factor: str, known: NDArray[np.bool_]) -> bool:
    """Tell whether a factor is a quantity with more than two values."""
    return factor in table.number and len(np.unique(table.number[factor][known])) > TWO


def _is_name(levels: Levels) -> bool:
    """Tell whether a column names each piece rather than says how it was made."""
    return len(levels.names) > max(2, len(levels.code) // 2)


def _sides(levels: Levels, x: NDArray[np.float64]) -> tuple[set[str], set[str]]:
    """Return the levels of a factor that occur with the first and the second level."""
    first, second = (
        levels.names[np.bincount(levels.code[rows], minlength=len(levels.names)) > 0]
        for rows in (x > 0, x == 0)
    )
    return set(first.tolist()), set(second.tolist())


def _parted(
    values: NDArray[np.float64], x: NDArray[np.float64], group: NDArray[np.int64]
) -> bool:
    """Tell whether a quantity does not overlap between the levels, in any group."""
    met = False
    for name in np.unique(group):
        first = values[(group == name) & (x > 0)]
        second = values[(group == name) & (x == 0)]
        if not len(first) or not len(second):
            continue
        met = True
        if first.min() <= second.max() and second.min() <= first.max():
            return False
    return met


def alias_of(
    table: PieceTable,
    factor: str,
    x: NDArray[np.float64],
    levels: tuple[str, str],
    *,
    strict: bool = False,
) -> Alias | None:
    r"""Tell whether a factor cannot be told from the compared one.

    Parameters
    ----------
    table : PieceTable
        Pieces of the two levels.
    factor : str
        The other factor.
    x : ndarray of float64, (n,)
        1 for pieces of the first level, 0 for the second.
    levels : tuple of str
        Names of the two levels, for the words.
    strict : bool
        Count a factor with many levels on both sides, too. Such a factor (forms,
        lots) is otherwise what the compared one was assigned to.

    Returns
    -------
    Alias or None
        None also where the factor is known for less than half of the pieces.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix\n1,A,C25\n2,B,C25\n3,C,C40\n4,D,C40\n")
    >>> alias_of(table, "mix", np.array([1.0, 1, 0, 0]), ("tape", "none")).factor
    'mix'
    """
    known = table.levels(factor).known
    if known.sum() * 2 < len(table):
        return None
    side = x[known]
    if not 0 < side.sum() < len(side):
        return None
    if _is_measure(table, factor, known):
        return _parted_alias(table, factor, x, known, levels)
    of_factor = table.levels(factor).taken(known)
    sides = _sides(of_factor, side)
    if sides[0] & sides[1] or (_is_name(of_factor) and not strict):
        return None
    if not strict and min(len(sides[0]), len(sides[1])) >= MANY:
        return None
    return parted(factor, levels, sides)


def _parted_alias(
    table: PieceTable,
    factor: str,
    x: NDArray[np.float64],
    known: NDArray[np.bool_],
    levels: tuple[str, str],
) -> Alias | None:
    values, side = table.number[factor][known], x[known]
    group = np.zeros(len(values), dtype=np.int64)
    if factor == "vibration_s" and "vibration_method" in table.text:
        group = table.levels("vibration_method").code[known]
    if not _parted(values, side, group):
        return None
    pours = table.levels("pour").code[known]
    few = min(len(np.unique(pours[side == level])) for level in (1.0, 0.0))
    if few < LEAST_POURS:
        return None  # in a few pours quantities lie apart by chance
    return in_range(factor, levels, values[side > 0], values[side == 0])


def _dummies(
    table: PieceTable, factor: str, rows: NDArray[np.bool_]
) -> NDArray[np.float64] | None:
    """Return the columns of a factor, None where it is a name or does not vary."""
    if _is_measure(table, factor, table.levels(factor).known):
        return table.number[factor][rows, None]
    levels = table.levels(factor).taken(rows)
    return levels.columns() if 1 < len(levels.names) <= SPAN_LEVELS else None


def _spans(
    columns: Sequence[NDArray[np.float64]], x: NDArray[np.float64], tolerance: float
) -> bool:
    # Scaled to 1: a form use of hundreds beside a 0 or 1 would blur the tolerance.
    matrix = np.column_stack([np.ones(len(x)), *columns])
    scale = np.maximum(np.abs(matrix).max(axis=0), 1e-300)
    solution, *_ = np.linalg.lstsq(matrix / scale, x, rcond=1e-10)
    left = x - (matrix / scale) @ solution
    return bool(float(left @ left) < tolerance)


def _far_from(
    table: PieceTable,
    factors: Sequence[str],
    x: NDArray[np.float64],
    rows: NDArray[np.bool_],
) -> bool:
    """Tell from a part of many rows that the factors do not determine the level.

    What is left over a part is never more than what is left over all.
    """
    at = np.flatnonzero(rows)
    if len(at) <= 2 * _ENOUGH_ROWS:
        return False
    part = at[:: len(at) // _ENOUGH_ROWS]
    columns = []
    for factor in factors:
        # As a quantity and as levels: the part does not tell which of them it is.
        if factor in table.number:
            columns.append(table.number[factor][part, None])
        levels = table.levels(factor).taken(part)
        if 1 < len(levels.names) <= SPAN_LEVELS:
            columns.append(levels.columns())
    if not all(np.isfinite(one).all() for one in columns):
        return False
    return not _spans(columns, x[part], 1e-9 * len(at))


def joint_alias(
    table: PieceTable,
    factors: Sequence[str],
    x: NDArray[np.float64],
    levels: tuple[str, str],
) -> tuple[Alias, ...]:
    r"""Find factors that together, though none alone, determine the compared one.

    The compared level must lie in the span of their effects, with pours to spare.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "a,1,0\nb,0,1\nc,0,0\na,1,0\nb,0,1\nc,0,0\n"
    >>> lines = [f"{n},{n},{row}" for n, row in enumerate(rows.split())]
    >>> table = read_table("\n".join(["piece,pour,mix,oil,wax", *lines]))
    >>> x = np.array([1.0, 1, 0, 1, 1, 0])
    >>> [alias.factor for alias in joint_alias(table, ("oil", "wax"), x, ("s", "o"))]
    ['oil', 'wax']
    """
    rows = np.ones(len(table), dtype=bool)
    usable = [f for f in factors if table.levels(f).known.sum() * 2 >= len(table)]
    for factor in usable:
        rows &= table.levels(factor).known
    if _far_from(table, usable, x, rows):
        return ()
    columns = {f: _dummies(table, f, rows) for f in usable}
    found = {f: c for f, c in columns.items() if c is not None}
    side = x[rows]
    if len(found) < TWO or not 0 < side.sum() < len(side):
        return ()
    tolerance = 1e-9 * len(side)
    if not _spans(list(found.values()), side, tolerance):
        return ()
    # Leave the fewest: what the others can do without is no part of the tangle.
    for factor in list(found):
        rest = [c for f, c in found.items() if f != factor]
        if rest and _spans(rest, side, tolerance):
            del found[factor]
    pours = len(table.levels("pour").taken(rows).names)
    # The intercept and a pour to spare: as many free numbers as pours span anything.
    if len(found) < TWO or sum(c.shape[1] for c in found.values()) + 2 > pours:
        return ()
    return together(tuple(found), levels)


def find_aliases(
    table: PieceTable,
    by: str,
    x: NDArray[np.float64],
    levels: tuple[str, str],
    within: Sequence[str] = (),
) -> tuple[Alias, ...]:
    r"""Return every recorded factor that cannot be told from the compared one.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix\n1,A,C25\n2,B,C25\n3,C,C40\n4,D,C40\n")
    >>> x = np.array([1.0, 1, 0, 0])
    >>> [alias.factor for alias in find_aliases(table, "oil", x, ("a", "b"))]
    ['mix']
    """
    names = candidates(table, by)
    when = time_alias(table, x, levels)
    alone = [
        alias
        for name in dict.fromkeys((*names, *within))
        if (alias := alias_of(table, name, x, levels, strict=name in within))
    ]
    if when is not None:
        alone.append(when)
    if alone:
        return tuple(alone)
    return joint_alias(table, names, x, levels)


def time_alias(
    table: PieceTable, x: NDArray[np.float64], levels: tuple[str, str]
) -> Alias | None:
    r"""Tell whether one level was all cast before the other.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},2026-01-0{n}" for n in range(1, 9)]
    >>> table = read_table("\n".join(["piece,pour,cast_on", *rows]))
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> time_alias(table, x, ("tape", "none")).factor
    'cast_on'
    """
    if TIME not in table.text or not table.levels(TIME).known.all():
        return None
    days = table.levels(TIME).code
    first, second = days[x > 0], days[x == 0]
    if not len(first) or not len(second):
        return None
    before, after = levels
    if first.min() > second.max():
        before, after = after, before
    elif second.min() <= first.max():
        return None
    pours = table.levels("pour").code
    few = min(len(np.unique(pours[x == side])) for side in (1.0, 0.0))
    if few < LEAST_POURS:
        return None
    return in_time(levels, before, after)


def assigned_to(
    table: PieceTable, factor: str, x: NDArray[np.float64]
) -> tuple[int, int] | None:
    r"""Return how many levels of a factor each side had, if none had both.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,form\n1,A,F1\n2,A,F2\n3,B,F1\n4,B,F2\n")
    >>> assigned_to(table, "form", np.array([1.0, 0, 1, 0]))
    (1, 1)
    """
    if factor not in table.text or not table.levels(factor).known.all():
        return None
    first, second = _sides(table.levels(factor), x)
    return None if first & second else (len(first), len(second))
