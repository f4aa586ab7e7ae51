"""The sentences that go with a comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.answer import OUTCOME_WORDS
from analysis.compare.permutation import REFINE_FROM
from analysis.fields import column_field
from analysis.model.field_words import cell_words, column_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    from numpy.typing import NDArray

    from analysis.compare.permutation import TestResult
    from analysis.model.comparison import PieceTable

HOLM = "p is adjusted for {pairs} pairs (Holm); intervals are not."
HOLM_FACTORS = "p is adjusted for {pairs} settings asked about (Holm)."
MANY_QUESTIONS = (
    "{count} settings differ here: where each is asked about, chance alone finds "
    "something in {chance} of 100 tables. Ask about one, and deal it by lot."
)
NOTHING_TO_COMPARE = (
    "There is nothing to compare yet: no pour has both, and no two pours that are "
    "otherwise the same have one each. Cast both in one pour."
)
TOO_FEW_WAYS = "Too few pours to rule out luck: cast one more."
ROUNDING = "The difference is no larger than the rounding of the values, {step:g}."
NO_CLEAR = "No clear difference does not mean no difference: look at the interval."
CONSTANT_BOTH = (
    "All values of a kind are exactly the same, and measured values never are: check "
    "that they were measured, not copied."
)
CONSTANT_ONE = (
    "All values of {level} are exactly the same, and measured values never are: check "
    "that they were measured, not copied."
)
SUPPOSED = " (How much pours differ is not known yet, so a usual spread is assumed.)"
FORMS = (
    "No form was cast both ways ({first} forms against {second}), so differences "
    "between forms are part of the answer."
)
COUNTED = (
    "ratio of voids per area from Poisson regression of the pours' totals, dispersion "
    "{dispersion:.2f}, interval by t; p from: {rest}"
)
ADJUSTED_AWAY = (
    "Before {names} was taken out there seemed to be a difference; with it taken out "
    "none is clear."
)
TIME_WORDS = "drift over time"
ONE_DAY = "All of it was cast on one day: another day may turn out differently."


def left_out_stage(table: PieceTable, keep: NDArray[np.bool_]) -> str:
    r"""Say which pieces were left out for their stage or method of measuring.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,stage\n1,A,filled\n2,A,as struck\n")
    >>> left_out_stage(table, np.array([False, True]))
    'Left out: 1 piece of another stage (filled).'
    """
    parts = []
    for name, cure in (
        ("stage", ""),
        ("method_version", "; measure the photos again to count them"),
    ):
        if name not in table.text:
            continue
        kept = set(table.text[name][keep].tolist())
        other = [cell for cell in table.text[name][~keep].tolist() if cell not in kept]
        if other:
            names = ", ".join(
                sorted({cell_words(name, cell) or "not known" for cell in other})
            )
            many = "piece" if len(other) == 1 else "pieces"
            words = f"another {column_words(name)} ({names})"
            parts.append(f"{len(other)} {many} of {words}{cure}")
    return f"Left out: {'; '.join(parts)}."


def alone(count: int) -> str:
    """Say that some pieces have no partner to be compared with.

    Examples
    --------
    >>> alone(1), alone(156)
    ('1 piece left out: nothing to pair it with.', \
'156 pieces left out: nothing to pair them with.')
    """
    if count == 1:
        return "1 piece left out: nothing to pair it with."
    return f"{count} pieces left out: nothing to pair them with."


def taken_out(names: tuple[str, ...]) -> tuple[str, ...]:
    """Say what was taken out of the comparison.

    Examples
    --------
    >>> taken_out(("release_agent", "cast_on"))
    ('Taken out: release agent, drift over time.',)
    """
    return (f"Taken out: {taken_names(names)}.",) if names else ()


def taken_names(names: Iterable[str]) -> str:
    """Name what is taken out; the casting date stands for a drift over time.

    Examples
    --------
    >>> taken_names(("cast_on", "humidity_percent"))
    'drift over time, humidity'
    """
    return ", ".join(
        TIME_WORDS if name == "cast_on" else column_words(name) for name in names
    )


def within_like(name: str) -> str:
    """Say that only pieces alike in a column are compared.

    Examples
    --------
    >>> within_like("smallest_counted_mm")
    'Compared only between pieces of the same smallest counted size.'
    """
    return f"Compared only between pieces of the same {column_words(name)}."


def within_own(name: str) -> str:
    """Say that pieces are compared inside the levels of a column that matters.

    Examples
    --------
    >>> within_own("product_line")
    'Compared within each product line, because it makes a difference.'
    """
    return f"Compared within each {column_words(name)}, because it makes a difference."


def zeros(count: int, value: float, outcome: str) -> str:
    """Say what stands for zero.

    Examples
    --------
    >>> zeros(3, 0.0123, "void_area_percent")
    '3 pieces had no voids; 0.012 % stands in for zero void area.'
    """
    many = "piece" if count == 1 else "pieces"
    found = column_field(outcome)
    unit = "" if found is None else found.unit
    void = "void" in OUTCOME_WORDS[outcome]
    return (
        f"{count} {many} had {'no voids' if void else 'none'}; {value:.2g} {unit} "
        f"stands in for zero {OUTCOME_WORDS[outcome]}."
    )


def too_few(
    levels: tuple[str, str], first: int, second: int, both: int, unit: str
) -> str:
    """Say how many pours there are and how many there must be.

    Examples
    --------
    >>> too_few(("tape", "none"), 1, 2, 0, "pour").split(".")[0]
    'Only 1 pour with tape and 2 with none'
    """
    many = unit if first == 1 else f"{unit}s"
    return (
        f"Only {first} {many} with {levels[0]} and {second} with {levels[1]}. It takes "
        f"4 against 4, or 3 that have both ({both} so far). Cast both in each {unit}: "
        f"that needs far fewer."
    )


def method(test: TestResult | None, unit: str, outcome: str, *, adjusted: bool) -> str:
    """Say how ratio, interval and p were got.

    Examples
    --------
    >>> method(None, "pour", "void_area_percent", adjusted=False)
    'none: nothing to compare'
    """
    if test is None:
        return "none: nothing to compare"
    start = (
        f"ratio of area-weighted means of {OUTCOME_WORDS[outcome]}; test by {unit} on "
        f"logarithms, "
    )
    if adjusted:
        start = f"adjusted {start}"
    if test.kind == "t":
        return f"{start}t test, the limit of the permutation test for many units"
    which = "all" if test.exact else "random"
    how = f"{which} {test.n_arrangements} arrangements of the levels"
    if test.kind == "refined":
        return (
            f"{start}the larger p of the t test on {unit} means and the permutation "
            f"test (ties aside), {how}; interval holds both; plain permutation p "
            f"{test.p_exact or 0.0:.3f}"
        )
    name = "exact" if test.exact else "Monte Carlo"
    interval = "by inverting the test"
    if test.exact and test.n_arrangements < REFINE_FROM:
        interval = f"by t on {unit} means"
    return f"{start}{name} permutation test, {how}; interval {interval}"
