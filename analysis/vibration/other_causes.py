"""What vibrating does not cure: leaking joints, release, a stiff mix, a worn form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.distributions import t_ppf
from analysis.model.vibration import FirstCause
from analysis.vibration.dose_rows import OF_POURS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered

FIRM = 0.975
FEWEST_POURS = 3
LEAK_RATIO = 1.5  # the joint bands hold at least so many times the open face's share
LEAST_EFFECT = 0.75  # a better level has at most this share of a worse one's
MANY_POURS = 1000  # more than settings: by sums
OFTEN = 0.5
USED = 0.25  # of the late pieces: such a level is part of how one casts
HONEYCOMB_PERCENT = 0.5  # of the face: a patch the size of a hand on a small panel
# Not settings a maker would change to mend a finish.
NO_CAUSE = frozenset(
    {"product_line", "form", "light", "smallest_counted_mm", "cast_on", OF_POURS}
)
NOT_LEAKING = ("", "none", "no")


def joints_leak(gathered: Gathered) -> FirstCause | None:
    """Tell whether the voids sit along the joints.

    The unit is the pour: its mean log ratio of joint band to open face, Student's t
    over the pours. Where a leak was noted at half of the pieces, the bands need only
    hold more than the open face.
    """
    number = gathered.table.number
    if "joint_band_percent" not in number or "open_face_percent" not in number:
        return None
    band, face = number["joint_band_percent"], number["open_face_percent"]
    known = gathered.late & ~np.isnan(band) & ~np.isnan(face)
    pours = np.unique(gathered.doses.pour[known])
    if len(pours) < FEWEST_POURS:
        return None
    ratio = np.log(np.maximum(band, gathered.zero) / np.maximum(face, gathered.zero))
    means = np.array(
        [ratio[known & (gathered.doses.pour == pour)].mean() for pour in pours]
    )
    # Three pours may lie alike by chance: no interval is made of less than 5 %.
    spread = max(float(means.std(ddof=1)), 0.05)
    reach = float(t_ppf(FIRM, len(means) - 1)) * spread / len(means) ** 0.5
    leaks = gathered.table.text.get("leak")
    noted = (
        leaks is not None
        and float(
            np.mean(
                [cell.casefold() not in NOT_LEAKING for cell in leaks[known].tolist()]
            )
        )
        >= OFTEN
    )
    least = 1.0 if noted else LEAK_RATIO
    if means.mean() - reach <= np.log(least):
        return None
    middle = float(means.mean())
    return FirstCause(
        name="joint_band_percent",
        ratio=float(np.exp(middle)),
        low=float(np.exp(middle - reach)),
        high=float(np.exp(middle + reach)),
    )


def stones_show(gathered: Gathered) -> FirstCause | None:
    """Tell whether stones show on most pieces of a mix noted as stiff."""
    table, late = gathered.table, gathered.late
    honeycomb = table.number.get("honeycomb_percent")
    if honeycomb is None or "consistency" not in table.text:
        return None
    known = late & ~np.isnan(honeycomb)
    if len(np.unique(gathered.doses.pour[known])) < FEWEST_POURS:
        return None
    stiff = np.char.startswith(np.char.lower(table.text["consistency"][known]), "stiff")
    patchy = honeycomb[known] >= HONEYCOMB_PERCENT
    if stiff.mean() < OFTEN or patchy.mean() < OFTEN:
        return None
    return FirstCause(name="honeycomb_percent")


def setting_first(
    gathered: Gathered, draws: Draws, now: NDArray[np.float64], high: float
) -> FirstCause | None:
    """Return the setting that surely acts, was used badly lately, and would do.

    Parameters
    ----------
    gathered : Gathered
        Pieces.
    draws : Draws
        Effects of the settings.
    now : ndarray of float64, (d,)
        Log share at the time used now, settings as lately.
    high : float
        Log of the target's upper end.
    """
    found = [
        cause
        for name in dict.fromkeys(one.name for one in gathered.adjusted)
        if name not in NO_CAUSE
        for cause in [_of_setting(name, gathered, draws, now, high)]
        if cause is not None
    ]
    return max(found, key=lambda cause: cause.ratio, default=None)


def _of_setting(
    name: str,
    gathered: Gathered,
    draws: Draws,
    now: NDArray[np.float64],
    high: float,
) -> FirstCause | None:
    mine = [n for n, one in enumerate(gathered.adjusted) if one.name == name]
    columns = gathered.doses.covariates[gathered.late][:, mine]
    if gathered.adjusted[mine[0]].is_slope:
        return _of_slope(name, draws.covariates[:, mine[0]], columns[:, 0], now, high)
    weight = columns.mean(axis=0)
    effect = draws.covariates[:, mine]
    # What the settings do on average lately: taken off `now` it leaves a piece without
    # them, to which one level's effect is added.
    usual = effect @ weight
    best = int(np.argmin(effect.mean(axis=0)))
    used = [n for n in np.flatnonzero(weight >= USED).tolist() if n != best]
    if not used:
        return None
    worst = max(used, key=lambda n: weight[n])
    gain = effect[:, best] - effect[:, worst]
    would_do = np.median(now - usual + effect[:, best]) <= high
    too_high = np.mean(now - usual + effect[:, worst] > high) >= FIRM
    if np.mean(gain < np.log(LEAST_EFFECT)) < FIRM or not (would_do and too_high):
        return None
    levels = [gathered.adjusted[n].level for n in mine]
    ratio, low, high = _spread(-gain)
    return FirstCause(
        name=name,
        better=levels[best],
        worse=levels[worst],
        ratio=ratio,
        low=low,
        high=high,
    )


def _of_slope(
    name: str,
    effect: NDArray[np.float64],
    late: NDArray[np.float64],
    now: NDArray[np.float64],
    high: float,
) -> FirstCause | None:
    """Wear only: of other numbers no side is known to be the better one."""
    if name != "form_use":
        return None
    gone = effect * float(late.mean())
    if np.mean(gone > -np.log(LEAST_EFFECT)) < FIRM or np.median(now - gone) > high:
        return None
    ratio, low, high = _spread(gone)
    return FirstCause(name=name, ratio=ratio, low=low, high=high)


def _spread(logs: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return the median of log ratios as a ratio, with its 95 % interval."""
    low, middle, high = np.exp(np.percentile(logs, [2.5, 50, 97.5])).tolist()
    return middle, low, high


def went_along(gathered: Gathered) -> str | None:
    """Return the setting that went along with the seconds, pour by pour, if one did.

    A setting that explains nine tenths of how the seconds differ from pour to pour
    cannot be told from them.
    """
    u, pour = gathered.doses.u, gathered.doses.pour
    size = np.bincount(pour)
    mean = np.bincount(pour, u) / size
    if np.var(u - mean[pour]) > 0.1 * np.var(u) or np.ptp(mean) <= 0:
        return None
    for name in dict.fromkeys(one.name for one in gathered.adjusted):
        if name == OF_POURS:
            continue
        mine = [n for n, one in enumerate(gathered.adjusted) if one.name == name]
        columns = gathered.doses.covariates[:, mine]
        by_pour = np.column_stack(
            [np.bincount(pour, column) / size for column in columns.T]
        )
        x = np.column_stack([np.ones(len(mean)), by_pour])
        spare = len(mean) - 1 - x.shape[1]
        if spare <= 0 and np.linalg.matrix_rank(x) >= len(mean) - 1:
            continue
        # Of many pours by their sums: a share of nine tenths needs no last digit.
        many = spare > MANY_POURS
        rows, side = (x.T @ x, x.T @ mean) if many else (x, mean)
        left = mean - x @ np.linalg.lstsq(rows, side, rcond=None)[0]
        if np.var(left) <= 0.1 * np.var(mean):
            return name
    return None
