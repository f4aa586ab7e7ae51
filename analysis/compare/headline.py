"""The headline of a comparison: its codes and values, and its words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.level_words import (
    OUTCOME_WORDS,
    figures_sentence,
    first_large,
    level_words,
)
from analysis.model.field_words import column_words
from analysis.model.headline import Headline
from analysis.model.sizes import (
    SMALL_PART,
    TIMES_FROM,
    against,
    change,
    interval,
    is_part,
)
from analysis.model.writing import all_of
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    from analysis.model.comparison import Alias, Comparison, PairResult

# How a setting is held: cast from a form, of a form type, with anything else.
PLACES = {"form": "from", "form_type": "of", "product_line": "of"}
FEW = 2  # settings that are named where they were taken out


def headline_of(comparison: Comparison, pair: PairResult | None = None) -> Headline:
    r"""Return what an answer comes to, as a code with values.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> found = headline_of(compare(table, CompareOptions(by="mix")))
    >>> found.verdict, found.of_each
    ('not_enough_evidence', (1, 1))
    """
    shown = pair or comparison.head
    pieces, (first, second) = comparison.pieces, shown.groups
    mine = np.isin(pieces.level, shown.levels)
    in_pieces = shown.unit == "joint within piece"
    pours = len(np.unique(pieces.pour[mine & pieces.used]))
    return Headline(
        verdict=shown.verdict,
        by=comparison.by,
        outcome=comparison.outcome,
        levels=shown.levels,
        ratio=shown.ratio,
        low=shown.ratio_low,
        high=shown.ratio_high,
        counted=first.n_pieces if in_pieces else pours,
        in_pieces=in_pieces,
        of_each=(first.n_pours, second.n_pours),
        aliases=shown.aliases,
        adjusted_for=shown.adjusted_for,
        left_out=int((mine & ~pieces.used).sum()),
    )


def headline_sentence(line: Headline) -> str:
    """Say it: subject, direction, size, how sure, what was left out.

    Examples
    --------
    >>> said = Headline(verdict="lower", by="joints_sealed", levels=("yes", "no"),
    ...                 outcome="void_area_percent", ratio=0.48, low=0.42, high=0.56,
    ...                 counted=26)
    >>> headline_sentence(said)
    'Sealed joints had about half the void area of open ones (42 to 56 %), \
from 26 pours: clear.'
    """
    if line.verdict == "cannot_separate":
        return _cannot_say(line)
    first, second = _subjects(line)
    if line.verdict == "not_enough_evidence":
        what = OUTCOME_WORDS[line.outcome]
        pours = "pour" if line.of_each[0] == 1 else "pours"
        return (
            f"Can't say yet whether {first} and {second} differ in {what}: "
            f"{line.of_each[0]} {pours} against {line.of_each[1]}."
        )
    if line.verdict == "no_clear_difference" or line.ratio is None:
        return f"No clear difference between {first} and {second}{_spread(line)}."
    size = _size(line, line.ratio, second)
    return f"{first_large(first)} had {size}{_from(line)}: clear{_without(line)}."


def cause_sentence(pair: PairResult) -> str:
    """Say whether a clear difference can be put down to what was compared.

    Empty where there is no clear difference.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from analysis.model.comparison import GroupSummary, PairResult
    >>> from analysis.model.notes import note
    >>> one = GroupSummary(name="a", n_pieces=9, n_pours=9, geometric_mean=0.5)
    >>> pair = PairResult(unit="pour", levels=("a", "b"), ratio=0.5, ratio_low=0.4,
    ...                   ratio_high=0.6, p_value=0.01, method=note("no_method"),
    ...                   groups=(one, one), verdict="lower", dealt="by_lot")
    >>> cause_sentence(pair)
    'They were dealt by lot, so this made the difference.'
    >>> cause_sentence(replace(pair, dealt="not_by_lot"))
    'They were not dealt by lot, so what else differed may be the cause.'
    """
    if pair.verdict not in {"lower", "higher"}:
        return ""
    return {
        "by_lot": "They were dealt by lot, so this made the difference.",
        "not_by_lot": (
            "They were not dealt by lot, so what else differed may be the cause."
        ),
        "unknown": (
            "It is not noted whether they were dealt by lot, so what else differed "
            "may be the cause."
        ),
    }[pair.dealt]


def answer_lines(comparison: Comparison, pair: PairResult | None = None) -> list[str]:
    r"""Say an answer: the headline, what may be the cause, the figures.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> table = read_table(
    ...     "piece,pour,mix,void_area_percent\n1,A,C25,0.5\n2,B,C40,0.7\n"
    ... )
    >>> head, figures = answer_lines(compare(table, CompareOptions(by="mix")))
    >>> head.split(" differ")[0]
    "Can't say yet whether pieces with mix C25 and those with mix C40"
    >>> figures
    'Mix C25: 0.71 times the void area of mix C40; 1 piece in 1 pour against 1 in 1.'
    """
    shown = pair or comparison.head
    said = (
        headline_sentence(headline_of(comparison, shown)),
        cause_sentence(shown),
        figures_sentence(comparison, shown),
    )
    return [line for line in said if line]


def comparison_words(comparison: Comparison) -> str:
    """Say every pair of levels, a line each.

    Examples
    --------
    >>> from analysis.compare.compare import compare
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.pieces.table import piece_table
    >>> rows = [{"piece": n, "pour": n, "mix": kind, "void_area_percent": 0.5 + n}
    ...         for n, kind in enumerate(("A", "B", "C"))]
    >>> len(comparison_words(compare(piece_table(rows), CompareOptions(by="mix")))
    ...     .splitlines())
    3
    """
    return "\n".join(
        " ".join(answer_lines(comparison, pair)) for pair in comparison.pairs
    )


def _subjects(line: Headline) -> tuple[str, str]:
    """Name the two as they stand in a sentence, the second in short."""
    first, second = (level_words(line.by, name) for name in line.levels)
    if line.by in {JOINTS_SEALED, "joint_sealing"} and "joints" in first + second:
        if first.endswith(" joints") and second.endswith(" joints"):
            second = f"{second.removesuffix(' joints')} ones"
        return first, second
    place = PLACES.get(line.by, "with")
    return f"pieces {place} {first}", f"those {place} {second}"


def _size(line: Headline, ratio: float, second: str) -> str:
    """Say how much the first had, held against the second."""
    what = OUTCOME_WORDS[line.outcome]
    less, more = _comparatives(line.outcome)
    plain = SMALL_PART <= ratio < TIMES_FROM and not is_part(ratio)
    if line.outcome == "largest_void_mm" and plain:
        between = interval(line.low, line.high, less, more)
        return f"largest voids {change(ratio, less, more)} than {second}{between}"
    thing = "voids" if line.outcome == "voids_per_m2" else what
    return against(
        ratio, line.low, line.high, second, of=what, thing=thing, less=less, more=more
    )


def _comparatives(outcome: str) -> tuple[str, str]:
    return {
        "largest_void_mm": ("smaller", "larger"),
        "voids_per_m2": ("fewer", "more"),
    }.get(outcome, ("less", "more"))


def _spread(line: Headline) -> str:
    what = OUTCOME_WORDS[line.outcome]
    between = interval(line.low, line.high, *_comparatives(line.outcome))
    return f" in {what}{between}{_from(line)}{_without(line)}"


def _from(line: Headline) -> str:
    one = "piece" if line.in_pieces else "pour"
    return f", from {line.counted} {one}{'' if line.counted == 1 else 's'}"


def _without(line: Headline) -> str:
    """Say in half a sentence what was taken out, and which pieces were left out."""
    said = ""
    names = [_going_along(name) for name in line.adjusted_for]
    if len(names) > FEW:
        said = f", with {len(names)} other things taken out"
    elif names:
        said = f", with {all_of(names)} taken out"
    if line.left_out:
        many = "piece" if line.left_out == 1 else "pieces"
        said += f"; {line.left_out} {many} left out"
    return said


def _going_along(name: str) -> str:
    return "drift over time" if name == "cast_on" else column_words(name)


def _cannot_say(line: Headline) -> str:
    """Say what cannot be told from the factor, and what to cast."""
    sealing = line.by in {JOINTS_SEALED, "joint_sealing"}
    asked = "sealing" if sealing else column_words(line.by)
    start = f"Can't say it was the {asked}: "
    if len(line.aliases) == 1:
        return start + _one_alias(line, line.aliases[0])
    if any(alias.kind == "together" for alias in line.aliases):
        names = all_of([_going_along(alias.factor) for alias in line.aliases])
        return (
            f"{start}{names} together always went with it; cast both ways in one pour, "
            f"all else the same."
        )
    names = all_of(
        [
            "time" if alias.factor == "cast_on" else column_words(alias.factor)
            for alias in line.aliases
        ]
    )
    return (
        f"{start}{names} changed along with it; cast both ways in one pour, all else "
        f"the same."
    )


def _one_alias(line: Headline, alias: Alias) -> str:
    factor, first = alias.factor, _subjects(line)[0]
    second = level_words(line.by, line.levels[1])
    if line.by not in {JOINTS_SEALED, "joint_sealing"}:
        second = f"pieces {PLACES.get(line.by, 'with')} {second}"
    if alias.kind in {"before", "after"}:
        return (
            f"all {first} were cast {alias.kind} all {second}; cast both ways in one "
            f"pour."
        )
    name = column_words(factor)
    cure = "cast both ways in one form" if factor == "form" else ""
    cure = cure or f"cast both ways with the same {name}"
    single = [n for n, side in enumerate(alias.sides) if len(side) == 1]
    if alias.kind == "nearly":
        return f"{name} changed along with it nearly every time; {cure}."
    if alias.kind == "parted" and single:
        held = level_words(factor, alias.sides[single[0]][0])
        told = (first, second)[single[0]]
        if factor == "form":
            held = alias.sides[single[0]][0]
        verb = "came from" if factor == "form" else "had"
        return f"all {told} {verb} {held}; {cure}."
    return f"{first} and {second} never had the same {name}; {cure}."
