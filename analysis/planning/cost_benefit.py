"""Cost and benefit of sealing: minutes and money against repairs and seconds sold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number
from analysis.compare.design import label_codes
from analysis.errors import TableError
from analysis.model.comparison import LEAST_POURS
from analysis.model.field_words import column_words, words_beside

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

DRAWS = 4_999


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What a piece costs to make well, per piece.

    Attributes
    ----------
    minutes : float
        Extra work of the first level (sealing the joints), minutes.
    material : float
        Extra material, in the user's money.
    per_hour : float
        What an hour of work costs.
    lost_per_second : float
        Money lost when a piece is sold as a second.
    """

    minutes: float
    material: float
    per_hour: float
    lost_per_second: float = 0.0

    def __post_init__(self) -> None:
        """Refuse negative costs."""
        number(self.minutes, "Minutes", low=0)
        number(self.material, "Material", low=0)
        number(self.per_hour, "Cost of an hour", low=0)
        number(self.lost_per_second, "Loss on a second", low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostBenefit:
    """Money gained per piece by the first level.

    Attributes
    ----------
    gain, gain_low, gain_high : float or None
        Per piece, with its 95 % interval; limits None below four pours a side.
    repair_minutes_saved : float or None
        Per piece; None where repair times are not known.
    seconds_saved : float or None
        Share of pieces no longer sold as seconds, -1..1; None where not known.
    verdict : str
        ``worth_it``, ``not_worth_it`` or ``not_clear``.
    n_pours : tuple of int
        Of the first and the second level.
    """

    gain: float
    gain_low: float | None
    gain_high: float | None
    repair_minutes_saved: float | None
    seconds_saved: float | None
    verdict: str
    n_pours: tuple[int, int]


def _known(table: PieceTable, name: str) -> bool:
    return name in table.number and not np.isnan(table.number[name]).all()


def _losses(table: PieceTable, costs: Costs, second: str) -> NDArray[np.float64]:
    """Return money lost per piece to repairs and seconds, NaN where not known."""
    loss = np.zeros(len(table))
    if _known(table, "repair_minutes"):
        loss = loss + table.number["repair_minutes"] / 60 * costs.per_hour
    if second in table.text:
        word = np.char.lower(table.text[second])
        share = np.where(
            word == "", np.nan, np.isin(word, ("yes", "1", "true", "second"))
        )
        loss = loss + share * costs.lost_per_second
    return loss


def _mean_gap(values: NDArray[np.float64], x: NDArray[np.float64]) -> float | None:
    first, second = (
        values[(x > 0) & ~np.isnan(values)],
        values[(x == 0) & ~np.isnan(values)],
    )
    if not len(first) or not len(second):
        return None
    return float(second.mean() - first.mean())


def _by_pour(loss: NDArray[np.float64], pour: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the summed loss and the count of each pour, (p, 2)."""
    count = np.bincount(pour)
    kept = count > 0
    return np.column_stack([np.bincount(pour, loss)[kept], count[kept]])


def cost_benefit(
    table: PieceTable,
    by: str,
    levels: tuple[str, str],
    costs: Costs,
    *,
    second: str = "second",
    seed: int = 20_011,
) -> CostBenefit:
    """Weigh the extra cost of the first level against what it saves.

    Pours are drawn anew with replacement (bootstrap of clusters, studentised) to
    carry their spread into the interval.

    Parameters
    ----------
    table : PieceTable
        With ``repair_minutes`` and, or, a column that says which pieces were sold as
        seconds (yes / no).
    by : str
        The factor, for example ``joints_sealed``.
    levels : tuple of str
        The level that costs more first.
    costs : Costs
        Per piece.
    second : str
        Name of the column for seconds.
    seed : int
        Of the draws.

    Raises
    ------
    TableError
        A column or level is missing.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = ["piece,pour,mix,repair_minutes"]
    >>> for n in range(16):
    ...     rows.append(f"{n},{n},{'a' if n % 2 else 'b'},{n % 3 + 20 * (1 - n % 2)}")
    >>> table = read_table(chr(10).join(rows))
    >>> costs = Costs(minutes=3, material=0.5, per_hour=30)
    >>> cost_benefit(table, "mix", ("a", "b"), costs).verdict
    'worth_it'
    """
    if by not in table.text:
        msg = f"There is no factor {by!r} in the table: take a column of it."
        raise TableError(msg)
    if not _known(table, "repair_minutes") and second not in table.text:
        msg = (
            f"Neither repair_minutes nor {second!r}{words_beside(second)} is known: "
            f"note repair times, or "
            f"which pieces were sold as seconds."
        )
        raise TableError(msg)
    loss = _losses(table, costs, second)
    rows = (
        np.isin(table.text[by], levels) & ~np.isnan(loss) & (table.text["pour"] != "")
    )
    used, loss = table.taken(rows), loss[rows]
    x = (used.text[by] == levels[0]).astype(np.float64)
    for level, side in zip(levels, (1.0, 0.0), strict=True):
        if not (x == side).any():
            msg = (
                f"No piece with {column_words(by)} {level!r} has a known loss: note "
                f"some first."
            )
            raise TableError(msg)
    extra = costs.minutes / 60 * costs.per_hour + costs.material
    sides = [
        _by_pour(loss[x == side], label_codes(used.text["pour"][x == side]))
        for side in (1.0, 0.0)
    ]
    gain = float(_mean(sides[1]) - _mean(sides[0])) - extra
    low, high = _interval(sides, gain, extra, seed)
    verdict = "not_clear"
    if low is not None and high is not None:
        verdict = "worth_it" if low > 0 else "not_worth_it" if high < 0 else "not_clear"
    repairs = used.number.get("repair_minutes", np.full(len(used), np.nan))
    seconds = np.full(len(used), np.nan)
    if second in used.text:
        seconds = _losses(
            used, Costs(minutes=0, material=0, per_hour=0, lost_per_second=1), second
        )
    return CostBenefit(
        gain=gain,
        gain_low=low,
        gain_high=high,
        repair_minutes_saved=_mean_gap(repairs, x),
        seconds_saved=_mean_gap(seconds, x),
        verdict=verdict,
        n_pours=(len(sides[0]), len(sides[1])),
    )


def _mean(pours: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean per piece of pours given as total and count, (..., p, 2)."""
    total = pours.sum(axis=-2)
    return np.asarray(total[..., 0] / total[..., 1])


def _error2(pours: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the squared standard error of that mean, pours as the units."""
    count = pours.shape[-2]
    # A mean per piece is a ratio of totals: its error is that of the totals about what
    # their counts would lead one to expect (linearised).
    left = pours[..., 0] - _mean(pours)[..., None] * pours[..., 1]
    whole = pours[..., 1].sum(axis=-1) ** 2
    return np.asarray((left**2).sum(axis=-1) * count / (count - 1) / whole)


def _interval(
    sides: list[NDArray[np.float64]], gain: float, extra: float, seed: int
) -> tuple[float | None, float | None]:
    if min(len(side) for side in sides) < LEAST_POURS:
        return None, None
    error = float(np.sqrt(sum(_error2(side) for side in sides)))
    if error <= 0:
        return None, None
    random = np.random.default_rng(seed)
    drawn = [
        side[random.integers(len(side), size=(DRAWS, len(side)))] for side in sides
    ]
    gaps = _mean(drawn[1]) - _mean(drawn[0]) - extra
    errors = np.sqrt(_error2(drawn[0]) + _error2(drawn[1]))
    # A redrawn set of one and the same pour has no error to divide by.
    usable = errors > error * 1e-6
    student = (gaps[usable] - gain) / errors[usable]
    # The upper tail of t sets the lower end, and the other way round.
    reach = np.quantile(student, [0.975, 0.025])
    return float(gain - reach[0] * error), float(gain - reach[1] * error)
