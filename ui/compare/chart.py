"""The chart of a comparison: every piece a point, grouped by pour."""

from __future__ import annotations

from math import floor, log10
from typing import TYPE_CHECKING, Any, Final

import altair as alt
import numpy as np
import pandas as pd

from ui.compare import words

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison

_SCHEME: Final = "tableau10"
_MOST_POINTS = 2000
_NAME_PX = 30
_POUR_PX = 12
_LEVEL_PX = (90, 260)  # least and most room of a level, its name included
_AXIS_PX = 76
_TICKS = (1.0, 2.0, 5.0)
_CLEAR = 1.5  # from the zeros' own tick on
_AXIS: dict[str, Any] = {"titleFontSize": 14, "labelFontSize": 13}


def piece_chart(comparison: Comparison) -> alt.LayerChart | alt.FacetChart:
    """Draw the pieces of each level, a line for each pour, a bar for each mean.

    Values stand on a log scale; zeros stand left of it under a word of their own.
    """
    frame, level_px = _frame(comparison)
    x_scale = _x_scale(frame)
    x = _x(x_scale, frame, comparison.outcome)
    rows = len(comparison.levels)
    y_scale = alt.Scale(domain=[-0.5, rows - 0.5], reverse=True, nice=False)
    y = alt.Y("place:Q", axis=None, scale=y_scale)
    colour = alt.Color("level:N", legend=None, scale=alt.Scale(scheme=_SCHEME))
    counted = frame[frame["used"] == words.USED]
    pours = counted.groupby(["level", "pour", "place"], as_index=False).agg(
        low=("shown", "min"), high=("shown", "max")
    )
    layers: list[alt.Chart] = [
        alt.Chart(pours)
        .mark_rule(strokeWidth=1.4, opacity=0.45)
        .encode(x=alt.X("low:Q", scale=x_scale), x2="high:Q", y=y, color=colour),
        alt.Chart(frame)
        .mark_point(filled=True, size=60)
        .encode(
            x=x,
            y=y,
            color=colour,
            shape=alt.Shape(
                "used:N",
                legend=None,
                scale=alt.Scale(
                    domain=[words.USED, words.NOT_USED], range=["circle", "cross"]
                ),
            ),
            opacity=alt.condition(
                alt.datum.used == words.USED, alt.value(0.85), alt.value(0.35)
            ),
            tooltip=[
                alt.Tooltip("piece:N", title=words.PIECE),
                alt.Tooltip("pour:N", title=words.POUR),
                alt.Tooltip("value:Q", title=words.axis(comparison.outcome)),
            ],
        ),
        *_means(comparison, frame, x_scale, y_scale, level_px),
        _names(frame, y_scale),
    ]
    chart: alt.LayerChart | alt.FacetChart = alt.layer(*layers).properties(
        height=rows * level_px + _AXIS_PX
    )
    return chart


def points_drawn(comparison: Comparison) -> tuple[int, int]:
    """Return how many pieces are drawn, and of how many."""
    count = len(comparison.pieces.value)
    return min(count, _MOST_POINTS), count


def _frame(comparison: Comparison) -> tuple[pd.DataFrame, int]:
    """Return the pieces with their places, and the px of a level.

    Where there are many pieces, an even part of them is drawn.
    """
    shown = comparison.pieces
    rank = {name: n for n, name in enumerate(comparison.levels)}
    frame = pd.DataFrame(
        {
            "piece": shown.piece,
            "pour": shown.pour,
            "level": [words.level(comparison.by, one) for one in shown.level.tolist()],
            "row": [rank[one] for one in shown.level.tolist()],
            "value": shown.value,
            "used": np.where(shown.used, words.USED, words.NOT_USED),
        }
    )
    drawn, count = points_drawn(comparison)
    frame = frame.iloc[np.linspace(0, count - 1, drawn).astype(np.int64)].copy()
    order = frame.groupby("row")["pour"].transform(
        lambda pours: pd.factorize(pours)[0].astype(float)
    )
    level_px = int(np.clip(_NAME_PX + _POUR_PX * (order.max() + 1), *_LEVEL_PX))
    most = order.groupby(frame["row"]).transform("max").clip(lower=1)
    room = 1 - (_NAME_PX + _POUR_PX) / level_px
    frame["place"] = frame["row"] - 0.5 + _NAME_PX / level_px + order / most * room
    frame["shown"] = frame["value"].clip(lower=_floor(frame["value"]))
    return frame, level_px


def _floor(values: pd.Series[float]) -> float:
    """Return where zeros are drawn on the log scale."""
    positive = values[values > 0]
    if positive.empty:
        return 1.0
    least = float(positive.min())
    return least / 2 if (values <= 0).any() else least


def _x_scale(frame: pd.DataFrame) -> alt.Scale:
    low, high = float(frame["shown"].min()), float(frame["shown"].max())
    return alt.Scale(type="log", domain=[low / 1.25, high * 1.25], nice=False)


def _x(scale: alt.Scale, frame: pd.DataFrame, outcome: str) -> alt.X:
    """Mark 1, 2 and 5 of each power of ten, and where the zeros stand."""
    low, high = float(frame["shown"].min()), float(frame["shown"].max())
    powers = range(floor(log10(low)) - 1, floor(log10(high)) + 2)
    ticks = [tick * 10.0**power for power in powers for tick in _TICKS]
    word = "''"
    if (frame["value"] <= 0).any():
        ticks = [low, *(tick for tick in ticks if tick > low * _CLEAR)]
        word = f"abs(datum.value - {low!r}) < 1e-9 * {low!r} ? '{words.ZEROS}' : ''"
    ticks = [tick for tick in ticks if low / 1.25 <= tick <= high * 1.25]
    return alt.X("shown:Q", title=words.axis(outcome), scale=scale).axis(
        values=ticks,
        labelExpr=f"({word}) || format(datum.value, '~g')",
        labelOverlap=True,
        **_AXIS,
    )


def _means(
    comparison: Comparison,
    frame: pd.DataFrame,
    x_scale: alt.Scale,
    y_scale: alt.Scale,
    level_px: int,
) -> list[alt.Chart]:
    """Upright bars at the geometric mean of each level."""
    found = {
        group.name: group.geometric_mean
        for pair in comparison.pairs
        for group in pair.groups
    }
    least = float(frame["shown"].min())
    bars = pd.DataFrame(
        [
            {
                "mean": max(mean, least),
                "top": row - 0.5 + (_NAME_PX - _POUR_PX / 2) / level_px,
                "foot": row + 0.5 - _POUR_PX / 2 / level_px,
            }
            for row, name in enumerate(comparison.levels)
            if (mean := found.get(name)) is not None
        ]
    )
    if bars.empty:
        return []
    return [
        alt.Chart(bars)
        .mark_rule(strokeWidth=4, color="black", opacity=0.75)
        .encode(
            x=alt.X("mean:Q", scale=x_scale),
            y=alt.Y("top:Q", axis=None, scale=y_scale),
            y2="foot:Q",
        )
    ]


def _names(frame: pd.DataFrame, y_scale: alt.Scale) -> alt.Chart:
    """Names of the levels, above their points."""
    names = frame.groupby("row", as_index=False)["level"].first()
    names["top"] = names["row"] - 0.5
    chart: alt.Chart = (
        alt.Chart(names)
        .mark_text(align="left", baseline="top", fontSize=15, fontWeight="bold", dy=4)
        .encode(
            x=alt.value(6), y=alt.Y("top:Q", axis=None, scale=y_scale), text="level:N"
        )
    )
    return chart
