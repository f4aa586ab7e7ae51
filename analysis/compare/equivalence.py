"""Whether two levels can be called the same, within a band the user sets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from analysis.checks import number
from analysis.compare.level_words import level_words

if TYPE_CHECKING:
    from analysis.model.comparison import PairResult

Sameness = Literal["same", "not_shown", "different"]


def sameness(pair: PairResult, band: float) -> Sameness:
    """Tell whether the ratio lies between 1 / `band` and `band`, interval and all.

    Parameters
    ----------
    pair : PairResult
        Two levels compared.
    band : float
        Ratio up to which a difference would not matter, more than 1; 1.25 for
        example calls ratios of 0.8 to 1.25 the same.

    Returns
    -------
    str
        ``same`` where the 95 % interval lies inside the band, ``different`` where
        it lies outside, ``not_shown`` otherwise; also where the factor could not
        be told apart or there are too few pours.

    Raises
    ------
    InputError
        The band is not above 1.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from analysis.model.comparison import GroupSummary
    >>> from analysis.model.comparison import PairResult
    >>> from analysis.model.notes import note
    >>> group = GroupSummary(name="a", n_pieces=9, n_pours=9, geometric_mean=0.4)
    >>> pair = PairResult(
    ...     unit="pour", levels=("a", "b"), ratio=1.0, ratio_low=0.9, ratio_high=1.1,
    ...     p_value=0.9, method=note("no_method"), groups=(group, group),
    ...     verdict="no_clear_difference",
    ... )
    >>> sameness(pair, 1.25), sameness(replace(pair, ratio_high=1.4), 1.25)
    ('same', 'not_shown')
    """
    band = number(band, "Band", above=1.0)
    if pair.ratio_low is None or pair.ratio_high is None:
        return "not_shown"
    if pair.verdict in {"not_enough_evidence", "cannot_separate"}:
        return "not_shown"
    # Two one-sided tests (Schuirmann 1987, from memory) at 2.5 % each: the interval
    # shown decides, though 90 % would do for a test at 5 %.
    if 1 / band <= pair.ratio_low and pair.ratio_high <= band:
        return "same"
    if pair.ratio_high < 1 / band or pair.ratio_low > band:
        return "different"
    return "not_shown"


def sameness_words(pair: PairResult, band: float, by: str = "") -> str:
    """Say it in one sentence; `by` is the factor, so that levels have names.

    Examples
    --------
    >>> from analysis.model.comparison import GroupSummary
    >>> from analysis.model.comparison import PairResult
    >>> from analysis.model.notes import note
    >>> group = GroupSummary(name="a", n_pieces=9, n_pours=9, geometric_mean=0.4)
    >>> pair = PairResult(
    ...     unit="pour", levels=("a", "b"), ratio=1.0, ratio_low=0.9, ratio_high=1.1,
    ...     p_value=0.9, method=note("no_method"), groups=(group, group),
    ...     verdict="no_clear_difference",
    ... )
    >>> sameness_words(pair, 1.25)
    'A and b are the same within 0.80 to 1.25 times.'
    """
    first, second = (level_words(by, name) if by else name for name in pair.levels)
    start, reach = first[:1].upper() + first[1:], f"{1 / band:.2f} to {band:.2f} times"
    return {
        "same": f"{start} and {second} are the same within {reach}.",
        "different": f"{start} and {second} differ by more than {reach}.",
        "not_shown": f"Too early to say that {first} and {second} are the same "
        f"within {reach}.",
    }[sameness(pair, band)]


def is_no_worse(pair: PairResult, margin: float) -> bool:
    """Tell whether the first level is shown to be no worse than the second.

    One-sided, by a margin set before casting: the upper limit of the interval lies
    below it (2.5 percent, as non-inferiority trials are judged: ICH E9, 1998, 3.3.2;
    from memory, check against the document).

    Parameters
    ----------
    pair : PairResult
        Two levels compared.
    margin : float
        Ratio up to which the first level would still do, more than 1; 1.25 for
        example lets it have a quarter more void area.

    Raises
    ------
    InputError
        The margin is not above 1.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from analysis.model.comparison import GroupSummary, PairResult
    >>> from analysis.model.notes import note
    >>> group = GroupSummary(name="a", n_pieces=9, n_pours=9, geometric_mean=0.4)
    >>> pair = PairResult(
    ...     unit="pour", levels=("a", "b"), ratio=0.9, ratio_low=0.7, ratio_high=1.1,
    ...     p_value=0.4, method=note("no_method"), groups=(group, group),
    ...     verdict="no_clear_difference",
    ... )
    >>> is_no_worse(pair, 1.25), is_no_worse(replace(pair, ratio_high=1.4), 1.25)
    (True, False)
    """
    margin = number(margin, "Margin", above=1.0)
    if pair.ratio_high is None:
        return False
    if pair.verdict in {"not_enough_evidence", "cannot_separate"}:
        return False
    return pair.ratio_high < margin


def no_worse_words(pair: PairResult, margin: float, by: str = "") -> str:
    """Say it in one sentence; `by` is the factor, so that levels have names.

    Examples
    --------
    >>> from analysis.model.comparison import GroupSummary, PairResult
    >>> from analysis.model.notes import note
    >>> group = GroupSummary(name="a", n_pieces=9, n_pours=9, geometric_mean=0.4)
    >>> pair = PairResult(
    ...     unit="pour", levels=("a", "b"), ratio=0.9, ratio_low=0.7, ratio_high=1.1,
    ...     p_value=0.4, method=note("no_method"), groups=(group, group),
    ...     verdict="no_clear_difference",
    ... )
    >>> no_worse_words(pair, 1.25)
    'A is no worse than b: at most 1.10 times the void area, 1.25 would still do.'
    >>> no_worse_words(pair, 1.05)
    'Not shown yet that a is no worse than b: up to 1.10 times the void area.'
    """
    first, second = (level_words(by, name) if by else name for name in pair.levels)
    are = "are" if first.endswith("joints") else "is"
    most = "" if pair.ratio_high is None else f"{pair.ratio_high:.2f} times"
    if is_no_worse(pair, margin):
        return (
            f"{first[:1].upper()}{first[1:]} {are} no worse than {second}: at most "
            f"{most} the void area, {margin:g} would still do."
        )
    said = f"Not shown yet that {first} {are} no worse than {second}"
    return f"{said}: " + (f"up to {most} the void area." if most else "too few pours.")
