"""From estimate and test to a verdict, with its cautions and what is needed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.case import summaries, units
from analysis.compare.confounding import assigned_to
from analysis.compare.looking import advice
from analysis.compare.permutation import ALPHA
from analysis.compare.power import SUPPOSED_SPREAD, pours_needed
from analysis.model.comparison import LEAST_MIXED_POURS, LEAST_POURS
from analysis.model.notes import note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.case import Case
    from analysis.compare.examine import Examined
    from analysis.compare.gls import Fit
    from analysis.compare.permutation import TestResult
    from analysis.model.comparison import Verdict
    from analysis.model.notes import Note

FIRM = frozenset({"lower", "higher"})
SLACK = 1e-6
DECIMALS = 7
NEARLY = 1.02  # geometric means of neighbouring steps lie this near to one step


def _step(values: NDArray[np.float64]) -> float:
    """Return the step the values were rounded to, 0 where there is none to see."""
    for decimals in range(DECIMALS):
        scaled = values * 10**decimals
        if np.allclose(scaled, np.round(scaled), rtol=0, atol=SLACK):
            return float(10.0**-decimals)
    return 0.0


def _spread(case: Case, used: NDArray[np.bool_]) -> float:
    """Return the standard deviation of the values inside the levels."""
    sides = [case.pieces.value[used & (case.x == side)] for side in (1.0, 0.0)]
    squares = sum(float(((side - side.mean()) ** 2).sum()) for side in sides)
    return float((squares / max(sum(map(len, sides)) - 2, 1)) ** 0.5)


def _flat(case: Case, used: NDArray[np.bool_]) -> Note | None:
    """Note what is wrong where values within a level do not vary."""
    still = []
    for side in (1.0, 0.0):
        y = case.y[used & (case.x == side)]
        lowest = bool((y <= np.log(case.zero) + 1e-9).all())
        still.append((float(np.ptp(y)) < SLACK, lowest))
    if all(same for same, _ in still):
        return note("all_alike")
    for level, (same, lowest) in zip(case.names, still, strict=True):
        if same and not lowest:
            return note("one_alike", level=level)
    stratum, cluster = case.stratum[used], case.x[used]
    rest = case.y[used].copy()
    for name in np.unique(stratum):
        for side in (0.0, 1.0):
            rows = (stratum == name) & (cluster == side)
            if rows.any():
                rest[rows] -= rest[rows].mean()
    return note("all_alike") if float(np.abs(rest).max()) < SLACK else None


def _shortfall(
    case: Case, test: TestResult | None, used: NDArray[np.bool_]
) -> Note | None:
    """Note what the design is short of; None where a verdict is possible."""
    if test is None or test.p_value is None:
        return note("nothing_to_compare")
    first, second, both = units(case, used)
    few = both < LEAST_MIXED_POURS and min(first, second) < LEAST_POURS
    if few and not case.options.few_units:
        return note(
            "too_few",
            names=case.names,
            first=first,
            second=second,
            both=both,
            unit=case.assigned.unit,
        )
    if test.p_least > ALPHA:
        return note("too_few_ways")
    return _flat(case, used)


def verdict_of(case: Case, found: Examined) -> tuple[Verdict, tuple[Note, ...]]:
    """Return the verdict about the first level, and why where there is none.

    Whether another factor could stand in is not looked at here.
    """
    answer, test, used = found.answer, found.test, found.used
    short = _shortfall(case, test, used)
    if short is not None or answer is None or test is None or test.p_value is None:
        return "not_enough_evidence", () if short is None else (short,)
    step = _step(case.pieces.value[used])
    if _spread(case, used) < step:
        means = [group.geometric_mean or 0.0 for group in summaries(case, used, answer)]
        if abs(means[0] - means[1]) <= step * NEARLY:
            return "no_clear_difference", (note("rounding", step=step),)
    level = ALPHA if case.look is None else case.look.level
    if test.p_value > level:
        return "no_clear_difference", (note("no_clear_difference"),)
    return ("lower" if answer.log_ratio < 0 else "higher"), ()


def needed_for(
    case: Case, answer: Fit | None, used: NDArray[np.bool_]
) -> tuple[int, int, Note]:
    """Return pieces and pours needed per level, and the note of it."""
    pour = case.cluster[used]
    sizes = np.unique(pour, return_counts=True)[1]
    typical = max(1, round(float(np.median(sizes)))) if len(sizes) else 1
    _, _, both = units(case, used)
    mixed = both >= max(1, len(sizes) // 2)
    pieces = max(1, typical // 2) if mixed else typical
    between = within = SUPPOSED_SPREAD
    supposed = answer is None or answer.df < 1
    if answer is not None and answer.df >= 1:
        # Squared error times information: the spread seen over the spread the weights
        # supposed. Only a smaller one is believed.
        scale = min(answer.standard_error**2 * answer.information, 1.0)
        between = (answer.variance_between * scale) ** 0.5
        within = (answer.variance_within * scale) ** 0.5
    ask = case.options
    pours = pours_needed(
        between, within, pieces, ratio=ask.ratio, power=ask.power, mixed=mixed
    )
    needed = note(
        "needed",
        pours=pours,
        pieces=pieces,
        ratio=ask.ratio,
        power=ask.power,
        mixed=mixed,
        supposed=supposed,
    )
    return pours * pieces, pours, needed


def looked(case: Case, found: Examined) -> tuple[Note, ...]:
    """Note what to do with a trial that is under way, nothing without one."""
    answer, test, look = found.answer, found.test, case.look
    if look is None or answer is None or test is None:
        return ()
    said = advice(
        look,
        test.p_value,
        answer.log_ratio,
        answer.standard_error,
        case.options.ratio,
    )
    return (note("under_way", look=look, advice=said),)


def cautions(case: Case, used: NDArray[np.bool_]) -> tuple[Note, ...]:
    """Note what could mislead."""
    table, notes = case.pieces.table, []
    outcome = case.options.outcome
    zeros = int((case.pieces.value[used] < case.zero).sum())
    if zeros:
        notes.append(note("zeros", pieces=zeros, value=case.zero, outcome=outcome))
    if (~used).any():
        notes.append(note("without_partner", pieces=int((~used).sum())))
    forms = assigned_to(table, "form", case.x)
    if forms and case.assigned.unit != "form":
        notes.append(note("forms_differ", first=forms[0], second=forms[1]))
    days = table.levels("cast_on").names.tolist() if "cast_on" in table.text else []
    if len(days) == 1 and days[0]:
        notes.append(note("one_day"))
    return tuple(notes)
