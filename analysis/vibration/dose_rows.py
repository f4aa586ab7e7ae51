"""Which pieces say something about the seconds, and what they are adjusted for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.compare.choices import NOT_CHOSEN
from analysis.compare.design import label_codes, one_word
from analysis.compare.rows import RESULTS, Chosen, column_checked, outer_light
from analysis.errors import TableError
from analysis.fields import role_of
from analysis.model.notes import note
from analysis.model.vibration import DOSE_COLUMNS
from analysis.pieces.likeness import ONE_ONLY, first_choice, like_columns
from analysis.pieces.order import casting_order
from analysis.pieces.pooling import pooled
from analysis.pieces.sealing import JOINTS_SEALED
from analysis.pieces.zeros import log_of, zero_of
from analysis.vibration.dose import Doses, log_seconds

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.notes import Note
    from analysis.model.vibration import VibrationQuestion

OUTCOME = "void_area_percent"
ASKED = ("form_type", "vibration_method", "vibration_s", OUTCOME)
# Standard deviations of log shares that settings act by. Published effects of release
# agents (50 to 95 % fewer pores in one study) and of sealed joints reach a factor of 2
# and more; forms of one type and a drift over the log are supposed to act less.
LEVEL_SD, SLOPE_SD, FORM_SD, DRIFT_SD = 0.6, 1.0, 0.3, 0.3
FEWEST_LATE = 3
MOST_LEVELS = 6
NOT_ADJUSTED_FOR = frozenset(
    {
        *RESULTS,
        *NOT_CHOSEN,
        *ASKED,
        JOINTS_SEALED,
        "form",
        "tool",
        "strokes",
        "passes",
    }
)
DRIFT = "cast_on"
# Pours that got more may have been others to begin with: looked worse, or had other
# hands. Unless a lot dealt it, how pours differ by their amount says nothing of what it
# does; taking the pour's mean out leaves what differs inside pours (Mundlak 1978,
# Econometrica 46:69).
OF_POURS = "pours' own amount"
SMALLEST_CHANGE = 0.02
OF_POURS_SD = 1.5  # of the log share, per unit of log amount


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """A setting adjusted for: a level of a factor, or a slope over its range.

    Attributes
    ----------
    name, level : str
        Column, and its level; ``""`` for a slope.
    low, high : float
        Range of a slope, in the column's own unit.
    """

    name: str
    level: str = ""
    low: float = 0.0
    high: float = 1.0
    is_slope: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gathered:
    """Pieces of one form type and method, ready for the curve.

    Attributes
    ----------
    table : PieceTable
        One row per piece.
    share : ndarray of float64, (n,)
        Percent, zeros as zeros.
    zero : float
        What stands for zero, percent.
    doses : Doses
        For `analysis.vibration.dose`.
    adjusted : tuple of Adjustment
        What each column of ``doses.covariates`` is.
    late : ndarray of bool, (n,)
        Pieces of the latest pours, of the line asked for.
    current_s : float or None
        Median of the latest pour.
    notes : tuple of Note
        What was left out or adjusted for.
    dealt : ndarray of bool, (n,)
        Pieces whose seconds were dealt by lot.
    left_out : int
        Pieces of the form type and method that do not count.
    """

    table: PieceTable
    share: NDArray[np.float64]
    zero: float
    doses: Doses
    adjusted: tuple[Adjustment, ...]
    late: NDArray[np.bool_]
    current_s: float | None
    notes: tuple[Note, ...]
    dealt: NDArray[np.bool_]
    left_out: int

    @property
    def seconds(self) -> NDArray[np.float64]:
        """Return the seconds of each piece."""
        return self.table.number["vibration_s"]

    @property
    def pours(self) -> int:
        """Count the pours."""
        return len(np.unique(self.doses.pour))


def same_word(first: str, second: str) -> bool:
    """Tell whether two words are meant alike.

    Examples
    --------
    >>> same_word("Bench  leg", "bench leg")
    True
    """
    return " ".join(first.casefold().split()) == " ".join(second.casefold().split())


def _same_words(cells: NDArray[np.str_], word: str) -> NDArray[np.bool_]:
    """Tell which cells of a column are meant alike a word."""
    levels, which = np.unique(cells, return_inverse=True)
    alike = np.array([same_word(level, word) for level in levels.tolist()], dtype=bool)
    return alike[which.reshape(-1)]


def gather(table: PieceTable, question: VibrationQuestion) -> Gathered | None:
    r"""Return the pieces a question is about, None where there are none.

    Raises
    ------
    TableError
        A column is missing, or photos of a piece disagree about the seconds.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import read_table
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.004)
    >>> heading = "piece,pour,form_type,vibration_method,vibration_s,void_area_percent"
    >>> rows = "\n1,A,pot,table,30,0.5\n2,A,pot,poker,8,0.9\n"
    >>> found = gather(read_table(heading + rows), asked)
    >>> found.seconds.tolist(), found.notes[0].values
    ([30.0], (('count', 1), ('methods', ('poker',))))
    """
    if not len(table):
        return None
    table = _with_dose(table, question)
    for name in ASKED:
        column_checked(table, name)
    kept, notes, left_out = _alike(table, question)
    if not len(kept):
        return None
    one = outer_light(pooled(kept, alike=("vibration_s",)))
    chosen = Chosen(table=one, value=one.number[OUTCOME], notes=())
    # A face without a void is below any target, whatever the smallest size was.
    least = question.target_low or question.target_high
    zero = min(zero_of(one, chosen.value, OUTCOME), 100 * least / 2)
    seconds = one.number["vibration_s"]
    order = casting_order(one)
    dealt = dealt_rows(one, DOSE_COLUMNS[question.dose])
    adjusted, covariates, sd = _adjusted_for(chosen, order, dealt)
    late = _late(one, order, question.product_line)
    latest = late & (order == order[late].max())
    return Gathered(
        table=one,
        share=chosen.value,
        zero=zero,
        doses=Doses(
            y=log_of(chosen.value, zero),
            u=log_seconds(seconds, seconds),
            pour=label_codes(one.text["pour"]),
            covariates=covariates,
            covariate_sd=sd,
        ),
        adjusted=adjusted,
        late=late,
        current_s=float(np.median(seconds[latest])),
        notes=(*notes, *_allowed_for(adjusted, question)),
        dealt=dealt,
        left_out=left_out,
    )


def _with_dose(table: PieceTable, question: VibrationQuestion) -> PieceTable:
    """Return the table with the amount asked for where the seconds stand."""
    name = DOSE_COLUMNS[question.dose]
    if name == "vibration_s":
        return table
    column_checked(table, name)
    if name not in table.number:
        msg = f"{name} is always blank: log how many were given to each piece."
        raise TableError(msg)
    return replace(
        table,
        text={**table.text, "vibration_s": table.text[name]},
        number={**table.number, "vibration_s": table.number[name]},
    )


def dealt_rows(table: PieceTable, column: str) -> NDArray[np.bool_]:
    r"""Tell which pieces got their amount by lot.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = read_table("piece,pour,dealt\n1,A,by_lot\n2,B,\n")
    >>> dealt_rows(rows, "vibration_s").tolist()
    [True, False]
    """
    cells = table.text.get("dealt")
    if cells is None:
        return np.zeros(len(table), dtype=bool)
    words = np.char.replace(np.char.lower(cells), " ", "_")
    found = words == "by_lot"
    factors = table.text.get("trial_factor")
    if factors is not None:
        found &= (factors == column) | (factors == "")
    return np.asarray(found)


def _alike(
    table: PieceTable, question: VibrationQuestion
) -> tuple[PieceTable, tuple[Note, ...], int]:
    """Take this form type and method, with known share, pour and seconds, one stage."""
    notes: list[Note] = []

    def left(keep: NDArray[np.bool_], gone: NDArray[np.bool_], told: Note) -> int:
        count = int((keep & gone).sum())
        if count:
            notes.append(replace(told, values=(("count", count), *told.values)))
        keep &= ~gone
        return count

    types, methods = table.text["form_type"], table.text["vibration_method"]
    keep = _same_words(types, question.form_type)
    if not keep.any():
        return table.taken(keep), (), 0
    other = ~_same_words(methods, question.method)
    known = sorted(set(methods[keep & other & (methods != "")].tolist()))
    named = other & (methods != "")
    left(keep, named, note("another_method", methods=tuple(known)))
    lost = left(keep, other, note("method_unknown"))
    lost += left(keep, np.isnan(table.number[OUTCOME]), note("not_measured"))
    lost += left(keep, table.text["pour"] == "", note("pour_unknown"))
    unknown = np.isnan(table.number["vibration_s"])
    lost += left(keep, unknown, note("amount_unknown", dose=question.dose))
    for name in ONE_ONLY:
        if name in table.text and keep.any():
            cells = table.text[name]
            best = first_choice(cells[keep], np.unique(cells[keep]).tolist())
            lost += left(keep, cells != best, note("of_another", column=name))
    return table.taken(keep), tuple(notes), lost


def _late(
    table: PieceTable, order: NDArray[np.int64], product_line: str
) -> NDArray[np.bool_]:
    """Tell which pieces come from the latest third of the pours, of the line."""
    mine = np.ones(len(table), dtype=bool)
    if product_line and "product_line" in table.text:
        mine = _same_words(table.text["product_line"], product_line)
        if not mine.any():
            mine[:] = True
    pours = np.unique(order[mine])
    count = max(FEWEST_LATE, -(-len(pours) // 3))
    late: NDArray[np.bool_] = mine & np.isin(order, pours[-count:])
    return late


def _adjusted_for(
    chosen: Chosen, order: NDArray[np.int64], dealt: NDArray[np.bool_]
) -> tuple[tuple[Adjustment, ...], NDArray[np.float64], NDArray[np.float64]]:
    """Return the columns of the settings that varied, and their prior spreads."""
    table = chosen.table
    parts = list(_settings(chosen, pours=len(np.unique(order))))
    if "form" in table.text and len(np.unique(table.text["form"])) > 1:
        parts += _levels("form", table.text["form"], FORM_SD)
    parts += _slope(DRIFT, order.astype(np.float64), DRIFT_SD)
    parts += _of_pours(table, dealt)
    covariates = np.empty((len(table), len(parts)))
    for n, one in enumerate(parts):
        covariates[:, n] = one.column
    spread = np.array([one.spread for one in parts])
    return tuple(one.adjusted for one in parts), covariates, spread


def _allowed_for(
    adjusted: tuple[Adjustment, ...], question: VibrationQuestion
) -> tuple[Note, ...]:
    names = dict.fromkeys(one.name for one in adjusted)
    shown = tuple(name for name in names if name not in {DRIFT, OF_POURS})
    return (note("allowed_for", dose=question.dose, columns=shown),) if shown else ()


class _Part(NamedTuple):
    """A setting adjusted for, its column and how far it may act."""

    adjusted: Adjustment
    column: NDArray[np.float64]
    spread: float


def _settings(chosen: Chosen, *, pours: int) -> Iterator[_Part]:
    """Yield the settings that varied: numbers as slopes, words as levels."""
    table = chosen.table
    alike = like_columns(chosen.table, "vibration_s")
    for name, cells in {**table.text, **alike}.items():
        count = 1 if one_word(cells) else len(np.unique(cells))
        if name == "form_use":
            yield from _slope(name, table.number[name], SLOPE_SD)
        elif name not in alike and (
            name in NOT_ADJUSTED_FOR or role_of(name) in {"result", "name"}
        ):
            continue
        elif name in table.number and count > 2 and name not in alike:  # noqa: PLR2004
            yield from _slope(name, table.number[name], LEVEL_SD / 2)
        elif 1 < count <= min(MOST_LEVELS, max(2, pours // 3)):
            yield from _levels(name, cells, LEVEL_SD)


def _of_pours(table: PieceTable, dealt: NDArray[np.bool_]) -> list[_Part]:
    """Return the mean amount of pours where no lot dealt it."""
    seconds = table.number["vibration_s"]
    u = log_seconds(seconds, seconds)
    pour = label_codes(table.text["pour"])
    mean = (np.bincount(pour, u) / np.bincount(pour))[pour]
    by_lot = (np.bincount(pour, dealt) == np.bincount(pour))[pour]
    if by_lot.all() or np.ptp(mean[~by_lot]) <= SMALLEST_CHANGE:
        return []
    # Pours dealt by lot stay at 0: theirs is not taken from the curve.
    own = np.where(by_lot, 0.0, mean - mean[~by_lot].mean())
    adjusted = Adjustment(name=OF_POURS, is_slope=True)
    return [_Part(adjusted, own, OF_POURS_SD)]


def _levels(name: str, cells: NDArray[np.str_], spread: float) -> list[_Part]:
    return [
        _Part(
            Adjustment(name=name, level=level),
            (cells == level).astype(np.float64),
            spread,
        )
        for level in np.unique(cells).tolist()
    ]


def _slope(name: str, values: NDArray[np.float64], spread: float) -> list[_Part]:
    known = ~np.isnan(values)
    if not known.any() or np.ptp(values[known]) <= 0:
        return []
    low, high = float(values[known].min()), float(values[known].max())
    # Over 0..1, so that the spread is what the whole range may do; unknown ones sit at
    # the mean and say nothing.
    scaled = np.where(known, (values - low) / (high - low), np.nan)
    adjusted = Adjustment(name=name, low=low, high=high, is_slope=True)
    return [_Part(adjusted, np.where(known, scaled, np.nanmean(scaled)), spread)]
