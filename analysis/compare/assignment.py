"""What the levels were assigned to: forms, days, pours, or pieces inside them.

A grouping all of whose groups hold one level (each form had tape or none, never both)
is what was compared, however many pieces it holds. A grouping whose groups hold both is
taken out of the answer instead: as so many free numbers where the levels lean on it (a
form that held tape nearly always), else as a random effect whose spread is found
without looking at the levels, which costs a balanced trial next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from analysis.compare.design import Apart, codes, means
from analysis.compare.many_groups import are_many, share_explained
from analysis.distributions import f_sf
from analysis.model.word_columns import Levels, levels_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

Dealt = Literal["by_lot", "not_by_lot", "unknown"]
FORMS_THEMSELVES = frozenset({"form", "form_type", "product_line"})
LEANS_BELOW = 0.02  # p of levels spread over a grouping's groups as by lot
LEANS_MUCH = 0.5  # share of the levels' spread that a grouping explains
FEWEST_GROUPS = 2
_DAY = len("2026-02-13")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelAssignment:
    """What the levels were assigned to.

    Attributes
    ----------
    unit : str
        ``form``, ``day`` or ``pour``: the coarsest grouping that holds one level in
        each group; ``pour`` where pours hold both.
    group : ndarray of int64, (n,)
        Its group of each row.
    crossing : tuple of Apart
        Other groupings that hold one level in each group, and cross the unit.
    apart : tuple of Apart
        Groupings that hold both levels.
    """

    unit: str
    group: NDArray[np.int64]
    crossing: tuple[Apart, ...]
    apart: tuple[Apart, ...]


def days_of(table: PieceTable) -> Levels | None:
    r"""Return the days on which pieces were cast, None where one is not known.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> found = days_of(read_table("piece,pour,cast_on\n1,A,2026-02-13T08:00\n"))
    >>> found.names.tolist(), found.code.tolist()
    (['2026-02-13'], [0])
    """
    if "cast_on" not in table.text:
        return None
    moments = table.levels("cast_on")
    if (moments.names == "").any():
        return None
    days = levels_of(moments.names.astype(f"U{_DAY}"))
    return Levels(days.names, days.code[moments.code])


def assignment_of(
    table: PieceTable, by: str, x: NDArray[np.float64]
) -> LevelAssignment:
    r"""Tell what the levels were assigned to.

    Parameters
    ----------
    table : PieceTable
        Pieces of the two levels.
    by : str
        The compared factor.
    x : ndarray of float64, (n,)
        1 for the first level, 0 for the second.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "1,A,F1\n2,A,F2\n3,A,F3\n4,B,F1\n5,B,F2\n6,B,F3\n"
    >>> table = read_table("piece,pour,form\n" + rows)
    >>> assignment_of(table, "mix", np.array([1.0, 1, 0, 1, 1, 0])).unit
    'form'
    """
    pour = table.levels("pour").code
    groups = {"pour": pour, **_others(table, by, pour)}
    pure = {name: _holds_one(x, group) for name, group in groups.items()}
    ranked = sorted(
        (name for name in groups if pure[name]),
        key=lambda n: int(groups[n].max(initial=0)),
    )
    unit = ranked[0] if ranked else "pour"
    crossing = tuple(
        Apart(name=name, group=groups[name], leans=True)
        for name in ranked[1:]
        if not _nested(groups[name], groups[unit])
    )
    apart = tuple(
        Apart(name=name, group=group, leans=_leans(x, group, groups, unit, pure))
        for name, group in groups.items()
        if not pure[name] and name != unit
    )
    return LevelAssignment(
        unit=unit, group=groups[unit], crossing=crossing, apart=apart
    )


def _others(
    table: PieceTable, by: str, pour: NDArray[np.int64]
) -> dict[str, NDArray[np.int64]]:
    """Return forms and days that say more than pours do."""
    found: dict[str, NDArray[np.int64]] = {}
    if "form" in table.text and by not in FORMS_THEMSELVES:
        forms = table.levels("form")
        if not (forms.names == "").any():
            found["form"] = forms.code
    days = days_of(table)
    if days is not None:
        found["day"] = days.code
    return {
        name: group
        for name, group in found.items()
        if group.max(initial=0) + 1 >= FEWEST_GROUPS and _groups_pours(group, pour)
    }


def _groups_pours(group: NDArray[np.int64], pour: NDArray[np.int64]) -> bool:
    """Tell whether some group holds pieces of several pours."""
    # More pairs of group and pour than groups: codes run from 0 without a gap.
    return int(codes(group, pour).max(initial=0)) > int(group.max(initial=0))


def _holds_one(x: NDArray[np.float64], group: NDArray[np.int64]) -> bool:
    mean, _ = means(x, group)
    return bool(((mean < 1e-9) | (mean > 1 - 1e-9)).all())  # noqa: PLR2004


def _nested(inner: NDArray[np.int64], outer: NDArray[np.int64]) -> bool:
    """Tell whether each inner group lies in one outer group."""
    return int(codes(inner, outer).max()) == int(inner.max())


def _leans(
    x: NDArray[np.float64],
    group: NDArray[np.int64],
    groups: dict[str, NDArray[np.int64]],
    unit: str,
    pure: dict[str, bool],
) -> bool:
    """Tell whether the levels lean on a grouping more than a lot would let them."""
    home = groups[unit]
    if pure[unit]:  # one row per unit and group
        cell = codes(home, group)
        first = np.zeros(int(cell.max()) + 1, dtype=np.int64)
        first[cell] = np.arange(len(cell))
        x, group, home = x[first], group[first], np.zeros(len(first), dtype=np.int64)
    # F test of the groups on the levels. A lot deals levels inside homes (all units, or
    # the pour of each piece), so home means come off both sides first.
    within = x - means(x, home)[0][home]
    total = float(within @ within)
    if total <= 0:
        return False
    count = int(group.max()) + 1
    if are_many(len(x), count):
        explained, rank = share_explained(x, group, home)
    else:
        dummies = (group[:, None] == np.arange(count)).astype(np.float64)
        dummies -= means(dummies, home)[0][home]
        rank = int(np.linalg.matrix_rank(dummies, tol=1e-8))
        left = within - dummies @ np.linalg.lstsq(dummies, within, rcond=1e-8)[0]
        explained = 1 - float(left @ left) / total
    df = len(x) - int(home.max()) - 1 - rank
    if explained > LEANS_MUCH or df < 1:
        return explained > LEANS_MUCH
    f = explained / max(rank, 1) / ((1 - explained) / df)
    return bool(f_sf(f, max(rank, 1), df) < LEANS_BELOW)


def names_of(by: str) -> list[str]:
    """Return the names under which a lot for a factor may be noted.

    Examples
    --------
    >>> names_of("joints_sealed")
    ['joint_sealing', 'joints_sealed']
    """
    return sorted({by, "joint_sealing"}) if by == "joints_sealed" else [by]


def dealt_of(table: PieceTable, by: str) -> Dealt:
    r"""Tell whether the levels were dealt by lot, as the table says.

    A lot drawn for another factor says nothing about the compared one.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> dealt_of(read_table("piece,pour,dealt\n1,A,by_lot\n2,B,by lot\n"), "mix")
    'by_lot'
    """
    if "dealt" not in table.text or not len(table):
        return "unknown"
    if "trial_factor" in table.text:
        factors = table.levels("trial_factor").names
        if not np.isin(factors, names_of(by)).all():
            return "unknown"
    dealt = table.levels("dealt").names.tolist()
    words = {cell.casefold().replace(" ", "_") for cell in dealt}
    if words <= {"by_lot", "yes"}:
        return "by_lot"
    return "not_by_lot" if words <= {"not_by_lot", "no"} else "unknown"
