"""The chart of the void share against the seconds."""

from __future__ import annotations

from functools import partial
from math import floor, log10
from typing import TYPE_CHECKING

import altair as alt
import numpy as np
import pandas as pd

from ui.vibration import words
from ui.widgets.inks import BY_DAY, axis_of

if TYPE_CHECKING:
    from analysis.model.vibration import DoseCurve, VibrationAnswer
    from ui.widgets.inks import Inks

_HEIGHT = 320
_TICKS = (1.0, 2.0, 5.0)
_ROOM = 1.25  # above the highest and below the lowest


def dose_chart(
    answer: VibrationAnswer, inks: Inks = BY_DAY
) -> alt.LayerChart | alt.FacetChart:
    """Draw every piece, what to expect of a usual one, and the finish wanted."""
    pieces = pd.DataFrame(
        {
            "piece": answer.pieces.piece,
            "pour": answer.pieces.pour,
            "seconds": answer.pieces.seconds,
            "percent": 100 * answer.pieces.share,
        }
    )
    positive = pieces["percent"][pieces["percent"] > 0]
    floor_percent = float(positive.min()) if len(positive) else 0.01
    if (pieces["percent"] <= 0).any():
        floor_percent /= 2
    pieces["shown"] = pieces["percent"].clip(lower=floor_percent)
    domain = _domain(pieces["shown"], answer)
    y_scale = alt.Scale(type="log", domain=domain, nice=False)
    y = alt.Y("shown:Q", scale=y_scale, title=words.AXIS_SHARE).axis(
        values=_ticks(*domain), format="~g", labelOverlap=True, **axis_of(inks)
    )
    x = alt.X(
        "seconds:Q",
        title=words.AXES[answer.question.dose],
        scale=alt.Scale(zero=False, nice=False, padding=12),
    ).axis(tickCount=6, format=".2~f", **axis_of(inks))
    points = (
        alt.Chart(pieces)
        .mark_point(filled=True, size=55, opacity=0.55, color=inks.text)
        .encode(
            x=x,
            y=y,
            tooltip=[
                alt.Tooltip("piece:N", title=words.PIECE),
                alt.Tooltip("pour:N", title=words.POUR),
                alt.Tooltip("seconds:Q", title=words.AXES[answer.question.dose]),
                alt.Tooltip("percent:Q", title=words.AXIS_SHARE, format=".2~g"),
            ],
        )
    )
    layers: list[alt.Chart] = [*_wanted(answer, domain, y_scale, inks), points]
    if answer.curve is not None:
        tried = pieces["seconds"]
        ends = (float(tried.min()), float(tried.max()))
        layers = [*_expected(answer.curve, x, y_scale, ends, inks), *layers]
    layers += _times(answer, x, inks)
    layered: alt.LayerChart | alt.FacetChart = alt.layer(*layers)
    return layered.properties(height=_HEIGHT)


def _times(answer: VibrationAnswer, x: alt.X, inks: Inks) -> list[alt.Chart]:
    """Mark what is used now and what is suggested; one mark where they are the same."""
    now, then = answer.current_s, answer.suggested_s
    told = {words.NOW: now, words.SUGGESTED: then}
    if now is not None and now == then:
        told = {words.NOW_AND_SUGGESTED: now}
    marks = [(said, at) for said, at in told.items() if at is not None]
    if not marks:
        return []
    frame = pd.DataFrame(marks, columns=["said", "seconds"])
    frame["top"] = [14 * place for place in range(len(frame))]
    base = alt.Chart(frame)
    rule = base.mark_rule(color=inks.first, strokeWidth=2).encode(x=x)
    word = partial(base.mark_text, align="left", dx=5, baseline="top", fontSize=13)
    # On a phone a word reaches over the other mark: its edge hides that behind it.
    edge = word(stroke=inks.ground, strokeWidth=5)
    label = word(color=inks.text)
    y = alt.Y("top:Q", scale=None, axis=None)
    return [rule, *(one.encode(x=x, y=y, text="said:N") for one in (edge, label))]


def _expected(
    curve: DoseCurve,
    x: alt.X,
    y_scale: alt.Scale,
    tried: tuple[float, float],
    inks: Inks,
) -> list[alt.Chart]:
    """Draw what to expect: a whole line where times were tried, dashes beyond."""
    frame = pd.DataFrame(
        {
            "seconds": curve.seconds,
            "middle": 100 * curve.middle,
            "low": 100 * curve.low,
            "high": 100 * curve.high,
        }
    )
    base = alt.Chart(frame)
    band = base.mark_area(opacity=0.22, color=inks.first, clip=True).encode(
        x=x, y=alt.Y("low:Q", scale=y_scale), y2="high:Q"
    )
    y = alt.Y("middle:Q", scale=y_scale)
    beyond = base.mark_line(
        strokeWidth=2, strokeDash=[3, 5], color=inks.first, clip=True
    ).encode(x=x, y=y)
    inside = frame[frame["seconds"].between(*tried)]
    line = (
        alt.Chart(inside)
        .mark_line(strokeWidth=3, color=inks.first, clip=True)
        .encode(x=x, y=y)
    )
    return [band, beyond, line]


def _wanted(
    answer: VibrationAnswer, domain: list[float], y_scale: alt.Scale, inks: Inks
) -> list[alt.Chart]:
    ends = (100 * answer.question.target_low, 100 * answer.question.target_high)
    shown = [end for end in ends if domain[0] <= end <= domain[1]]
    return [
        alt.Chart(pd.DataFrame({"end": shown}))
        .mark_rule(strokeDash=[6, 4], strokeWidth=1.8, color=inks.text)
        .encode(y=alt.Y("end:Q", scale=y_scale))
    ]


def _domain(shown: pd.Series[float], answer: VibrationAnswer) -> list[float]:
    """Hold the pieces and the target's ends, with a little room."""
    values = [*shown.tolist(), 100 * answer.question.target_high]
    if answer.question.target_low > 0:
        values.append(100 * answer.question.target_low)
    return [min(values) / _ROOM, min(max(values) * _ROOM, 100.0)]


def _ticks(low: float, high: float) -> list[float]:
    powers = np.arange(floor(log10(low)), floor(log10(high)) + 1)
    ticks = [tick * 10.0**power for power in powers for tick in _TICKS]
    return [tick for tick in ticks if low <= tick <= high]
