"""What is cheapest for a form type or a form, by the log's own figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.choices import narrowed
from analysis.compare.compare import compare
from analysis.errors import InputError, NotInLogError, TableError
from analysis.model.comparison import CompareOptions
from analysis.pieces.sealing import JOINTS_SEALED
from analysis.planning.cheapest import DRAWS, Option, Prices, cheapest, ratio_draws
from analysis.services.next_steps import answered
from analysis.vibration.dose_answer import expected_shares

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.outlook import FormWear
    from analysis.model.vibration import VibrationQuestion
    from analysis.planning.cheapest import Cheapest
    from analysis.services.planner_shop import Shop

__all__ = ["Prices", "cheapest_of_form", "cheapest_of_type"]

MOST_TIMES = 6
LATE = 8  # pieces that say how the joints are kept now
LATE_CASTINGS = 3
SECONDS_A_MINUTE = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sealing:
    """How joints are kept now, and what sealing takes and does."""

    sealed_now: bool
    minutes: float
    material: float
    ratio: NDArray[np.float64] | None  # sealed over open


def cheapest_of_type(
    shop: Shop, question: VibrationQuestion, prices: Prices
) -> Cheapest:
    """Price the times that were tried, and sealing or leaving joints open.

    Raises
    ------
    TableError
        Repair minutes, or pieces, are too few; says what to log.
    """
    table = narrowed(shop.table, alike={"form_type": question.form_type})
    now = answered(shop, question)[0].current_s
    times, shares = _times(table, question, now)
    at = int(np.argmin(np.abs(times - (times[0] if now is None else now))))
    share_now = float(np.exp(np.median(shares[:, at])))
    sealing, missing = _sealing(table)
    kept = sealing.minutes if sealing and sealing.sealed_now else 0.0
    bought = sealing.material if sealing and sealing.sealed_now else 0.0
    worked = times / SECONDS_A_MINUTE
    options = [_now(worked[at] + kept, bought)]
    for n in range(len(times)):
        if n != at:
            gained = np.exp(shares[:, n] - shares[:, at])
            options.append(
                Option(
                    kind="vibration",
                    level=f"{times[n]:g}",
                    ratio=_even(gained),
                    minutes=float(worked[n] + kept),
                    material=bought,
                )
            )
    if sealing is not None and sealing.ratio is not None:
        options.append(_other_joints(sealing, float(worked[at])))
    return cheapest(shop.table, options, share_now, prices, missing=missing)


def cheapest_of_form(shop: Shop, form: str, prices: Prices) -> Cheapest:
    """Price refinishing a form that wears, against casting on in it.

    A refinished face is taken to last as many castings as this one has in the log.

    Raises
    ------
    NotInLogError
        There is no measured casting of that form.
    InputError
        What refinishing takes is not given, or the form shows no wear.
    TableError
        Repair minutes are too few; says what to log.
    """
    wear = shop.wear([form]).get(form)
    if wear is None:
        msg = f"There is no measured casting of form {form!r}: choose another."
        raise NotInLogError(msg)
    if prices.refinish_minutes is None:
        msg = "What refinishing takes is not given: type its minutes."
        raise InputError(msg)
    uses, ratio = _worn_by(wear)
    share_now = 100 * float(np.exp(np.log(wear.share[-LATE_CASTINGS:]).mean()))
    # The face wears anew: over its life it is, on average, half as worn (in log).
    options = [
        _now(0.0, 0.0),
        Option(
            kind="refinish",
            level=form,
            ratio=ratio**-0.5,
            minutes=prices.refinish_minutes / uses,
            material=prices.refinish_material / uses,
        ),
    ]
    return cheapest(shop.table, options, share_now, prices)


def _now(minutes: float, material: float) -> Option:
    return Option(
        kind="as_now",
        level="",
        ratio=np.ones(DRAWS),
        minutes=float(minutes),
        material=material,
    )


def _times(
    table: PieceTable, question: VibrationQuestion, now: float | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the times tried with the one used now, and draws of log shares there."""
    blank = np.full(len(table), np.nan)
    used = table.text.get("vibration_method", blank.astype(str)) == question.method
    from_log = table.number.get("vibration_s", blank)[used]
    from_log = from_log[~np.isnan(from_log)]
    tried = np.unique(from_log)
    if not len(tried):
        msg = (
            f"No {question.form_type} by {question.method} has a time: log the seconds."
        )
        raise TableError(msg)
    if len(tried) > MOST_TIMES:
        tried = np.quantile(tried, np.linspace(0, 1, MOST_TIMES), method="nearest")
    times = tried if now is None else np.union1d(tried, [now])
    shares = expected_shares(table, question, times)
    if shares is None:
        msg = f"No {question.form_type} by {question.method} is measured: measure some."
        raise TableError(msg)
    return times, shares


def _sealing(table: PieceTable) -> tuple[_Sealing | None, tuple[str, ...]]:
    """Read what sealing takes and does; say so where the log does not tell."""
    sealed = table.text.get(JOINTS_SEALED, np.full(len(table), ""))
    known = sealed[np.isin(sealed, ("yes", "no"))]
    if not len(known):
        return None, ()
    minutes = table.number.get("sealing_min", np.full(len(table), np.nan))
    cost = table.number.get("sealing_cost", np.full(len(table), np.nan))
    taken, bought = minutes[sealed == "yes"], cost[sealed == "yes"]
    if not len(taken) or np.isnan(taken).all():
        return None, ("sealing",)
    ratio = None
    try:
        pair = compare(table, CompareOptions(by=JOINTS_SEALED, levels=("yes", "no")))
        low, high = pair.head.ratio_low, pair.head.ratio_high
        if low and high and pair.head.verdict != "cannot_separate":
            ratio = ratio_draws(low, high)
    except (InputError, TableError):
        ratio = None
    return _Sealing(
        sealed_now=bool(np.mean(known[-LATE:] == "yes") > 0.5),  # noqa: PLR2004  most
        minutes=float(np.nanmean(taken)),
        material=0.0 if np.isnan(bought).all() else float(np.nanmean(bought)),
        ratio=ratio,
    ), ()


def _other_joints(sealing: _Sealing, minutes: float) -> Option:
    """Return the joints as they are not kept now."""
    assert sealing.ratio is not None  # noqa: S101  the caller has looked
    if sealing.sealed_now:
        return Option(
            kind="leave_open", level="", ratio=1 / sealing.ratio, minutes=minutes
        )
    return Option(
        kind="seal",
        level="",
        ratio=sealing.ratio,
        minutes=minutes + sealing.minutes,
        material=sealing.material,
    )


def _even(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return `DRAWS` of the draws, so that every option has as many."""
    return np.resize(ratio, DRAWS)


def _worn_by(wear: FormWear) -> tuple[float, NDArray[np.float64]]:
    """Return the castings of a face, and how much worse it became over them."""
    trend = wear.face
    if trend is None or trend.shape == "none":
        msg = f"Form {wear.name} shows no wear: there is nothing to refinish."
        raise InputError(msg)
    uses = max(float(wear.use.max() - wear.use.min()), 1.0)
    drawn = ratio_draws(max(trend.ratio_low, 1e-6), max(trend.ratio_high, 1e-6))
    return uses, np.maximum(drawn, 1.0) ** (uses / 10)
