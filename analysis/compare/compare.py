"""Compare the levels of a factor, at the level it was assigned."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from statsmodels.stats.multitest import multipletests

from analysis.compare import notes as say
from analysis.compare.answer import level_words
from analysis.compare.case import (
    covariates_of,
    prepare,
    strata_estimates,
    summaries,
    unit_of,
)
from analysis.compare.confounding import find_aliases
from analysis.compare.counts import count_ratio
from analysis.compare.design import label_codes, lay_out
from analysis.compare.gls import fit
from analysis.compare.permutation import ALPHA, permutation_test
from analysis.compare.rows import Chosen, choose, strata_of
from analysis.compare.strata import contradictions
from analysis.compare.student import wide_interval
from analysis.compare.verdict import cautions, needed_for, verdict_of
from analysis.model.comparison import ComparedPieces, Comparison, PairResult

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.case import Case
    from analysis.compare.counts import CountRatio
    from analysis.compare.gls import Fit
    from analysis.compare.permutation import TestResult
    from analysis.model.comparison import CompareOptions, PieceTable, Verdict

MANY_ZEROS = 0.1
MOSTLY_ZEROS = 0.8


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
    ('lower', 0.41, 0.004)
    """
    chosen, levels = choose(table, options)
    pairs: list[PairResult] = []
    pieces: ComparedPieces | None = None
    for pair in combinations(levels, 2):
        rows = np.isin(chosen.table.text[options.by], pair)
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
        Per factor. p is not adjusted for the number of factors.

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
    return {
        factor: compare(
            table,
            replace(
                options,
                by=factor,
                levels=(),
                adjust_for=(
                    *options.adjust_for,
                    *(other for other in factors if other != factor),
                ),
            ),
        )
        for factor in factors
    }


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
    raw = [pairs[n].p_value for n in tested]
    done = multipletests(raw, alpha=ALPHA, method="holm")[1]
    adjusted = list(pairs)
    for n, p in zip(tested, done.tolist(), strict=True):
        pair = adjusted[n]
        verdict: Verdict = pair.verdict
        if verdict in {"lower", "higher"} and p > ALPHA:
            verdict = "no_clear_difference"
        adjusted[n] = replace(
            pair,
            p_value=float(p),
            verdict=verdict,
            rests_on=(*pair.rests_on, say.HOLM.format(pairs=len(tested))),
        )
    return adjusted


def _pair(
    chosen: Chosen, pair: tuple[str, str], options: CompareOptions
) -> tuple[PairResult, ComparedPieces]:
    before = (chosen.table.text[options.by] == pair[0]).astype(np.float64)
    strict = (*options.within, "stage", "method_version", "light")
    strict = tuple(name for name in strict if name in chosen.table.text)
    names = (level_words(options.by, pair[0]), level_words(options.by, pair[1]))
    aliases = find_aliases(chosen.table, options.by, before, names, strict)
    case = prepare(chosen, pair, options)
    clusters = label_codes(case.pieces.table.text[case.cluster_by])
    covariates = covariates_of(case)
    design = lay_out(case.y, case.x, clusters, case.stratum, covariates)
    answer = fit(design)
    test = None
    if answer is not None:
        test = permutation_test(answer, seed=options.seed, guard=covariates is not None)
        test = _widened(answer, test, case, design.kept)
    used = design.kept if answer is not None else np.ones(len(case.x), dtype=bool)
    counted = _counted(case, clusters, used) if covariates is None else None
    groups = summaries(case, used, answer)
    verdict, why = verdict_of(case, answer, test, used, groups)
    if aliases:
        verdict, why = "cannot_separate", ()
    estimate = None if answer is None else answer.log_ratio
    low, high = (test.low, test.high) if test else (None, None)
    method = say.method(
        test, case.cluster_by, options.outcome, adjusted=covariates is not None
    )
    if counted is not None:
        if counted.log_ratio * (estimate or 0.0) < 0 and verdict in {"lower", "higher"}:
            verdict, why = "no_clear_difference", (say.NO_CLEAR,)
        estimate, low, high = counted.log_ratio, counted.low, counted.high
        method = say.COUNTED.format(dispersion=counted.dispersion, rest=method)
    needed = needed_for(case, answer, used)
    result = PairResult(
        unit=unit_of(case, used) if answer is not None else case.cluster_by,
        levels=pair,
        ratio=_exp(estimate),
        ratio_low=_exp(low),
        ratio_high=_exp(high),
        p_value=test.p_value if test else None,
        method=method,
        groups=groups,
        verdict=verdict,
        aliases=aliases,
        strata=strata_estimates(case, used),
        pieces_needed=needed[0],
        pours_needed=needed[1],
        why=why,
        rests_on=case.pieces.notes,
        misleading=(
            *contradictions(case.pieces.table, case.x, case.y, options, case.within),
            *cautions(case, used),
        ),
        needed=needed[2],
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


def _exp(value: float | None) -> float | None:
    return None if value is None else float(np.exp(value))


def _counted(
    case: Case, clusters: NDArray[np.int64], used: NDArray[np.bool_]
) -> CountRatio | None:
    """Return the count model's ratio where the outcome is a count."""
    if case.options.outcome != "voids_per_m2":
        return None
    number = case.pieces.table.number
    return count_ratio(
        number["void_count"][used],
        number["face_area_mm2"][used],
        case.x[used],
        clusters[used],
        case.stratum[used],
    )


def _widened(
    answer: Fit, test: TestResult, case: Case, kept: NDArray[np.bool_]
) -> TestResult:
    """Widen the interval where many values are zeros."""
    share = float((case.pieces.value[kept] <= case.zero).mean())
    if share < MANY_ZEROS or test.low is None or test.high is None:
        return test
    wide = wide_interval(answer, few=share > MOSTLY_ZEROS)
    if wide is None:
        return replace(test, low=None, high=None)
    return replace(test, low=min(test.low, wide[0]), high=max(test.high, wide[1]))
