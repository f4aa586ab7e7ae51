"""Levels, outcomes and figures of a comparison in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.field_words import cell_words, column_words
from analysis.model.sizes import ratio_words
from analysis.pieces.sealing import JOINTS_SEALED, NOT_SEALED
from analysis.vocabulary import MIXED, NONE

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PairResult

OUTCOME_WORDS = {
    "void_area_percent": "void area",
    "voids_per_m2": "number of voids",
    "largest_void_mm": "largest void",
    "joint_band_percent": "void area along the joints",
    "open_face_percent": "void area away from the joints",
    "honeycomb_percent": "honeycomb",
    "sand_length_mm": "length of joint with bare sand",
    "fin_length_mm": "length of joint with a fin",
    "arris_loss_mm2_per_m": "face broken off the arris",
    "repair_minutes": "repair time",
}
COUNTED_AS = {
    "vibration_s": "{} s of vibration",
    "strokes": "{} strokes",
    "passes": "{} passes",
}
SEALED = {"yes": "sealed joints", "no": "open joints", "mixed": "mixed joints"}


def level_words(by: str, level: str) -> str:
    """Name a level so that it can stand in a sentence.

    Examples
    --------
    >>> level_words("joints_sealed", "yes"), level_words("joint_sealing", "tape")
    ('sealed joints', 'joints sealed with tape')
    >>> level_words("vibration_s", "60"), level_words("release_agent", "none")
    ('60 s of vibration', 'no release agent')
    >>> level_words("light", "uneven_light"), level_words("stage", "as_struck")
    ('uneven light', 'stage as struck')
    """
    if by == JOINTS_SEALED:
        return SEALED.get(level, level)
    if by == "joint_sealing" and level.casefold() != MIXED:
        open_ones = level.casefold() in NOT_SEALED
        return SEALED["no"] if open_ones else f"joints sealed with {level}"
    said = cell_words(by, level)
    if by == "light":
        return said if "light" in said else f"{said} light"
    plain = column_words(by)
    if level.casefold() == NONE:
        return f"no {plain}"
    if by in COUNTED_AS:
        return COUNTED_AS[by].format(level)
    return f"{plain} {said}"


def first_large(text: str) -> str:
    """Begin with a capital letter.

    Examples
    --------
    >>> first_large("open joints")
    'Open joints'
    """
    return text[:1].upper() + text[1:]


def figures_sentence(comparison: Comparison, pair: PairResult | None = None) -> str:
    r"""Say the figures behind an answer: ratio, interval and counts.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> figures_sentence(compare(table, CompareOptions(by="mix")))
    'Mix C25: 0.71 times the void area of mix C40; 1 piece in 1 pour against 1 in 1.'
    """
    shown = pair or comparison.head
    what = OUTCOME_WORDS[comparison.outcome]
    first, second = shown.groups
    names = [level_words(comparison.by, group.name) for group in shown.groups]
    pieces = "piece" if first.n_pieces == 1 else "pieces"
    pours = "pour" if first.n_pours == 1 else "pours"
    counts = (
        f"{first.n_pieces} {pieces} in {first.n_pours} {pours} against "
        f"{second.n_pieces} in {second.n_pours}."
    )
    if shown.ratio is None:
        start = f"{names[0]} against {names[1]}: nothing to compare yet"
    else:
        start = f"{names[0]}: {ratio_words(shown.ratio)} times the {what} of {names[1]}"
    if shown.ratio_low is not None and shown.ratio_high is not None:
        start += (
            f", 95 % {ratio_words(shown.ratio_low)} to {ratio_words(shown.ratio_high)}"
        )
    return f"{first_large(start)}; {counts}"
