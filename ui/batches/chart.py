"""Charts of the finish over pours, and of a form over its uses."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np
import pandas as pd

from analysis.model.writing import short_day
from analysis.monitoring.note_words import break_words
from ui.batches import words
from ui.widgets.inks import BY_DAY, axis_of, legend_of

if TYPE_CHECKING:
    from analysis.model.outlook import FormWear
    from analysis.services.batches import Batches
    from ui.widgets.inks import Inks

_HEIGHT = 320
_STRIP_HEIGHT = 110
_DAYS_NAMED = 4  # below the axis: what a phone has room for
_LEAST_EXTENT = 48  # so that two charts above one another share their left edge


def _axis(inks: Inks) -> dict[str, Any]:
    return axis_of(inks, minExtent=_LEAST_EXTENT)


def share_chart(found: Batches, inks: Inks = BY_DAY) -> alt.LayerChart | alt.FacetChart:
    """Draw the void share of each pour against what is usual."""
    points = found.track.points
    columns = {
        "value": 100 * points.value,
        "lower": 100 * points.lower,
        "centre": 100 * points.centre,
        "upper": 100 * points.upper,
        "out": points.signals.any(axis=0),
    }
    return _over_pours(found, columns, words.SHARE_AXIS, inks)


def count_chart(found: Batches, inks: Inks = BY_DAY) -> alt.LayerChart | alt.FacetChart:
    """Draw the bugholes per m2 of each pour against what is usual."""
    points = found.track.points
    columns = {
        "value": points.bugholes_per_m2,
        "lower": points.bugholes_lower,
        "centre": points.bugholes_centre,
        "upper": points.bugholes_upper,
        "out": found.bugholes_out,
    }
    return _over_pours(found, columns, words.COUNT_AXIS, inks)


def air_strip(found: Batches, inks: Inks = BY_DAY) -> alt.Chart:
    """Draw the air temperature of each pour."""
    frame = _frame(found, {"value": found.air_c})
    strip: alt.Chart = (
        alt.Chart(frame.dropna(subset=["value"]))
        .mark_line(point=True, color=inks.quiet)
        .encode(
            x=_x(frame, inks),
            y=_y("value", words.AIR_AXIS, inks, zero=False),
            detail="stretch:N",
            tooltip=_tooltip(frame, words.AIR_AXIS),
        )
        .properties(height=_STRIP_HEIGHT)
    )
    return strip


def wear_chart(
    found: FormWear, limits: tuple[float, ...] = (), inks: Inks = BY_DAY
) -> alt.LayerChart | alt.FacetChart:
    """Draw a form's castings over its uses, a steady rise, the ends of its target.

    `limits` are void shares, 0..1.
    """
    parts = [
        pd.DataFrame({"use": use, "value": 100 * share, "part": part})
        for use, share, part in (
            (found.use, found.share, words.OPEN_FACE),
            (found.joint_use, found.joint_share, words.JOINT_BAND),
        )
    ]
    frame = pd.concat(parts)
    encoding: dict[str, Any] = {
        "x": alt.X("use:Q", title=words.USE_AXIS, scale=alt.Scale(zero=False)).axis(
            tickMinStep=1, format="d", **_axis(inks)
        ),
        "y": _y("value", words.SHARE_AXIS, inks),
        "tooltip": [
            alt.Tooltip("use:Q", title=words.USE_AXIS),
            alt.Tooltip("value:Q", title=words.SHARE_AXIS, format=".2f"),
        ],
    }
    if len(found.joint_use):
        legend = alt.Legend(**legend_of(inks))
        kinds = [words.OPEN_FACE, words.JOINT_BAND]
        encoding |= {
            "color": alt.Color(
                "part:N",
                legend=legend,
                scale=alt.Scale(range=inks.pair, domain=kinds),
            ),
            "shape": alt.Shape("part:N", legend=legend, scale=alt.Scale(domain=kinds)),
        }
    points: alt.Chart = (
        alt.Chart(frame)
        .mark_point(filled=True, size=70, opacity=0.9, color=inks.first)
        .encode(**encoding)
    )
    layers = [*_limits(limits, inks), *_trend(found, inks), points]
    return alt.layer(*layers).properties(height=_HEIGHT - 40)


def _limits(limits: tuple[float, ...], inks: Inks) -> list[alt.Chart]:
    """Lines at the ends of the target, each with its word."""
    if not limits:
        return []
    frame = pd.DataFrame({"value": [100 * one for one in limits]})
    frame["said"] = words.TARGET_END
    base = alt.Chart(frame)
    y = _y("value", words.SHARE_AXIS, inks)
    rule = base.mark_rule(strokeDash=[6, 4], strokeWidth=1.8, color=inks.text).encode(
        y=y
    )
    label = base.mark_text(
        align="left", baseline="bottom", dx=4, fontSize=13, color=inks.text
    ).encode(x=alt.value(0), y=y, text="said:N")
    return [rule, label]


def _trend(found: FormWear, inks: Inks) -> list[alt.Chart]:
    """Draw what fits the castings best: level, rise, rise after a use, or step."""
    trend = found.face
    above = found.share > 0
    if trend is None or not above.any():
        return []
    use, logs = found.use[above], np.log(found.share[above])
    ends = (float(found.use.min()), float(found.use.max()))
    change = ends[0] if trend.change_at_use is None else trend.change_at_use
    if trend.shape == "step_at":
        # Two places at one use: the line is upright there.
        at = np.array([ends[0], change, change, ends[1]])
        later = np.array([0.0, 0.0, 1.0, 1.0])
        levels = [
            logs[side].mean() if side.any() else logs.mean()
            for side in (use < change, use >= change)
        ]
        fitted = np.where(later > 0, levels[1], levels[0])
    else:
        growth = {
            "steady_rise": np.log(trend.ratio_per_10_uses) / 10.0,
            "none": 0.0,
        }.get(trend.shape)
        begun = np.maximum(use - change, 0.0)
        if growth is None:  # the slope after the change, by least squares
            spread = begun - begun.mean()
            growth = spread @ logs / max(float(spread @ spread), 1e-9)
        at = np.unique(np.append(np.linspace(*ends, 40), change))
        level = float(np.mean(logs - growth * begun))
        fitted = level + growth * np.maximum(at - change, 0.0)
    frame = pd.DataFrame(
        {"use": at, "value": 100 * np.exp(fitted), "order": range(len(at))}
    )
    line = alt.Chart(frame).mark_line(strokeWidth=2.5, color=inks.first)
    y = _y("value", words.SHARE_AXIS, inks)
    return [line.encode(x="use:Q", y=y, order="order:Q")]


def _over_pours(
    found: Batches, columns: dict[str, Any], title: str, inks: Inks
) -> alt.LayerChart | alt.FacetChart:
    frame = _frame(found, columns).dropna(subset=["value"])
    frame["mark"] = frame["out"].map(words.MARKS)
    x = _x(frame, inks)
    band = frame.dropna(subset=["centre"])
    layers = [
        alt.Chart(band)
        .mark_area(color=inks.quiet, opacity=0.16, interpolate="step")
        .encode(x=x, y=_y("lower", title, inks), y2="upper:Q", detail="era:N"),
        alt.Chart(band)
        .mark_line(color=inks.quiet, strokeDash=[6, 4], interpolate="step")
        .encode(x=x, y=_y("centre", title, inks), detail="era:N"),
        alt.Chart(frame)
        .mark_line(color=inks.quiet, strokeWidth=1)
        .encode(x=x, y=_y("value", title, inks), detail="stretch:N", order="place:Q"),
        _marks(frame, x, title, inks),
        *_breaks(found, frame, x, inks),
    ]
    return alt.layer(*layers).properties(height=_HEIGHT)


def _marks(frame: pd.DataFrame, x: alt.X, title: str, inks: Inks) -> alt.Chart:
    kinds = list(words.MARKS.values())
    legend = alt.Legend(**legend_of(inks))
    marks: alt.Chart = (
        alt.Chart(frame)
        .mark_point(filled=True, opacity=1)
        .encode(
            x=x,
            y=_y("value", title, inks),
            color=alt.Color(
                "mark:N",
                legend=legend,
                scale=alt.Scale(range=inks.pair, domain=kinds),
            ),
            shape=alt.Shape(
                "mark:N",
                legend=legend,
                scale=alt.Scale(domain=kinds, range=["circle", "diamond"]),
            ),
            size=alt.Size(
                "mark:N", legend=None, scale=alt.Scale(domain=kinds, range=[36, 170])
            ),
            tooltip=_tooltip(frame, title),
        )
    )
    return marks


def _breaks(
    found: Batches, frame: pd.DataFrame, x: alt.X, inks: Inks
) -> list[alt.Chart]:
    """Upright lines where the baseline starts anew, each with its reason."""
    breaks = {b.at: break_words(b) for b in found.track.breaks}
    at = frame[frame["place"].isin(list(breaks))].copy()
    if at.empty:
        return []
    at["what"] = at["place"].map(breaks)
    rule = alt.Chart(at).mark_rule(color=inks.text).encode(x=x)
    label = (
        alt.Chart(at)
        .mark_text(
            align="right",
            dx=-5,
            fontSize=13,
            limit=150,
            baseline="top",
            color=inks.text,
        )
        .encode(x=x, y=alt.value(2), text="what:N")
    )
    return [rule, label]


def _frame(found: Batches, columns: dict[str, Any]) -> pd.DataFrame:
    """Return the points to draw; a stretch ends at every break and every gap."""
    points = found.track.points
    edges = np.zeros(len(points), dtype=np.int64)
    for at in [b.at for b in found.track.breaks] + [g.at for g in found.track.gaps]:
        edges[at] = 1
    columns = columns | {
        "pour": points.pour,
        "era": points.era,
        "stretch": edges.cumsum(),
        "place": np.arange(len(points)),
    }
    frame = pd.DataFrame(columns).iloc[found.drawn]
    frame["day"] = [
        "" if np.isnat(cast_on) else short_day(cast_on.astype(object))
        for cast_on in points.cast_on[found.drawn]
    ]
    return frame


def _x(frame: pd.DataFrame, inks: Inks) -> alt.X:
    """Give every pour a place of its own, in order; some of them name their day.

    Pours of one day would lie on one another along an axis of time.
    """
    x = alt.X("place:Q", scale=alt.Scale(nice=False, zero=False, padding=10))
    if not frame["day"].all():
        return x.title(words.POUR_AXIS).axis(labels=False, **_axis(inks))
    chosen = np.linspace(0, len(frame) - 1, min(_DAYS_NAMED, len(frame)))
    named = frame.iloc[chosen.round().astype(np.int64)]
    days = dict(zip(named["place"].astype(str), named["day"], strict=True))
    return x.title(words.POUR_AXIS).axis(
        values=named["place"].tolist(),
        labelExpr=f"{json.dumps(days)}[datum.value]",
        labelOverlap=True,
        labelFlush=True,
        **_axis(inks),
    )


def _y(column: str, title: str, inks: Inks, *, zero: bool = True) -> alt.Y:
    scale = alt.Scale(zero=zero, nice=True)
    return alt.Y(f"{column}:Q", title=title, scale=scale).axis(
        tickCount=5, **_axis(inks)
    )


def _tooltip(frame: pd.DataFrame, title: str) -> list[alt.Tooltip]:
    shown = [alt.Tooltip("pour:N", title=words.MARK)]
    if frame["day"].all():
        shown.append(alt.Tooltip("day:N", title=words.DAY))
    return [*shown, alt.Tooltip("value:Q", title=title, format=".3~g")]
