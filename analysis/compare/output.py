"""A comparison as it leaves the room: the keys and the table the outside sees."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.note_words import note_words, pair_notes

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PairResult


def _pair_keys(pair: PairResult) -> dict[str, object]:
    return {
        "unit": pair.unit,
        "levels": list(pair.levels),
        "estimate_ratio": pair.ratio,
        "ratio_of_geometric_means": pair.geometric_ratio,
        "ratio_low": pair.ratio_low,
        "ratio_high": pair.ratio_high,
        "p_value": pair.p_value,
        "method": note_words(pair.method),
        "groups": [
            {
                "name": group.name,
                "n_pieces": group.n_pieces,
                "n_pours": group.n_pours,
                "geometric_mean_percent": group.geometric_mean,
            }
            for group in pair.groups
        ],
        "verdict": pair.verdict,
        "verdict_unadjusted": pair.verdict_unadjusted,
        "adjusted_for": list(pair.adjusted_for),
        "dealt": pair.dealt,
        "inseparable_from": [alias.factor for alias in pair.aliases],
        "pieces_needed": pair.pieces_needed,
        "pours_needed": pair.pours_needed,
        "notes": list(pair_notes(pair)),
    }


def comparison_keys(comparison: Comparison) -> dict[str, object]:
    r"""Return a comparison as a dictionary that JSON can hold.

    With more than two levels the head line is the first against the second, its p
    adjusted like all others; every pair stands in ``pairs``.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> keys = comparison_keys(compare(table, CompareOptions(by="mix")))
    >>> keys["verdict"], keys["levels"], keys["pairs"]
    ('not_enough_evidence', ['C25', 'C40'], [])
    """
    keys = _pair_keys(comparison.head)
    several = len(comparison.levels) > 2  # noqa: PLR2004
    keys["levels"] = list(comparison.levels)
    keys["pairs"] = [_pair_keys(pair) for pair in comparison.pairs] if several else []
    notes = [*pair_notes(comparison.head), *map(note_words, comparison.notes)]
    if several:
        first, second = comparison.head.levels
        notes.insert(0, f"The head line is {first} against {second}; see pairs.")
    keys["notes"] = notes
    return keys


def comparison_table(
    comparison: Comparison,
) -> tuple[tuple[str, ...], list[list[str | float | None]]]:
    r"""Return the pieces behind a comparison: column names and rows.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> names, rows = comparison_table(compare(table, CompareOptions(by="mix")))
    >>> names
    ('piece', 'pour', 'mix', 'compared_within', 'void_area_percent', 'used')
    >>> rows[0]
    ['1', 'A', 'C25', '', 0.5, 'yes']
    """
    shown = comparison.pieces
    columns = (shown.piece, shown.pour, shown.level, shown.stratum, shown.value)
    used = ["yes" if one else "no" for one in shown.used]
    rows = zip(*(column.tolist() for column in columns), used, strict=True)
    names = ("piece", "pour", comparison.by, "compared_within", comparison.outcome)
    return (*names, "used"), [list(row) for row in rows]
