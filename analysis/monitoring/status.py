"""Is it drifting? The answer a chart gives, in brief."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.model.field_words import column_words
from analysis.model.monitoring import ChartStatus
from analysis.model.sizes import against_usual
from analysis.monitoring.baseline import FEWEST_POURS
from analysis.monitoring.limits import EWMA_WEIGHT, SIGMAS, ewma
from analysis.monitoring.note_words import spelt
from analysis.monitoring.rules import BEYOND, SMOOTHED, smoothed_half_width

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import Track

# A mark this many pours ago or less is about now.
STILL_NOW = 3
# False alarms above this share of pours are too many to speak plainly.
OFTEN = 0.1


def chart_status(result: Track) -> ChartStatus:
    """Say where the newest pours stand against their baseline.

    Parameters
    ----------
    result : Track
        From `analysis.monitoring.charts.track`.

    Returns
    -------
    ChartStatus
        Of the pours since the last break.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> shares = [0.010, 0.012, 0.011, 0.009] * 3
    >>> chart_status(track(pieces(shares))).state
    'steady'
    >>> found = chart_status(track(pieces([*shares, 0.05])))
    >>> found.state, found.more_voids
    ('one_pour', True)
    """
    points = result.points
    last = len(points) - 1
    start = int(np.argmax(points.era == points.era[last]))
    if np.isnan(points.centre[last]):
        return ChartStatus(state="too_early", n_pours=last + 1 - start)
    signals = points.signals[:, start:]
    marked = np.flatnonzero(signals.any(axis=0)) + start
    if not len(marked):
        return ChartStatus(state="steady", n_pours=last + 1 - start)
    at = int(marked[-1])
    alone = _alone(result, marked)
    if alone is not None:
        at = alone
    level = points.smoothed[at] if alone is None else points.value[at]
    state = "drifting" if alone is None else "one_pour"
    return ChartStatus(
        state=state if last - at < STILL_NOW else "over",
        n_pours=last + 1 - start,
        at=at,
        more_voids=bool(level > points.centre[at]),
        times=float(level / points.centre[at]),
    )


def _alone(result: Track, marked: NDArray[np.intp]) -> int | None:
    """Return the one pour that stands out, None where more than it is off.

    The smoothed mean stays out for a while after a single wild pour; where it would
    not have gone out without that pour, there is no drift.
    """
    points = result.points
    parted = np.flatnonzero(np.diff(marked) > 1)
    together = marked[parted[-1] + 1 :] if len(parted) else marked
    first, later = int(together[0]), together[1:]
    row = {rule: i for i, rule in enumerate(result.rules)}
    lasting = np.array([i for rule, i in row.items() if rule != SMOOTHED], np.intp)
    if BEYOND not in row or not points.signals[row[BEYOND], first]:
        return None
    if points.signals[np.ix_(lasting, later)].any():
        return None
    era = np.flatnonzero(points.era == points.era[first])
    # Lower limits are never capped, as upper ones are: from them each pour's own sigma.
    sigma = np.log(points.centre[era] / points.lower[era]) / SIGMAS
    standard = np.log(points.value[era] / points.centre[era]) / sigma
    without = np.delete(standard, first - era[0])
    width = smoothed_half_width(len(without), int(points.in_baseline[era].sum()))
    # Without the wild pour each later place is one less.
    still = np.abs(ewma(without, 0.0, EWMA_WEIGHT)) > width
    return None if still[later - era[0] - 1].any() else first


def track_sentence(result: Track) -> str:
    """Answer in one sentence whether the finish is drifting.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> track_sentence(track(pieces([0.01, 0.02])))
    'Too early to tell: 2 pours so far, 8 are needed.'
    """
    found = chart_status(result)
    pours = f"{found.n_pours} pour{'' if found.n_pours == 1 else 's'}"
    if found.state == "too_early":
        if found.n_pours >= FEWEST_POURS:
            return "Too early to tell: the pours so far are all the same."
        since = " since the change" if result.breaks else " so far"
        return f"Too early to tell: {pours}{since}, {FEWEST_POURS} are needed."
    if found.at is None:
        return f"No drift: none of {pours} stands out."
    pour = result.points.pour[found.at]
    more = "more" if found.more_voids else "fewer"
    size = against_usual(1.0 if found.times is None else found.times)
    sure = f"from {pours}: {_how_sure(result)}"
    if found.state == "one_pour":
        return f"Pour {pour} stands out: {size}, {sure}."
    if found.state == "drifting":
        return f"Drifting to {more} voids: at pour {pour}, {size}, {sure}."
    return f"Steady now; pour {pour} was the last to stand out, with {size}."


def track_summary(result: Track) -> str:
    """Say in a few plain lines what the chart shows.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> print(track_summary(track(pieces([0.01, 0.02]))))
    Too early to tell: 2 pours so far, 8 are needed.
    Newest: pour P0002, 2.00 % void area.
    """
    points = result.points
    last = len(points) - 1
    limits = ""
    if not np.isnan(points.centre[last]):
        lower, centre, upper = (
            100 * float(line[last])
            for line in (points.lower, points.centre, points.upper)
        )
        limits = f", usual {centre:.2f} % ({lower:.2f} to {upper:.2f} %)"
    value = 100 * float(points.value[last])
    newest = f"Newest: pour {points.pour[last]}, {value:.2f} % void area{limits}."
    marked = np.flatnonzero(points.signals.any(axis=0))
    names = ", ".join(points.pour[marked[-5:]].tolist())
    lines = [
        track_sentence(result),
        newest,
        f"Pours that stand out: {len(marked)}, the latest {names}."
        if len(marked)
        else "",
        track_of(result),
    ]
    return "\n".join(line for line in lines if line)


def track_of(result: Track) -> str:
    """Say which pieces are followed; empty where all are.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> track_of(track(pieces([0.01, 0.02])))
    ''
    """
    of = "; ".join(
        f"{column_words(name)} {spelt(name, value)}"
        for name, value in result.of
        if value
    )
    return f"Followed: {of}." if of else ""


def _how_sure(result: Track) -> str:
    """Temper the answer where a short baseline often marks steady pours."""
    rate = result.false_alarm_rate
    if rate is None or rate < OFTEN:
        return "clear"
    points = result.points
    n = int((points.in_baseline & (points.era == points.era[-1])).sum())
    return f"perhaps by chance, with only {n} pours to go by"
