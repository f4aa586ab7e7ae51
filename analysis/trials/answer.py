"""A comparison in the words and keys the outside sees."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.trials import Comparison, PairResult


def _pair_keys(pair: PairResult) -> dict[str, object]:
    return {
        "unit": pair.unit,
        "levels": list(pair.levels),
        "estimate_ratio": pair.ratio,
        "ratio_low": pair.ratio_low,
        "ratio_high": pair.ratio_high,
        "p_value": pair.p_value,
        "method": pair.method,
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
        "inseparable_from": [alias.factor for alias in pair.aliases],
        "pieces_needed": pair.pieces_needed,
        "pours_needed": pair.pours_needed,
        "notes": list(pair.notes),
    }


def comparison_keys(comparison: Comparison) -> dict[str, object]:
    r"""Return a comparison as a dictionary that JSON can hold.

    With more than two levels the head line is the first against the second, its p
    adjusted like all others; every pair stands in ``pairs``.

    Examples
    --------
    >>> from analysis.model.trials import CompareOptions
    >>> from analysis.trials.compare import compare
    >>> from analysis.trials.table import read_table
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
    notes = [*comparison.head.notes, *comparison.notes]
    if several:
        first, second = comparison.head.levels
        notes.insert(0, f"The head line is {first} against {second}; see pairs.")
    keys["notes"] = notes
    return keys


def sentence(comparison: Comparison, pair: PairResult | None = None) -> str:
    r"""Say the answer in one sentence, numbers and counts included.

    Examples
    --------
    >>> from analysis.model.trials import CompareOptions
    >>> from analysis.trials.compare import compare
    >>> from analysis.trials.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> sentence(compare(table, CompareOptions(by="mix")))
    'mix C25: 0.71 times the void area of C40; 1 piece in 1 pour against 1 in 1.'
    """
    shown = pair or comparison.head
    what = {
        "void_area_percent": "void area",
        "voids_per_m2": "number of voids",
        "largest_void_mm": "largest void",
        "joint_band_percent": "void area along the joints",
        "open_face_percent": "void area away from the joints",
        "honeycomb_percent": "honeycomb",
        "repair_minutes": "repair time",
    }[comparison.outcome]
    first, second = shown.groups
    pieces = "piece" if first.n_pieces == 1 else "pieces"
    pours = "pour" if first.n_pours == 1 else "pours"
    counts = (
        f"{first.n_pieces} {pieces} in {first.n_pours} {pours} against "
        f"{second.n_pieces} in {second.n_pours}."
    )
    if shown.ratio is None:
        return f"{comparison.by}: nothing to compare yet; {counts}"
    start = (
        f"{comparison.by} {first.name}: {shown.ratio:.2f} times the {what} of "
        f"{second.name}"
    )
    if shown.ratio_low is not None and shown.ratio_high is not None:
        start += f", 95 % {shown.ratio_low:.2f} to {shown.ratio_high:.2f}"
    return f"{start}; {counts}"
