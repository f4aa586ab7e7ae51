"""Which pieces are compared: levels, photos of a piece, like with like, zeros."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.design import codes, label_codes
from analysis.compare.levels import choose_levels
from analysis.compare.table import JOINTS_SEALED
from analysis.errors import TableError
from analysis.model.comparison import OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.comparison import CompareOptions, PieceTable

LIKE_STAGE = ("stage", "method_version")  # one of these only
LIKE_LIGHT = "light"  # compared inside each
AS_STRUCK = ("as struck", "as_struck", "as-struck")
SMALLEST_ALIKE = 1.5  # smallest counted sizes this near are one
RESULTS = frozenset({*OUTCOMES, "piece", "void_count", "face_area_mm2"})
LEAST_SEEN = 1e-9  # no face holds so small a share of anything: it is a zero
SHARES = (
    "void_area_percent",
    "joint_band_percent",
    "open_face_percent",
    "honeycomb_percent",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """Pieces with a known outcome, pour and level.

    Attributes
    ----------
    table : PieceTable
        One row per piece.
    value : ndarray of float64, (n,)
        The outcome in its own unit.
    notes : tuple of str
        What was left out.
    """

    table: PieceTable
    value: NDArray[np.float64]
    notes: tuple[str, ...]

    def taken(self, rows: NDArray[np.bool_], *notes: str) -> Chosen:
        """Return some of the pieces."""
        return Chosen(
            table=self.table.taken(rows),
            value=self.value[rows],
            notes=(*self.notes, *notes),
        )


def column_checked(table: PieceTable, name: str) -> str:
    r"""Return the name of a column that is there.

    Raises
    ------
    TableError
        It is not.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> column_checked(read_table("piece,pour,mix\n1,A,C25\n"), "mix")
    'mix'
    """
    if name not in table.text:
        given = ", ".join(table.text)
        msg = f"There is no factor {name!r} in the table: take one of {given}."
        raise TableError(msg)
    return name


def outcome_values(table: PieceTable, outcome: str) -> NDArray[np.float64]:
    r"""Return the outcome of each row in its own unit, NaN where unknown.

    Raises
    ------
    TableError
        The table has no such column.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> table = read_table("piece,pour,void_count,face_area_mm2\n1,A,3,60000\n")
    >>> outcome_values(table, "voids_per_m2").tolist()
    [50.0]
    """
    if outcome == "voids_per_m2":
        for name in ("void_count", "face_area_mm2"):
            column_checked(table, name)
        per_m2 = table.number["void_count"] / table.number["face_area_mm2"] * 1e6
        return np.asarray(per_m2)
    return table.number[column_checked(table, outcome)]


def pooled(table: PieceTable, by: str) -> PieceTable:
    r"""Pool several photos of one piece, shares by area, counts and areas by sum.

    Rows are photos of one piece where piece, pour, stage and method_version agree.

    Raises
    ------
    TableError
        Two photos of a piece disagree about the compared factor.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> head = "piece,pour,mix,void_area_percent,face_area_mm2\n"
    >>> table = read_table(head + "1,A,C25,0.2,1000\n1,A,C25,0.5,2000\n")
    >>> pooled(table, "mix").number["void_area_percent"].round(3).tolist()
    [0.4]
    """
    names = [n for n in ("pour", "piece", *LIKE_STAGE) if n in table.text]
    unnamed = np.where(table.text["piece"] == "", table.line, 0)
    key = codes(unnamed, *(label_codes(table.text[name]) for name in names))
    _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
    if len(first) == len(table):
        return table
    differs = table.text[by] != table.text[by][first][inverse]
    if differs.any():
        row = int(np.argmax(differs))
        msg = (
            f"Line {table.line[row]}: piece {table.text['piece'][row]} of pour "
            f"{table.text['pour'][row]} has {by} {table.text[by][row]!r} here and "
            f"{table.text[by][first][inverse][row]!r} before: give it one."
        )
        raise TableError(msg)
    return _merged(table, first, inverse)


def _merged(
    table: PieceTable, first: NDArray[np.int64], inverse: NDArray[np.int64]
) -> PieceTable:
    area = table.number.get("face_area_mm2", np.ones(len(table)))
    weight = np.where(np.isnan(area), 1.0, area)
    merged = table.taken(first)
    number = dict(merged.number)
    groups = len(first)
    for name, values in table.number.items():
        known = ~np.isnan(values)
        if name in {"face_area_mm2", "void_count"}:
            some = np.bincount(inverse, known, groups) > 0
            total = np.bincount(inverse, np.where(known, values, 0.0), groups)
            number[name] = np.where(some, total, np.nan)
        elif name in SHARES:
            share = np.where(known, weight, 0.0)
            whole = np.bincount(inverse, share, groups)
            total = np.bincount(inverse, share * np.where(known, values, 0.0), groups)
            number[name] = np.where(
                whole > 0, total / np.where(whole > 0, whole, 1), np.nan
            )
        elif name in {"largest_void_mm", "smallest_counted_mm"}:
            most = np.full(groups, -np.inf)
            np.maximum.at(most, inverse[known], values[known])
            number[name] = np.where(np.isfinite(most), most, np.nan)
    return replace(merged, number=number)


def choose(
    table: PieceTable, options: CompareOptions
) -> tuple[Chosen, tuple[str, ...]]:
    r"""Return the pieces that can be compared, and the levels.

    Raises
    ------
    TableError
        A factor or the outcome is missing, or there are not two levels.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,1\n2,B,C40,2\n3,C,,2\n"
    ... )
    >>> chosen, levels = choose(table, CompareOptions(by="mix"))
    >>> chosen.value.tolist(), levels, chosen.notes[0]
    ([1.0, 2.0], ('C25', 'C40'), 'Left out: 1 piece with mix not known.')
    """
    _asked_checked(table, options)
    values = outcome_values(table, options.outcome)
    levels = choose_levels(table, options)
    notes: list[str] = []
    keep = np.ones(len(table), dtype=bool)
    for gone, words in (
        (table.text[options.by] == "", f"{options.by} not known"),
        (np.isnan(values), f"{options.outcome} not known"),
        (table.text["pour"] == "", "pour not known"),
        *((table.text[name] == "", f"{name} not known") for name in options.within),
        *((table.text[name] == "", f"{name} not known") for name in options.adjust_for),
    ):
        lost = int((gone & keep).sum())
        if lost:
            notes.append(f"Left out: {lost} {_pieces(lost)} with {words}.")
        keep &= ~gone
    other = keep & ~np.isin(table.text[options.by], levels)
    if options.by == JOINTS_SEALED and other.any():
        lost = int(other.sum())
        notes.append(
            f"Left out: {lost} {_pieces(lost)} with both sealed and open joints; "
            f"compare the joints inside the piece."
        )
    keep &= ~other
    one = pooled(table.taken(keep), options.by)
    if len(one) < keep.sum():
        notes.append(
            f"{int(keep.sum())} photos were pooled to {len(one)} pieces by area."
        )
    return (
        Chosen(
            table=one, value=outcome_values(one, options.outcome), notes=tuple(notes)
        ),
        levels,
    )


def _asked_checked(table: PieceTable, options: CompareOptions) -> None:
    """Refuse columns that are not there, that are results, or that are named twice."""
    if not len(table):
        msg = "There is no piece to compare yet: measure one and save it with its pour."
        raise TableError(msg)
    others = (*options.within, *options.adjust_for)
    for name in (options.by, *others):
        column_checked(table, name)
        if name in RESULTS or (name == "pour" and name == options.by):
            msg = f"{name} is no setting that was chosen: compare by one that was."
            raise TableError(msg)
    if options.by in others:
        msg = f"{options.by} is what is compared: leave it out of the other factors."
        raise TableError(msg)


def _pieces(count: int) -> str:
    return "piece" if count == 1 else "pieces"


def one_stage(chosen: Chosen, by: str, x: NDArray[np.float64]) -> NDArray[np.bool_]:
    r"""Tell which pieces share one stage and one method_version.

    As struck comes first if it holds both levels, else the value with most pieces.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> rows = "1,A,filled\n2,A,as struck\n3,B,as struck\n"
    >>> table = read_table("piece,pour,stage\n" + rows)
    >>> pieces = Chosen(table=table, value=np.ones(3), notes=())
    >>> one_stage(pieces, "mix", np.array([1.0, 1, 0])).tolist()
    [False, True, True]
    """
    keep = np.ones(len(x), dtype=bool)
    for name in LIKE_STAGE:
        if name not in chosen.table.text or name == by:
            continue
        cells = chosen.table.text[name]
        both = [
            value
            for value in np.unique(cells[keep]).tolist()
            if 0 < x[keep & (cells == value)].mean() < 1
        ]
        if both:
            best = max(
                both,
                key=lambda value: (
                    value.casefold() in AS_STRUCK,
                    int((keep & (cells == value)).sum()),
                ),
            )
            keep &= cells == best
    return keep


def size_class(smallest: NDArray[np.float64]) -> NDArray[np.int64]:
    """Sort smallest counted sizes into numbered classes; 0 is unknown.

    Examples
    --------
    >>> size_class(np.array([0.5, 0.6, 2.0, np.nan])).tolist()
    [1, 1, 2, 0]
    """
    classes = np.zeros(len(smallest), dtype=np.int64)
    start, number = 0.0, 0
    for size in np.unique(smallest[~np.isnan(smallest)]).tolist():
        if number == 0 or size > SMALLEST_ALIKE * start:
            start, number = size, number + 1
        classes[smallest == size] = number
    return classes


def like_columns(chosen: Chosen, by: str) -> dict[str, NDArray[np.str_]]:
    r"""Return what must be alike and is not: light and the smallest counted size.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> table = read_table("piece,pour,light\n1,A,lamp\n2,A,sky\n")
    >>> list(like_columns(Chosen(table=table, value=np.ones(2), notes=()), "mix"))
    ['light']
    """
    columns: dict[str, NDArray[np.str_]] = {}
    if LIKE_LIGHT in chosen.table.text and by != LIKE_LIGHT:
        columns[LIKE_LIGHT] = chosen.table.text[LIKE_LIGHT]
    sizes = chosen.table.number.get("smallest_counted_mm")
    if sizes is not None and by != "smallest_counted_mm":
        columns["smallest_counted_mm"] = size_class(sizes).astype(np.str_)
    return {name: cells for name, cells in columns.items() if len(np.unique(cells)) > 1}


def zero_value(chosen: Chosen, outcome: str) -> float:
    r"""Return what stands for zero, in the unit of the outcome.

    Half the share of one void of the smallest counted size on the median face,
    where these are known; half of the smallest positive value otherwise.

    Examples
    --------
    >>> from analysis.compare.table import read_table
    >>> table = read_table("piece,pour\n1,A\n2,A\n")
    >>> zero_value(Chosen(table=table, value=np.array([0, 0.4]), notes=()), "x")
    0.2
    """
    positive = chosen.value[chosen.value > LEAST_SEEN]
    least = float(positive.min()) / 2 if len(positive) else 1.0
    smallest = chosen.table.number.get("smallest_counted_mm")
    if smallest is None or np.isnan(smallest).all():
        return least
    size = float(np.nanmax(smallest))
    if outcome == "largest_void_mm":
        return size / 2
    area = chosen.table.number.get("face_area_mm2")
    if outcome not in SHARES or area is None or np.isnan(area).all():
        return least
    return 100 * np.pi * size**2 / 4 / float(np.nanmedian(area)) / 2


def strata_of(
    columns: Sequence[NDArray[np.str_]], count: int
) -> tuple[NDArray[np.int64], NDArray[np.str_]]:
    """Give the strata numbers and names.

    Examples
    --------
    >>> codes, names = strata_of([np.array(["pot", "pot", "bench"])], 3)
    >>> codes.tolist(), names.tolist()
    ([1, 1, 0], ['pot', 'pot', 'bench'])
    """
    if not columns:
        return np.zeros(count, dtype=np.int64), np.full(count, "")
    names = np.array([", ".join(row) for row in zip(*columns, strict=True)])
    _, codes = np.unique(names, return_inverse=True)
    return codes.astype(np.int64).reshape(-1), names
