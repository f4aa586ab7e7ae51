"""Compare the levels of a factor, at the level it was assigned."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.alongside import MOST_LEVELS
from analysis.compare.assignment import FORMS_THEMSELVES, dealt_of
from analysis.compare.case import (
    prepare,
    strata_estimates,
    summaries,
    unit_of,
)
from analysis.compare.confounding import find_aliases
from analysis.compare.counts import count_ratio
from analysis.compare.examine import examine, exp_of, ratio_of_means
from analysis.compare.level_words import level_words
from analysis.compare.permutation import ALPHA
from analysis.compare.rows import Chosen, choose, first_level, strata_of
from analysis.compare.strata import contradictions
from analysis.compare.tangled import nearly
from analysis.compare.verdict import FIRM, cautions, looked, needed_for, verdict_of
from analysis.fields import role_of
from analysis.model.comparison import ComparedPieces, Comparison, PairResult
from analysis.model.notes import note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.case import Case
    from analysis.compare.counts import CountRatio
    from analysis.compare.examine import Examined
    from analysis.compare.permutation import TestResult
    from analysis.model.comparison import Alias, CompareOptions, PieceTable, Verdict
    from analysis.model.notes import Note

MANY_QUESTIONS = 3
TOO_LITTLE_LEFT = 0.5  # of what the pours say, with what went along taken out


def compare(table: PieceTable, options: CompareOptions) -> Comparison:
    """Compare the levels of a factor.

    Pieces are the rows; what is tested is what the level was assigned to: pours, or
    pieces inside pours. See `analysis.compare.design` and
    `analysis.compare.permutation`.

    Parameters
    ----------
    table : PieceTable
        From `analysis.pieces.table`.
    options : CompareOptions
        The question.

    Returns
    -------
    Comparison
        Always an answer, if only 'not enough evidence'.

    Raises
    ------
    TableError
        A column or level asked for is not there, or only one level was tried.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.pieces.table import read_table
    >>> rows = ["piece,pour,joint_sealing,void_area_percent"]
    >>> shares = (0.2, 0.25, 0.3, 0.22, 0.28, 0.5, 0.55, 0.7, 0.6, 0.65)
    >>> for n, share in enumerate(shares):
    ...     rows.append(f"{n},{n},{'tape' if n < 5 else 'none'},{share}")
    >>> table = read_table(chr(10).join(rows))
    >>> answer = compare(table, CompareOptions(by="joint_sealing")).head
    >>> answer.verdict, round(answer.ratio, 2), round(answer.p_value, 3)
    ('lower', 0.42, 0.004)
    """
    chosen, levels = choose(table, options)
    pairs: list[PairResult] = []
    pieces: ComparedPieces | None = None
    for pair in combinations(levels, 2):
        of_level = chosen.table.levels(options.by)
        rows = of_level.where(np.isin(of_level.names, pair))
        result, shown = _pair(replace(chosen.taken(rows), notes=()), pair, options)
        pairs.append(result)
        pieces = pieces or shown
    adjusted = holm(pairs)
    if len(levels) > 2:  # noqa: PLR2004
        pieces = _all_pieces(chosen, options)
    if pieces is None:  # two levels at least give one pair
        pieces = _all_pieces(chosen, options)
    return Comparison(
        by=options.by,
        outcome=options.outcome,
        levels=levels,
        head=adjusted[0],
        pairs=tuple(adjusted),
        pieces=pieces,
        notes=chosen.notes,
    )


def compare_factors(
    table: PieceTable, factors: tuple[str, ...], options: CompareOptions
) -> dict[str, Comparison]:
    """Compare several factors at once, each adjusted for all the others.

    Parameters
    ----------
    table : PieceTable
        Pieces.
    factors : tuple of str
        Those changed in the trial; covariates such as ``form_use`` go into
        `CompareOptions.adjust_for`.
    options : CompareOptions
        Everything but the factor, which is set for each in turn.

    Returns
    -------
    dict of str to Comparison
        Per factor; each p is adjusted for the number of factors (Holm).

    Raises
    ------
    TableError
        As `compare`.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.pieces.table import read_table
    >>> rows = ["piece,pour,sealing,oil,void_area_percent"]
    >>> for n in range(16):
    ...     share = 0.5 + 0.4 * (n % 2) + 0.02 * (n // 4)
    ...     rows.append(f"{n},{n},{'ab'[n % 2]},{'xy'[n // 2 % 2]},{share}")
    >>> table = read_table(chr(10).join(rows))
    >>> found = compare_factors(table, ("sealing", "oil"), CompareOptions(by="oil"))
    >>> {name: answer.head.verdict for name, answer in found.items()}
    {'sealing': 'lower', 'oil': 'no_clear_difference'}
    """
    found = {
        factor: compare(
            table,
            replace(
                options,
                by=factor,
                levels=(),
                adjust_for=(
                    *(options.adjust_for or ()),
                    *(other for other in factors if other != factor),
                ),
            ),
        )
        for factor in factors
    }
    return _adjusted_together(found)


def _adjusted_together(found: dict[str, Comparison]) -> dict[str, Comparison]:
    """Adjust every pair of every factor for the number of factors (Holm).

    A factor of several pairs, adjusted for those already, is a family that stands with
    its smallest p; what Holm makes of that, times, is made of all of its pairs.
    """
    least = {
        factor: min((pair.p_value for pair in one.pairs if pair.p_value), default=None)
        for factor, one in found.items()
    }
    asked = [factor for factor, p in least.items() if p is not None]
    if len(asked) < 2:  # noqa: PLR2004
        return found
    done = _holm_of([least[factor] or 0.0 for factor in asked])
    times = dict.fromkeys(found, 1.0)
    for factor, p in zip(asked, done.tolist(), strict=True):
        times[factor] = p / (least[factor] or 1.0)
    said = note("holm_factors", settings=len(asked))
    return {
        factor: replace(
            one,
            head=_times(one.head, times[factor], said),
            pairs=tuple(_times(pair, times[factor], said) for pair in one.pairs),
        )
        for factor, one in found.items()
    }


def _holm_of(given: list[float]) -> NDArray[np.float64]:
    """Adjust several p by Holm's step-down method (1979, Scand. J. Statist. 6:65).

    Written out, since the library that has it takes a second of the processor to load.
    """
    p = np.asarray(given, dtype=np.float64)
    order = np.argsort(p, kind="stable")
    adjusted = np.empty(len(p))
    steps = np.arange(len(p), 0, -1)
    adjusted[order] = np.minimum(np.maximum.accumulate(p[order] * steps), 1.0)
    return adjusted


def _times(pair: PairResult, times: float, said: Note) -> PairResult:
    """Return a pair with its p so many times larger, its verdict taken back by that."""
    if pair.p_value is None:
        return pair
    p = min(pair.p_value * times, 1.0)
    verdict: Verdict = pair.verdict
    if verdict in FIRM and p > ALPHA:
        verdict = "no_clear_difference"
    rests_on = (*pair.rests_on, said)
    return replace(pair, p_value=p, verdict=verdict, rests_on=rests_on)


def _all_pieces(chosen: Chosen, options: CompareOptions) -> ComparedPieces:
    text = chosen.table.text
    _, names = strata_of([text[name] for name in options.within], len(chosen.value))
    return ComparedPieces(
        piece=text["piece"],
        pour=text["pour"],
        level=text[options.by],
        stratum=names,
        value=chosen.value,
        used=np.ones(len(chosen.value), dtype=bool),
    )


def holm(pairs: list[PairResult]) -> list[PairResult]:
    """Adjust p for the number of pairs (Holm), and take back verdicts lost by it.

    Examples
    --------
    >>> holm([])
    []
    """
    tested = [n for n, pair in enumerate(pairs) if pair.p_value is not None]
    if len(pairs) < 2 or not tested:  # noqa: PLR2004
        return pairs
    raw = [pairs[n].p_value or 0.0 for n in tested]
    done = _holm_of(raw)
    adjusted = list(pairs)
    said = note("holm", pairs=len(tested))
    for n, p in zip(tested, done.tolist(), strict=True):
        pair = adjusted[n]
        verdict: Verdict = pair.verdict
        if verdict in {"lower", "higher"} and p > ALPHA:
            verdict = "no_clear_difference"
        adjusted[n] = replace(
            pair,
            p_value=float(p),
            verdict=verdict,
            rests_on=(*pair.rests_on, said),
        )
    return adjusted


def _pair(
    chosen: Chosen, pair: tuple[str, str], options: CompareOptions
) -> tuple[PairResult, ComparedPieces]:
    before = first_level(chosen.table, options.by, pair)
    strict = (*options.within, "stage", "method_version", "light")
    strict = tuple(name for name in strict if name in chosen.table.text)
    names = (level_words(options.by, pair[0]), level_words(options.by, pair[1]))
    aliases = find_aliases(chosen.table, options.by, before, names, strict)
    case = prepare(chosen, pair, options, [alias.factor for alias in aliases])
    found = examine(case, case.beside)
    plain = examine(case, ()) if case.beside else found
    verdict, why = verdict_of(case, found)
    unadjusted, _ = verdict_of(case, plain)
    if aliases:
        verdict, why = "cannot_separate", ()
    elif unadjusted in FIRM and verdict not in FIRM:
        aliases, why = _taken_away(case, found, plain, why)
        verdict = "cannot_separate" if aliases else verdict
    answer, test, used = found.answer, found.test, found.used
    ratio, low, high = ratio_of_means(case, found)
    if ratio is not None and verdict in FIRM and (ratio < 1) != (verdict == "lower"):
        verdict, why = _unclear()
    method = _method(case, test)
    counted = None if case.beside else _counted(case, used)
    if counted is not None:
        ratio, low, high = (exp_of(v) for v in counted[:3])
        if ratio is not None and verdict in FIRM:
            agree = (ratio < 1) == (verdict == "lower")
            verdict, why = (verdict, why) if agree else _unclear()
        method = note("counted", dispersion=counted.dispersion, rest=method)
    needed = needed_for(case, answer, used)
    taken_out = adjusted_for(case)
    result = PairResult(
        unit=unit_of(case, used) if answer is not None else case.assigned.unit,
        levels=pair,
        ratio=ratio,
        ratio_low=low,
        ratio_high=high,
        p_value=test.p_value if test else None,
        method=method,
        groups=summaries(case, used, answer),
        verdict=verdict,
        aliases=aliases,
        strata=strata_estimates(case, used),
        pieces_needed=needed[0],
        pours_needed=needed[1],
        why=why,
        rests_on=(
            *looked(case, found),
            *case.pieces.notes,
            *([note("taken_out", names=taken_out)] if taken_out else []),
        ),
        misleading=(
            *contradictions(case.pieces.table, case.x, case.y, options, case.within),
            *cautions(case, used),
            *_many_questions(case),
        ),
        needed=needed[2],
        geometric_ratio=None if answer is None else exp_of(answer.log_ratio),
        adjusted_for=taken_out,
        verdict_unadjusted=unadjusted,
        dealt=dealt_of(case.pieces.table, options.by),
    )
    shown = ComparedPieces(
        piece=case.pieces.table.text["piece"],
        pour=case.pieces.table.text["pour"],
        level=case.pieces.table.text[options.by],
        stratum=case.stratum_name,
        value=case.pieces.value,
        used=used,
    )
    return result, shown


def adjusted_for(case: Case) -> tuple[str, ...]:
    """Return what is taken out: settings, drift, and forms or days that hold both."""
    apart = (one.name for one in case.assigned.apart if one.name == "form")
    return (*(one.name for one in case.beside), *apart)


def _taken_away(
    case: Case, found: Examined, plain: Examined, why: tuple[Note, ...]
) -> tuple[tuple[Alias, ...], tuple[Note, ...]]:
    """Note what took a difference away: a setting that leaves too little, or chance."""
    most = case.beside[0]
    left = 0.0
    if found.answer is not None and plain.answer is not None:
        left = found.answer.information / plain.answer.information
    if left < TOO_LITTLE_LEFT:
        return (nearly(most.name, case.names, max(left, 0.0)),), ()
    names = tuple(one.name for one in case.beside)
    return (), (note("taken_away", names=names), *why)


def _many_questions(case: Case) -> tuple[Note, ...]:
    """Note how often chance finds something where every setting is asked about."""
    table = case.pieces.table
    if dealt_of(table, case.options.by) == "by_lot":
        return ()
    count = sum(
        role_of(name) == "setting"
        and name not in FORMS_THEMSELVES | {"joints_sealed"}
        and 1 < int((table.levels(name).names != "").sum()) <= MOST_LEVELS
        for name in table.text
    )
    if count < MANY_QUESTIONS:
        return ()
    chance = round(100 * (1 - (1 - ALPHA) ** count))
    return (note("many_questions", settings=count, chance=chance),)


def _method(case: Case, test: TestResult | None) -> Note:
    """Note how ratio, interval and p were got."""
    if test is None:
        return note("no_method")
    return note(
        "method",
        kind=test.kind,
        arrangements=test.n_arrangements,
        p_exact=test.p_exact,
        unit=case.assigned.unit,
        outcome=case.options.outcome,
        exact=test.exact,
        adjusted=bool(case.beside),
    )


def _unclear() -> tuple[Verdict, tuple[Note, ...]]:
    return "no_clear_difference", (note("no_clear_difference"),)


def _counted(case: Case, used: NDArray[np.bool_]) -> CountRatio | None:
    """Return the count model's ratio where the outcome is a count."""
    if case.options.outcome != "voids_per_m2":
        return None
    number = case.pieces.table.number
    return count_ratio(
        number["void_count"][used],
        number["face_area_mm2"][used],
        case.x[used],
        case.cluster[used],
        case.stratum[used],
    )
