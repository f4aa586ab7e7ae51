"""What is cheapest: repair against vibration, sealing and refinishing, per piece.

Repair minutes are a straight line over the void share (a piece has a time of its own
and each percent its minutes), since filling takes time by the area filled. The line,
what an option does to the share, and so each total, are drawn many times together:
pours anew with replacement, the share by the interval it was answered with.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from analysis.checks import number
from analysis.compare.design import label_codes
from analysis.errors import TableError
from analysis.model.comparison import LEAST_POURS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

OptionKind = Literal["as_now", "vibration", "seal", "leave_open", "refinish"]
DRAWS = 2_000
LEAST_PIECES = 8
Z95 = 1.959964
SOLD = ("yes", "1", "true", "second")


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What work and losses cost, in the user's money.

    Attributes
    ----------
    per_hour : float
        An hour of work.
    lost_per_second : float
        Lost when a piece is sold as a second.
    refinish_minutes, refinish_material : float or None
        Refinishing a form once; None leaves that option out.
    """

    per_hour: float
    lost_per_second: float = 0.0
    refinish_minutes: float | None = None
    refinish_material: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be a price."""
        number(self.per_hour, "Cost of an hour", above=0, high=1e6)
        number(self.lost_per_second, "Loss on a second", low=0, high=1e9)
        number(self.refinish_material, "Material of refinishing", low=0, high=1e9)
        if self.refinish_minutes is not None:
            number(self.refinish_minutes, "Minutes of refinishing", low=0, high=1e6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Option:
    """One way to make a piece, before it is priced.

    Attributes
    ----------
    kind : str
        What is done.
    level : str
        Seconds, where it is about them; the form, where it is refinished.
    ratio : ndarray of float64, (d,)
        Draws of the void share over that of now.
    minutes, material : float
        Work and money of it, per piece.
    """

    kind: OptionKind
    level: str
    ratio: NDArray[np.float64]
    minutes: float
    material: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """What an option costs per piece, repair and losses included.

    Attributes
    ----------
    kind, level
        As in `Option`.
    share_percent : float
        Void area to expect.
    make, mend, total : float
        Money for making it so, for repair and seconds, and both.
    saves, saves_low, saves_high : float
        Against now, with the 95 % interval; 0 for now itself.
    """

    kind: OptionKind
    level: str
    share_percent: float
    make: float
    mend: float
    total: float
    saves: float
    saves_low: float
    saves_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cheapest:
    """The options, the cheapest first.

    Attributes
    ----------
    options : tuple of Priced
        Now is among them.
    verdict : str
        ``change`` where the first one surely saves, ``stay`` where every other one
        surely costs more, ``not_clear`` else.
    minutes_per_percent, minutes_low, minutes_high : float
        Repair minutes that one percent of void area takes, 95 % interval.
    minutes_at_none : float
        Repair minutes of a piece without voids, by the line.
    n_pieces, n_pours : int
        What the line rests on.
    missing : tuple of str
        Options that could not be priced: ``sealing``, ``refinish``.
    """

    options: tuple[Priced, ...]
    verdict: Literal["change", "stay", "not_clear"]
    minutes_per_percent: float
    minutes_low: float
    minutes_high: float
    minutes_at_none: float
    n_pieces: int
    n_pours: int
    missing: tuple[str, ...] = ()


class _Lines(NamedTuple):
    """Repair minutes and the chance to be a second: level and slope, each (d + 1,)."""

    minutes: NDArray[np.float64]
    per_percent: NDArray[np.float64]
    second: NDArray[np.float64]
    second_per_percent: NDArray[np.float64]
    pieces: int
    pours: int


def ratio_draws(
    low: float, high: float, draws: int = DRAWS, seed: int = 3
) -> NDArray[np.float64]:
    """Draw a ratio by its 95 % interval, even on the log scale.

    Examples
    --------
    >>> drawn = ratio_draws(0.4, 0.6)
    >>> bool(abs(np.median(drawn) - 0.49) < 0.01)
    True
    """
    random = np.random.default_rng(seed)
    middle, spread = np.log(low * high) / 2, np.log(high / low) / (2 * Z95)
    return np.asarray(np.exp(middle + spread * random.standard_normal(draws)))


def cheapest(
    table: PieceTable,
    options: Sequence[Option],
    share_percent: float,
    prices: Prices,
    *,
    missing: tuple[str, ...] = (),
    seed: int = 20_011,
) -> Cheapest:
    """Price the options of a form type and say which is cheapest.

    Parameters
    ----------
    table : PieceTable
        Pieces with ``void_area_percent`` and ``repair_minutes``; ``second`` where
        known.
    options : sequence of Option
        The first one is as now.
    share_percent : float
        Void area now.
    prices : Prices
        In the user's money.
    missing : tuple of str
        Options that could not be offered, passed on.
    seed : int
        Of the draws.

    Raises
    ------
    TableError
        Repair minutes are known for too few pieces or pours.

    Examples
    --------
    >>> from analysis.pieces.table import piece_table
    >>> random = np.random.default_rng(1)
    >>> rows = [{"piece": n, "pour": n // 2, "void_area_percent": share,
    ...          "repair_minutes": 2 + 6 * share + random.normal(0, 0.5)}
    ...         for n, share in enumerate(random.uniform(0.2, 2.0, 40))]
    >>> now = Option(kind="as_now", level="", ratio=np.ones(DRAWS), minutes=0.0)
    >>> taped = Option(kind="seal", level="", ratio=ratio_draws(0.4, 0.6), minutes=1.0)
    >>> found = cheapest(piece_table(rows), [now, taped], 1.2, Prices(per_hour=30))
    >>> found.verdict, found.options[0].kind, round(found.minutes_per_percent)
    ('change', 'seal', 6)
    """
    lines = _repair_lines(table, seed)
    per_minute = prices.per_hour / 60
    totals, priced = [], []
    for one in options:
        # Place 0 is the estimate, then the draws. The same lines are drawn for all
        # options, so that what they have in common drops out of the savings.
        share = share_percent * np.concatenate([[np.median(one.ratio)], one.ratio])
        second = np.clip(lines.second + lines.second_per_percent * share, 0, 1)
        mend = per_minute * np.maximum(lines.minutes + lines.per_percent * share, 0)
        mend = mend + prices.lost_per_second * second
        make = per_minute * one.minutes + one.material
        totals.append(make + mend)
        priced.append((one, float(share[0]), make, float(mend[0])))
    told = []
    for (one, share_now, make, mend_now), total in zip(priced, totals, strict=True):
        saved = totals[0] - total
        low, high = np.percentile(saved[1:], [2.5, 97.5])
        told.append(
            Priced(
                kind=one.kind,
                level=one.level,
                share_percent=share_now,
                make=make,
                mend=mend_now,
                total=make + mend_now,
                saves=float(saved[0]),
                saves_low=float(low),
                saves_high=float(high),
            )
        )
    slopes = np.percentile(lines.per_percent[1:], [2.5, 97.5])
    others = told[1:]
    told = sorted(told, key=lambda one: one.total)
    verdict: Literal["change", "stay", "not_clear"] = "not_clear"
    if told[0].kind != "as_now" and told[0].saves_low > 0:
        verdict = "change"
    elif others and all(one.saves_high < 0 for one in others):
        verdict = "stay"
    return Cheapest(
        options=tuple(told),
        verdict=verdict,
        minutes_per_percent=float(lines.per_percent[0]),
        minutes_low=float(slopes[0]),
        minutes_high=float(slopes[1]),
        minutes_at_none=float(lines.minutes[0]),
        n_pieces=lines.pieces,
        n_pours=lines.pours,
        missing=missing,
    )


def _repair_lines(table: PieceTable, seed: int) -> _Lines:
    """Fit minutes, and seconds sold, over the share; then again on pours redrawn."""
    share = table.number.get("void_area_percent", np.full(len(table), np.nan))
    minutes = table.number.get("repair_minutes", np.full(len(table), np.nan))
    known = ~np.isnan(share) & ~np.isnan(minutes) & (table.text["pour"] != "")
    pour = label_codes(table.text["pour"][known]) if known.any() else np.empty(0)
    pours = len(np.unique(pour))
    if known.sum() < LEAST_PIECES or pours < LEAST_POURS:
        msg = (
            f"Repair minutes are known for {known.sum()} pieces of {pours} pours: note "
            f"them for at least {LEAST_PIECES} pieces of {LEAST_POURS} pours, 0 where "
            f"nothing was repaired."
        )
        raise TableError(msg)
    x, y = share[known], minutes[known]
    if np.ptp(x) <= 0:
        msg = "All repaired pieces have the same void area: note some others, too."
        raise TableError(msg)
    sold = np.full(len(x), np.nan)
    if "second" in table.text:
        word = np.char.lower(table.text["second"][known])
        sold = np.where(word == "", np.nan, np.isin(word, SOLD).astype(float))
    # Sums per pour are all a straight line needs: redrawing pours adds them up anew.
    fits = []
    for z in (y, sold):
        mine = ~np.isnan(z)
        sums = np.zeros((pours, 5))
        parts = np.column_stack([np.ones(len(x)), x, z, x * x, x * z])[mine]
        np.add.at(sums, pour[mine], parts)
        fits.append(sums)
    random = np.random.default_rng(seed)
    # f[drawn] is (DRAWS, pours, 5): redrawn logs, each added up over its pours.
    drawn = random.integers(pours, size=(DRAWS, pours))
    lines = [
        _line(np.concatenate([[f.sum(axis=0)], f[drawn].sum(axis=1)])) for f in fits
    ]
    return _Lines(*lines[0], *lines[1], pieces=int(known.sum()), pours=pours)


def _line(
    sums: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return level and slope by least squares; more voids never mend faster."""
    n, x, z, xx, xz = sums.T
    count = np.maximum(n, 1)
    # Squares about the mean: 0 where all shares of a redrawn log are equal, and then so
    # is the slope.
    square = xx - x * x / count
    slope = np.where(square > 0, xz - x * z / count, 0) / np.where(
        square > 0, square, 1
    )
    slope = np.maximum(slope, 0.0)
    return np.asarray((z - slope * x) / count), slope
