"""One pair of levels made ready: alike pieces, strata, what levels were assigned to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.alongside import Beside, beside, columns_of
from analysis.compare.assignment import assignment_of
from analysis.compare.confounding import assigned_to
from analysis.compare.design import codes, lay_out, means
from analysis.compare.few_voids import pooled_shares
from analysis.compare.gls import fit
from analysis.compare.level_words import level_words
from analysis.compare.looking import look_at
from analysis.compare.rows import first_level, left_out_stage, one_stage, strata_of
from analysis.compare.strata import matters
from analysis.model.comparison import GroupSummary, StratumEstimate
from analysis.model.field_words import cell_words
from analysis.model.notes import note
from analysis.pieces.columns import each_word
from analysis.pieces.likeness import SIZE, like_columns
from analysis.pieces.zeros import log_of, zero_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from analysis.compare.assignment import LevelAssignment
    from analysis.compare.gls import Fit
    from analysis.compare.looking import TrialLook
    from analysis.compare.rows import Chosen
    from analysis.model.comparison import CompareOptions, PieceTable


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One pair of levels, ready to be tested.

    Attributes
    ----------
    options : CompareOptions
        What was asked.
    levels : tuple of str
        The pair.
    pieces : Chosen
        n pieces.
    x, y : ndarray of float64, (n,)
        1 for the first level; log outcome.
    plain : ndarray of float64, (n,), or None
        Shares over their mean, to be tested in place of logarithms where faces hold
        few voids and those of one level are larger.
    zero : float
        What stands for zero in the logarithm.
    within : tuple of str
        Factors whose levels are never mixed.
    stratum, stratum_name : ndarray, (n,)
        Strata.
    assigned : LevelAssignment
        What the levels were assigned to.
    beside : tuple of Beside
        What is taken out.
    look : TrialLook or None
        Where the pieces are those of one trial of a known size.
    """

    options: CompareOptions
    levels: tuple[str, str]
    pieces: Chosen
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    plain: NDArray[np.float64] | None
    zero: float
    within: tuple[str, ...]
    stratum: NDArray[np.int64]
    stratum_name: NDArray[np.str_]
    assigned: LevelAssignment
    beside: tuple[Beside, ...]
    look: TrialLook | None

    @property
    def names(self) -> tuple[str, str]:
        """Name the two levels so that they stand in a sentence."""
        first, second = self.levels
        return level_words(self.options.by, first), level_words(self.options.by, second)

    @property
    def cluster(self) -> NDArray[np.int64]:
        """Return the group of each piece that a level was assigned to."""
        return self.assigned.group


def prepare(
    chosen: Chosen,
    pair: tuple[str, str],
    options: CompareOptions,
    barred: Iterable[str] = (),
) -> Case:
    """Make one pair of levels ready: like with like, strata, logarithms.

    `barred` are columns that always went along with the levels: they cannot be taken
    out.
    """
    x = first_level(chosen.table, options.by, pair)
    keep = one_stage(chosen, options.by, x)
    if not keep.all():
        chosen = chosen.taken(keep, left_out_stage(chosen.table, keep))
        x = x[keep]
    zero = zero_of(chosen.table, chosen.value, options.outcome)
    y = log_of(chosen.value, zero)
    alike = like_columns(chosen.table, options.by)
    within = list(options.within)
    notes = [note("within_like", name=name) for name in alike]
    for name in ("product_line", "form_type"):
        if (
            name in within
            or name not in chosen.table.text
            or options.by in {name, "form"}
        ):
            continue
        if (
            matters(chosen.table, name, y)
            and assigned_to(chosen.table, name, x) is None
        ):
            within.append(name)
            notes.append(note("within_own", name=name))
            break
    columns = [chosen.table.text[name] for name in within]
    stratum, names = strata_of([*columns, *alike.values()], len(x))
    if options.by == "vibration_s" and "vibration_method" in chosen.table.text:
        stratum, names = strata_of(
            [names, chosen.table.text["vibration_method"]], len(x)
        )
        within.append("vibration_method")
    names = _in_words(chosen.table, within, alike, names)
    assigned = assignment_of(chosen.table, options.by, x)
    if options.adjust_for is None:
        taken = beside(
            chosen.table,
            options.by,
            x,
            y,
            assigned.group,
            stratum,
            (*within, *alike, *barred),
        )
    else:
        taken = named(options.adjust_for)
    return Case(
        options=options,
        levels=pair,
        pieces=replace(chosen, notes=(*chosen.notes, *notes)),
        x=x,
        y=y,
        plain=pooled_shares(chosen, options.outcome, x, assigned.group),
        zero=zero,
        within=tuple(within),
        stratum=stratum,
        stratum_name=names,
        assigned=assigned,
        beside=taken,
        look=look_at(chosen.table, options.by),
    )


def _in_words(
    table: PieceTable,
    within: Iterable[str],
    alike: Mapping[str, NDArray[np.str_]],
    names: NDArray[np.str_],
) -> NDArray[np.str_]:
    """Name the strata in words: codes said, classes of sizes by their smallest."""
    columns = [
        each_word(table.text[name], partial(cell_words, name)) for name in within
    ]
    for name, cells in alike.items():
        if name != SIZE:
            columns.append(each_word(cells, partial(level_words, name)))
            continue
        least = {one: table.number[SIZE][cells == one].min() for one in set(cells)}
        columns.append(
            np.array(
                [
                    f"counted from {least[one]:g} mm"
                    if np.isfinite(least[one])
                    else "smallest size not known"
                    for one in cells.tolist()
                ]
            )
        )
    return strata_of(columns, len(names))[1] if columns else names


def named(factors: Iterable[str]) -> tuple[Beside, ...]:
    """Return factors a user named, to be taken out whatever they do.

    Examples
    --------
    >>> [one.name for one in named(("mix",))]
    ['mix']
    """
    return tuple(Beside(name=name, leaning=0.0) for name in factors)


def covariates_of(
    case: Case, taken: Iterable[Beside] | None = None
) -> NDArray[np.float64] | None:
    """Return the columns that are taken out; None where nothing is."""
    found = [
        columns_of(case.pieces.table, one.name, case.cluster)
        for one in (case.beside if taken is None else taken)
    ]
    known = [columns for columns in found if columns is not None]
    return np.column_stack(known) if known else None


def summaries(
    case: Case, used: NDArray[np.bool_], answer: Fit | None
) -> tuple[GroupSummary, GroupSummary]:
    """Summarise each level by the geometric mean of its pours.

    Pours weigh as in the estimate where that is a plain ratio of the two means, and
    alike where it is joined from several strata or from inside pours.
    """
    table, cluster = case.pieces.table, case.cluster
    weight = np.ones(int(cluster.max(initial=0)) + 1)
    plain = answer is not None and answer.design.plain
    if answer is not None and plain and not answer.design.mixed.any():
        weight[cluster[used]] = answer.pour_weight[answer.design.cluster]

    def one(name: str, side: float) -> GroupSummary:
        rows = used & (case.x == side)
        if not rows.any():
            return GroupSummary(name=name, n_pieces=0, n_pours=0, geometric_mean=None)
        mean, count = means(case.y[rows], codes(cluster[rows]))
        own = weight[np.unique(cluster[rows])]
        return GroupSummary(
            name=name,
            n_pieces=int(count.sum()),
            n_pours=len(table.levels("pour").taken(rows).names),
            geometric_mean=float(np.exp(own @ mean / own.sum())),
        )

    return one(case.levels[0], 1.0), one(case.levels[1], 0.0)


def units(case: Case, used: NDArray[np.bool_]) -> tuple[int, int, int]:
    """Return clusters of the first level, of the second, and of both."""
    cluster = case.cluster[used]
    first = set(cluster[case.x[used] > 0].tolist())
    second = set(cluster[case.x[used] == 0].tolist())
    return len(first), len(second), len(first & second)


def unit_of(case: Case, used: NDArray[np.bool_]) -> str:
    """Return what the test counts as one, in words."""
    first, second, both = units(case, used)
    if not both:
        return case.assigned.unit
    if both == first == second:
        return f"piece within {case.assigned.unit}"
    return f"{case.assigned.unit} and piece within {case.assigned.unit}"


def strata_estimates(
    case: Case, used: NDArray[np.bool_]
) -> tuple[StratumEstimate, ...]:
    """Estimate the ratio inside each stratum alone."""
    names = np.unique(case.stratum_name[used])
    if len(names) < 2 or len(names) > 24:  # noqa: PLR2004
        return ()
    found = []
    for name in names.tolist():
        rows = used & (case.stratum_name == name)
        answer = fit(
            lay_out(
                case.y[rows],
                case.x[rows],
                codes(case.cluster[rows]),
                np.zeros(int(rows.sum()), dtype=np.int64),
            )
        )
        if answer is not None:
            first, second = (
                len(np.unique(case.cluster[rows & (case.x == side)]))
                for side in (1.0, 0.0)
            )
            found.append(
                StratumEstimate(
                    name=name,
                    ratio=float(np.exp(answer.log_ratio)),
                    n_pours=(first, second),
                )
            )
    return tuple(found)
