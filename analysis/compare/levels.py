"""Which levels of a factor are compared, and in what order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import first_large, level_words
from analysis.errors import TableError
from analysis.model.field_words import column_words
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.comparison import CompareOptions, PieceTable

MOST_LEVELS = 12
LAST = ("no", "none", "open", "unsealed", "without")


def levels_in_order(cells: NDArray[np.str_]) -> tuple[str, ...]:
    """Return the levels that occur: numbers by size, 'none' and its like last.

    Examples
    --------
    >>> import numpy as np
    >>> levels_in_order(np.array(["none", "tape", "caulk"]))
    ('caulk', 'tape', 'none')
    """
    levels = sorted({cell for cell in cells.tolist() if cell})

    def rank(level: str) -> tuple[bool, float, str]:
        try:
            size = float(level)
        except ValueError:
            size = 0.0
        return level.casefold() in LAST, size, level.casefold()

    return tuple(sorted(levels, key=rank))


def _spelling(level: str) -> str:
    """Return one spelling for levels that are meant alike: 60, 60.0; Tape, tape."""
    try:
        return f"{float(level):g}"
    except ValueError:
        return " ".join(level.casefold().split())


def choose_levels(table: PieceTable, options: CompareOptions) -> tuple[str, ...]:
    r"""Return the levels to compare.

    Raises
    ------
    TableError
        A level asked for does not occur, fewer than two occur, or too many.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix\n1,A,C25\n2,B,C40\n")
    >>> choose_levels(table, CompareOptions(by="mix"))
    ('C25', 'C40')
    """
    found = levels_in_order(table.levels(options.by).names)
    if options.by == JOINTS_SEALED and not options.levels and {"yes", "no"} <= {*found}:
        return "yes", "no"  # a piece with both kinds of joints is neither
    if options.levels:
        spelled = {_spelling(level): level for level in found}
        chosen = []
        for level in options.levels:
            key = _spelling(level)
            if key not in spelled:
                msg = (
                    f"No piece has {column_words(options.by)} {level!r}: "
                    f"take from {', '.join(found) or 'a table that has levels'}."
                )
                raise TableError(msg)
            if spelled[key] in chosen:
                msg = f"The level {spelled[key]!r} is named twice: name two levels."
                raise TableError(msg)
            chosen.append(spelled[key])
        return tuple(chosen)
    if len(found) < 2:  # noqa: PLR2004
        tried = "no measured piece tells it: cast two kinds and note which"
        if found:
            only = level_words(options.by, found[0])
            tried = f"nothing but {only} was tried: cast a second kind"
        msg = (
            f"{first_large(column_words(options.by))} cannot be compared, since "
            f"{tried}, best in the same pour."
        )
        raise TableError(msg)
    if len(found) > MOST_LEVELS:
        msg = (
            f"{first_large(column_words(options.by))} has {len(found)} different "
            f"values: "
            f"name the two to compare as levels."
        )
        raise TableError(msg)
    return found
