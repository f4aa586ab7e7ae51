"""One pair of levels made ready: alike pieces, strata, units, covariates."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare import notes as say
from analysis.compare.answer import level_words
from analysis.compare.confounding import assigned_to
from analysis.compare.design import codes, label_codes, lay_out, means
from analysis.compare.gls import fit
from analysis.compare.rows import one_stage, strata_of
from analysis.compare.strata import matters
from analysis.model.comparison import GroupSummary, StratumEstimate
from analysis.pieces.likeness import like_columns
from analysis.pieces.zeros import log_of, zero_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.gls import Fit
    from analysis.compare.rows import Chosen
    from analysis.model.comparison import CompareOptions, PieceTable

FORMS_ARE_UNITS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One pair of levels, ready to be tested."""

    options: CompareOptions
    levels: tuple[str, str]
    pieces: Chosen
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    zero: float
    within: tuple[str, ...]
    stratum: NDArray[np.int64]
    stratum_name: NDArray[np.str_]
    cluster_by: str

    @property
    def names(self) -> tuple[str, str]:
        """Name the two levels so that they stand in a sentence."""
        first, second = self.levels
        return level_words(self.options.by, first), level_words(self.options.by, second)


def _cluster_column(table: PieceTable, by: str, x: NDArray[np.float64]) -> str:
    """Return what the level was assigned to where pours hold both: pours or forms."""
    if by in {"form", "form_type", "product_line"}:
        return "pour"
    pour_sides = assigned_to(table, "pour", x)
    form_sides = assigned_to(table, "form", x)
    if pour_sides is None and form_sides and min(form_sides) >= FORMS_ARE_UNITS:
        return "form"
    return "pour"


def prepare(chosen: Chosen, pair: tuple[str, str], options: CompareOptions) -> Case:
    """Make one pair of levels ready: like with like, strata, logarithms."""
    x = (chosen.table.text[options.by] == pair[0]).astype(np.float64)
    keep = one_stage(chosen, options.by, x)
    if not keep.all():
        chosen = chosen.taken(keep, say.left_out_stage(chosen.table, keep))
        x = x[keep]
    zero = zero_of(chosen.table, chosen.value, options.outcome)
    y = log_of(chosen.value, zero)
    alike = like_columns(chosen.table, options.by)
    within = list(options.within)
    notes = [say.WITHIN_LIKE.format(name=name) for name in alike]
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
            notes.append(say.WITHIN_OWN.format(name=name))
            break
    columns = [chosen.table.text[name] for name in within]
    stratum, names = strata_of([*columns, *alike.values()], len(x))
    if options.by == "vibration_s" and "vibration_method" in chosen.table.text:
        stratum, names = strata_of(
            [names, chosen.table.text["vibration_method"]], len(x)
        )
        within.append("vibration_method")
    return Case(
        options=options,
        levels=pair,
        pieces=replace(chosen, notes=(*chosen.notes, *notes)),
        x=x,
        y=y,
        zero=zero,
        within=tuple(within),
        stratum=stratum,
        stratum_name=names,
        cluster_by=_cluster_column(chosen.table, options.by, x),
    )


def covariates_of(case: Case) -> NDArray[np.float64] | None:
    """Return the columns of the factors to adjust for; seconds go by method."""
    table, columns = case.pieces.table, []
    for name in case.options.adjust_for:
        cells = table.text[name]
        if name not in table.number or len(np.unique(cells)) <= 2:  # noqa: PLR2004
            columns += [cells == level for level in np.unique(cells)[1:]]
            continue
        values = table.number[name]
        groups = np.full(len(values), "")
        if name == "vibration_s" and "vibration_method" in table.text:
            groups = table.text["vibration_method"]
        for group in np.unique(groups):
            inside = groups == group
            columns += [np.where(inside, values - values[inside].mean(), 0.0)]
            columns += [inside]
    if not columns:
        return None
    return np.column_stack([np.asarray(c, dtype=np.float64) for c in columns])


def summaries(
    case: Case, used: NDArray[np.bool_], answer: Fit | None
) -> tuple[GroupSummary, GroupSummary]:
    """Summarise each level by the geometric mean of its pours.

    Pours weigh as in the estimate where that is a plain ratio of the two means, and
    alike where it is joined from several strata or from inside pours.
    """
    table = case.pieces.table
    cluster = label_codes(table.text[case.cluster_by])
    weight = np.ones(int(cluster.max(initial=0)) + 1)
    plain = answer is not None and answer.design.nuisance.shape[1] == 1
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
            n_pours=len(np.unique(table.text["pour"][rows])),
            geometric_mean=float(np.exp(own @ mean / own.sum())),
        )

    return one(case.levels[0], 1.0), one(case.levels[1], 0.0)


def units(case: Case, used: NDArray[np.bool_]) -> tuple[int, int, int]:
    """Return clusters of the first level, of the second, and of both."""
    cluster = case.pieces.table.text[case.cluster_by][used]
    first = set(cluster[case.x[used] > 0].tolist())
    second = set(cluster[case.x[used] == 0].tolist())
    return len(first), len(second), len(first & second)


def unit_of(case: Case, used: NDArray[np.bool_]) -> str:
    """Return what the test counts as one, in words."""
    first, second, both = units(case, used)
    if not both:
        return case.cluster_by
    if both == first == second:
        return f"piece within {case.cluster_by}"
    return f"{case.cluster_by} and piece within {case.cluster_by}"


def strata_estimates(
    case: Case, used: NDArray[np.bool_]
) -> tuple[StratumEstimate, ...]:
    """Estimate the ratio inside each stratum alone."""
    names = np.unique(case.stratum_name[used])
    if len(names) < 2 or len(names) > 24:  # noqa: PLR2004
        return ()
    pour = case.pieces.table.text[case.cluster_by]
    found = []
    for name in names.tolist():
        rows = used & (case.stratum_name == name)
        answer = fit(
            lay_out(
                case.y[rows],
                case.x[rows],
                label_codes(pour[rows]),
                np.zeros(int(rows.sum()), dtype=np.int64),
            )
        )
        if answer is not None:
            first, second = (
                len(np.unique(pour[rows & (case.x == side)])) for side in (1.0, 0.0)
            )
            found.append(
                StratumEstimate(
                    name=name,
                    ratio=float(np.exp(answer.log_ratio)),
                    n_pours=(first, second),
                )
            )
    return tuple(found)
