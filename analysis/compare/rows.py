"""Which pieces are compared: levels, photos of a piece, like with like, zeros."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.design import codes, label_codes
from analysis.compare.level_words import first_large
from analysis.compare.levels import choose_levels
from analysis.errors import TableError
from analysis.model.comparison import OUTCOMES
from analysis.model.field_words import column_words
from analysis.model.notes import note
from analysis.pieces.likeness import ONE_ONLY, first_choice
from analysis.pieces.pooling import pieces_of, pooled
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.comparison import CompareOptions, PieceTable
    from analysis.model.notes import Note

FLAT = "flat"  # a word about light that is got from the shading inside voids
PLAIN = "plain"
LIKE_LIGHT = "light"
RESULTS = frozenset({*OUTCOMES, "piece", "void_count", "face_area_mm2"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """Pieces with a known outcome, pour and level.

    Attributes
    ----------
    table : PieceTable
        One row per piece.
    value : ndarray of float64, (n,)
        The outcome in its own unit.
    notes : tuple of Note
        What was left out.
    """

    table: PieceTable
    value: NDArray[np.float64]
    notes: tuple[Note, ...]

    def taken(self, rows: NDArray[np.bool_], *notes: Note) -> Chosen:
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
    >>> from analysis.pieces.table import read_table
    >>> column_checked(read_table("piece,pour,mix\n1,A,C25\n"), "mix")
    'mix'
    """
    if name not in table.text:
        given = ", ".join(table.text)
        msg = f"There is no factor {name!r} in the table: take one of {given}."
        raise TableError(msg)
    return name


def first_level(
    table: PieceTable, by: str, levels: tuple[str, str]
) -> NDArray[np.float64]:
    r"""Return 1 where a piece has the first of two levels, else 0.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix\n1,A,C25\n2,B,C40\n")
    >>> first_level(table, "mix", ("C40", "C25")).tolist()
    [0.0, 1.0]
    """
    found = table.levels(by)
    return found.where(found.names == levels[0]).astype(np.float64)


def outcome_values(table: PieceTable, outcome: str) -> NDArray[np.float64]:
    r"""Return the outcome of each row in its own unit, NaN where unknown.

    Raises
    ------
    TableError
        The table has no such column.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
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
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,1\n2,B,C40,2\n3,C,,2\n"
    ... )
    >>> chosen, levels = choose(table, CompareOptions(by="mix"))
    >>> chosen.value.tolist(), levels, chosen.notes[0].values
    ([1.0, 2.0], ('C25', 'C40'), (('pieces', 1), ('name', 'mix')))
    """
    _asked_checked(table, options)
    # Of the whole piece: a count is not known where that of one photo is not.
    _, of_row = pieces_of(table)
    values = outcome_values(pooled(table), options.outcome)[of_row]
    levels = choose_levels(table, options)
    notes: list[Note] = []
    keep = np.ones(len(table), dtype=bool)
    for gone, name in (
        (~table.levels(options.by).known, options.by),
        (np.isnan(values), options.outcome),
        *(
            (~table.levels(name).known, name)
            for name in ("pour", *options.within, *(options.adjust_for or ()))
        ),
    ):
        lost = int((gone & keep).sum())
        if lost:
            notes.append(note("unknown", pieces=lost, name=name))
        keep &= ~gone
    of_level = table.levels(options.by)
    other = keep & ~of_level.where(np.isin(of_level.names, levels))
    if options.by == JOINTS_SEALED and other.any():
        notes.append(note("both_sealings", pieces=int(other.sum())))
    keep &= ~other
    one = outer_light(pooled(table.taken(keep), alike=(options.by,)))
    if len(one) < keep.sum():
        notes.append(note("photos_joined", photos=int(keep.sum()), pieces=len(one)))
    return (
        Chosen(
            table=one, value=outcome_values(one, options.outcome), notes=tuple(notes)
        ),
        levels,
    )


def outer_light(table: PieceTable) -> PieceTable:
    r"""Take out of the light what is told from the voids themselves.

    Whether light is flat is seen by the shading inside voids, so it is told only
    where there are some: a level with fewer voids would seem to have other light.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,light\n1,A,flat_light+uneven_light\n2,A,plain\n")
    >>> outer_light(table).text["light"].tolist()
    ['uneven_light', 'plain']
    """
    if LIKE_LIGHT not in table.text:
        return table
    words = {
        cell: "+".join(p for p in cell.split("+") if FLAT not in p.casefold())
        for cell in table.levels(LIKE_LIGHT).names.tolist()
    }
    if words == {cell: cell for cell in words}:
        return table
    others = sorted({left for left in words.values() if left} - {""})
    usual = PLAIN if PLAIN in others or not others else others[0]
    cleaned = np.array(
        [words[cell] or (usual if cell else "") for cell in table.text[LIKE_LIGHT]]
    )
    return replace(table, text={**table.text, LIKE_LIGHT: cleaned})


def _asked_checked(table: PieceTable, options: CompareOptions) -> None:
    """Refuse columns that are not there, that are results, or that are named twice."""
    if not len(table):
        msg = "There is no piece to compare yet: measure one and save it with its pour."
        raise TableError(msg)
    others = (*options.within, *(options.adjust_for or ()))
    for name in (options.by, *others):
        column_checked(table, name)
        if name in RESULTS or (name == "pour" and name == options.by):
            msg = (
                f"{first_large(column_words(name))} is no setting that was chosen: "
                f"compare by one that was."
            )
            raise TableError(msg)
    if options.by in others:
        msg = (
            f"{first_large(column_words(options.by))} is what is compared: leave it "
            f"out of the other factors."
        )
        raise TableError(msg)


def one_stage(chosen: Chosen, by: str, x: NDArray[np.float64]) -> NDArray[np.bool_]:
    r"""Tell which pieces share one stage and one method_version.

    As struck comes first if it holds both levels, else the value with most pieces.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "1,A,filled\n2,A,as struck\n3,B,as struck\n"
    >>> table = read_table("piece,pour,stage\n" + rows)
    >>> pieces = Chosen(table=table, value=np.ones(3), notes=())
    >>> one_stage(pieces, "mix", np.array([1.0, 1, 0])).tolist()
    [False, True, True]
    """
    keep = np.ones(len(x), dtype=bool)
    for name in ONE_ONLY:
        if name not in chosen.table.text or name == by:
            continue
        levels = chosen.table.levels(name).taken(keep)
        share = np.bincount(levels.code, x[keep]) / np.bincount(levels.code)
        both = levels.names[(share > 0) & (share < 1)].tolist()
        if both:
            cells = chosen.table.text[name]
            keep &= cells == first_choice(cells[keep], both)
    return keep


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
    # Words are joined once for each combination, not for each row. Numbers follow the
    # order of the names.
    way = codes(*map(label_codes, columns))
    _, first = np.unique(way, return_index=True)
    joined = [", ".join(row) for row in zip(*(c[first] for c in columns), strict=True)]
    names, place = np.unique(np.array(joined, dtype=np.str_), return_inverse=True)
    number = place.reshape(-1).astype(np.int64)[way]
    return number, names[number]


def left_out_stage(table: PieceTable, keep: NDArray[np.bool_]) -> Note:
    r"""Note which pieces are left out for their stage or method of measuring.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,stage\n1,A,filled\n2,A,as struck\n")
    >>> left_out_stage(table, np.array([False, True])).values
    (('left_out', (('stage', 1, ('filled',)),)),)
    """
    left_out = []
    for name in ("stage", "method_version"):
        if name in table.text:
            kept = set(table.text[name][keep].tolist())
            gone = [one for one in table.text[name][~keep].tolist() if one not in kept]
            if gone:
                left_out.append((name, len(gone), tuple(sorted(set(gone)))))
    return note("other_stage", left_out=tuple(left_out))
