"""The chart of a comparison: every piece a point, pairs of one pour joined."""

from __future__ import annotations

from math import floor, log10
from typing import TYPE_CHECKING

import altair as alt
import numpy as np
import pandas as pd

from analysis.model.field_words import label_of
from ui.compare import words
from ui.widgets.inks import BY_DAY, axis_of, legend_of

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison
    from ui.widgets.inks import Inks

_MOST_POINTS = 2000
_MOST_PAIRS = 80
_NAME_PX = 30
_POUR_PX = 12
_LEVEL_PX = (90, 260)  # least and most room of a level, its name included
_PAIR_PX = (5, 24)  # least and most room of a pour that holds both levels
_PAIRS_PX = 360
_OUT_PX = 70  # room of the pieces left out, below the pairs
_AXIS_PX = 76
_TICKS = (1.0, 2.0, 5.0)
_CLEAR = 1.5  # from the zeros' own tick on
_SHAPES = ["circle", "diamond"]
_TWO = 2


def piece_chart(
    comparison: Comparison, inks: Inks = BY_DAY, *, left_out: bool = False
) -> alt.LayerChart | alt.FacetChart:
    """Draw the pieces that count; those left out too, where that is asked for.

    Where most pours hold both levels, a line joins them in each pour. Else each level
    has a row, and a line each pour. A bar stands at each level's mean. Values stand on
    a log scale; zeros stand left of it under a word of their own.
    """
    frame = _pieces(comparison, left_out=left_out)
    if is_paired(comparison):
        return _pairs_chart(comparison, frame, inks)
    return _levels_chart(comparison, frame, inks)


def is_paired(comparison: Comparison) -> bool:
    """Tell whether two levels were compared, mostly inside the same pours."""
    shown = comparison.pieces
    counted = pd.DataFrame(
        {"pour": shown.pour[shown.used], "level": shown.level[shown.used]}
    )
    held = counted.groupby("pour")["level"].nunique()
    return len(comparison.levels) == _TWO and 2 * int((held == _TWO).sum()) > len(held)


def points_drawn(comparison: Comparison, *, left_out: bool = False) -> tuple[int, int]:
    """Return how many pieces are drawn, and of how many that could be."""
    frame = _pieces(comparison, left_out=left_out)
    if is_paired(comparison):
        return len(_of_drawn_pours(frame)), len(frame)
    return min(len(frame), _MOST_POINTS), len(frame)


def _pieces(comparison: Comparison, *, left_out: bool) -> pd.DataFrame:
    """Return the pieces to draw; all of them where none counts."""
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
    if not left_out and shown.used.any():
        frame = frame[shown.used].copy()
    frame["shown"] = frame["value"].clip(lower=_floor(frame["value"]))
    return frame


def _of_drawn_pours(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the pieces of an even part of the pours, where there are many."""
    pours = frame["pour"].unique()
    chosen = np.linspace(0, len(pours) - 1, min(_MOST_PAIRS, len(pours)))
    return frame[frame["pour"].isin(pours[chosen.astype(np.int64)])].copy()


def _pairs_chart(
    comparison: Comparison, frame: pd.DataFrame, inks: Inks
) -> alt.LayerChart | alt.FacetChart:
    """Give each pour a line of its own, its two levels joined."""
    frame = _of_drawn_pours(frame)
    counts = frame["used"] == words.USED
    pours = frame["pour"][counts].unique()
    pair_px = int(np.clip(_PAIRS_PX / len(pours), *_PAIR_PX))
    place = {pour: n for n, pour in enumerate(pours)}
    frame["place"] = frame["pour"].map(place).astype(float)
    out = len(frame) - int(counts.sum())
    below = out and _OUT_PX / pair_px
    frame.loc[~counts, "place"] = len(pours) + np.linspace(0.2, 0.8, out) * below
    end = len(pours) - 0.5 + below
    y_scale = alt.Scale(domain=[-0.5, end], reverse=True, nice=False)
    y = alt.Y("place:Q", axis=None, scale=y_scale)
    x_scale = _x_scale(frame)
    means = (
        frame[counts]
        .assign(log=np.log(frame["shown"][counts]))
        .groupby(["pour", "place"])
        .apply(_ends, include_groups=False)
        .reset_index()
    )
    joined = (
        alt.Chart(means)
        .mark_rule(strokeWidth=2, opacity=0.7, color=inks.quiet)
        .encode(x=alt.X("first:Q", scale=x_scale), x2="second:Q", y=y)
    )
    layers: list[alt.Chart] = [
        joined,
        _points(comparison, frame, inks, x_scale, y),
        *_means(comparison, frame, inks, x_scale, y_scale, [(-0.5, len(pours) - 0.5)]),
    ]
    chart: alt.LayerChart | alt.FacetChart = alt.layer(*layers).properties(
        height=len(pours) * pair_px + (_OUT_PX if out else 0) + _AXIS_PX
    )
    return chart


def _ends(pour: pd.DataFrame) -> pd.Series[float]:
    """Return the geometric means of the two levels in a pour; twice one of one."""
    of_level = np.exp(pour.groupby("row")["log"].mean())
    return pd.Series({"first": of_level.iloc[0], "second": of_level.iloc[-1]})


def _points(
    comparison: Comparison,
    frame: pd.DataFrame,
    inks: Inks,
    x_scale: alt.Scale,
    y: alt.Y,
    *,
    with_legend: bool = True,
) -> alt.Chart:
    """Draw the pieces; a level has its colour and its shape."""
    names = [words.level(comparison.by, one) for one in comparison.levels]
    colours = [inks.pair[n % _TWO] for n in range(len(names))]
    shapes = [_SHAPES[n % _TWO] for n in range(len(names))]
    legend = alt.Legend(**legend_of(inks)) if with_legend else None
    opacity = alt.condition(
        alt.datum.used == words.USED, alt.value(0.85), alt.value(0.35)
    )
    points: alt.Chart = (
        alt.Chart(frame)
        .mark_point(filled=True, size=60)
        .encode(
            x=_x(x_scale, frame, comparison.outcome, inks),
            y=y,
            color=alt.Color(
                "level:N", legend=legend, scale=alt.Scale(domain=names, range=colours)
            ),
            shape=alt.Shape(
                "level:N", legend=legend, scale=alt.Scale(domain=names, range=shapes)
            ),
            opacity=opacity,
            tooltip=[
                alt.Tooltip("piece:N", title=words.PIECE),
                alt.Tooltip("pour:N", title=words.POUR),
                alt.Tooltip("value:Q", title=label_of(comparison.outcome)),
                alt.Tooltip("used:N", title=words.CHART),
            ],
        )
    )
    return points


def _levels_chart(
    comparison: Comparison, frame: pd.DataFrame, inks: Inks
) -> alt.LayerChart | alt.FacetChart:
    """Give each level a row, and each of its pours a line."""
    frame, level_px = _in_rows(frame)
    x_scale = _x_scale(frame)
    rows = len(comparison.levels)
    y_scale = alt.Scale(domain=[-0.5, rows - 0.5], reverse=True, nice=False)
    y = alt.Y("place:Q", axis=None, scale=y_scale)
    counted = frame[frame["used"] == words.USED]
    pours = counted.groupby(["level", "pour", "place"], as_index=False).agg(
        low=("shown", "min"), high=("shown", "max")
    )
    spans = [
        (
            row - 0.5 + (_NAME_PX - _POUR_PX / 2) / level_px,
            row + 0.5 - _POUR_PX / 2 / level_px,
        )
        for row in range(rows)
    ]
    layers: list[alt.Chart] = [
        alt.Chart(pours)
        .mark_rule(strokeWidth=1.4, opacity=0.6, color=inks.quiet)
        .encode(x=alt.X("low:Q", scale=x_scale), x2="high:Q", y=y),
        _points(comparison, frame, inks, x_scale, y, with_legend=False),
        *_means(comparison, frame, inks, x_scale, y_scale, spans),
        _names(frame, y_scale, inks),
    ]
    chart: alt.LayerChart | alt.FacetChart = alt.layer(*layers).properties(
        height=rows * level_px + _AXIS_PX
    )
    return chart


def _in_rows(frame: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Return the pieces with their places, and the px of a level.

    Where there are many pieces, an even part of them is drawn.
    """
    drawn = min(len(frame), _MOST_POINTS)
    frame = frame.iloc[np.linspace(0, len(frame) - 1, drawn).astype(np.int64)].copy()
    order = frame.groupby("row")["pour"].transform(
        lambda pours: pd.factorize(pours)[0].astype(float)
    )
    level_px = int(np.clip(_NAME_PX + _POUR_PX * (order.max() + 1), *_LEVEL_PX))
    most = order.groupby(frame["row"]).transform("max").clip(lower=1)
    room = 1 - (_NAME_PX + _POUR_PX) / level_px
    frame["place"] = frame["row"] - 0.5 + _NAME_PX / level_px + order / most * room
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


def _x(scale: alt.Scale, frame: pd.DataFrame, outcome: str, inks: Inks) -> alt.X:
    """Mark 1, 2 and 5 of each power of ten, and where the zeros stand."""
    low, high = float(frame["shown"].min()), float(frame["shown"].max())
    powers = range(floor(log10(low)) - 1, floor(log10(high)) + 2)
    ticks = [tick * 10.0**power for power in powers for tick in _TICKS]
    word = "''"
    if (frame["value"] <= 0).any():
        ticks = [low, *(tick for tick in ticks if tick > low * _CLEAR)]
        word = f"abs(datum.value - {low!r}) < 1e-9 * {low!r} ? '{words.ZEROS}' : ''"
    ticks = [tick for tick in ticks if low / 1.25 <= tick <= high * 1.25]
    return alt.X("shown:Q", title=label_of(outcome), scale=scale).axis(
        values=ticks,
        labelExpr=f"({word}) || format(datum.value, '~g')",
        labelOverlap=True,
        **axis_of(inks),
    )


def _means(
    comparison: Comparison,
    frame: pd.DataFrame,
    inks: Inks,
    x_scale: alt.Scale,
    y_scale: alt.Scale,
    spans: list[tuple[float, float]],
) -> list[alt.Chart]:
    """Upright bars at the geometric mean of each level, over its span of rows."""
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
                "colour": inks.pair[row % _TWO],
                "top": spans[row % len(spans)][0],
                "foot": spans[row % len(spans)][1],
            }
            for row, name in enumerate(comparison.levels)
            if (mean := found.get(name)) is not None
        ]
    )
    if bars.empty:
        return []
    return [
        alt.Chart(bars)
        .mark_rule(strokeWidth=4, opacity=0.9)
        .encode(
            x=alt.X("mean:Q", scale=x_scale),
            y=alt.Y("top:Q", axis=None, scale=y_scale),
            y2="foot:Q",
            stroke=alt.Stroke("colour:N", scale=None),
        )
    ]


def _names(frame: pd.DataFrame, y_scale: alt.Scale, inks: Inks) -> alt.Chart:
    """Names of the levels, above their points."""
    names = frame.groupby("row", as_index=False)["level"].first()
    names["top"] = names["row"] - 0.5
    chart: alt.Chart = (
        alt.Chart(names)
        .mark_text(
            align="left",
            baseline="top",
            fontSize=15,
            fontWeight="bold",
            dy=4,
            color=inks.text,
        )
        .encode(
            x=alt.value(6), y=alt.Y("top:Q", axis=None, scale=y_scale), text="level:N"
        )
    )
    return chart
