"""Charts of the finish over pours, and of a form over its uses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np
import pandas as pd

from ui.batches import words

if TYPE_CHECKING:
    from analysis.model.outlook import FormWear
    from analysis.services.batches import Batches

_HEIGHT = 320
_STRIP_HEIGHT = 110
_QUIET = "#6b675f"
# The house's two: blue-grey and the red-brown of formwork ply.
_POINT, _RISE = "#3d5566", "#a3492b"
_PAIR = [_POINT, _RISE]
_INK = "#23272b"
_AXIS: dict[str, Any] = {
    "titleFontSize": 14,
    "titleColor": _INK,
    "labelFontSize": 13,
    "labelColor": _INK,
    "minExtent": 48,
}
_LEGEND: dict[str, Any] = {
    "title": None,
    "orient": "top",
    "labelFontSize": 14,
    "labelColor": _INK,
    "symbolSize": 120,
}
_FEW_DAYS = 100


def share_chart(found: Batches) -> alt.LayerChart | alt.FacetChart:
    """Draw the void share of each pour against what is usual."""
    points = found.track.points
    columns = {
        "value": 100 * points.value,
        "lower": 100 * points.lower,
        "centre": 100 * points.centre,
        "upper": 100 * points.upper,
        "out": points.signals.any(axis=0),
    }
    return _over_pours(found, columns, words.SHARE_AXIS)


def count_chart(found: Batches) -> alt.LayerChart | alt.FacetChart:
    """Draw the bugholes per m2 of each pour against what is usual."""
    points = found.track.points
    columns = {
        "value": points.bugholes_per_m2,
        "lower": points.bugholes_lower,
        "centre": points.bugholes_centre,
        "upper": points.bugholes_upper,
        "out": found.bugholes_out,
    }
    return _over_pours(found, columns, words.COUNT_AXIS)


def air_strip(found: Batches) -> alt.Chart:
    """Draw the air temperature of each pour."""
    frame = _frame(found, {"value": found.air_c})
    strip: alt.Chart = (
        alt.Chart(frame.dropna(subset=["value"]))
        .mark_line(point=True, color=_QUIET)
        .encode(
            x=_x(frame),
            y=_y("value", words.AIR_AXIS, zero=False),
            detail="stretch:N",
            tooltip=_tooltip(frame, words.AIR_AXIS),
        )
        .properties(height=_STRIP_HEIGHT)
    )
    return strip


def wear_chart(
    found: FormWear, limits: tuple[float, ...] = ()
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
            tickMinStep=1, format="d", **_AXIS
        ),
        "y": _y("value", words.SHARE_AXIS),
        "tooltip": [
            alt.Tooltip("use:Q", title=words.USE_AXIS),
            alt.Tooltip("value:Q", title=words.SHARE_AXIS, format=".2f"),
        ],
    }
    if len(found.joint_use):
        legend = alt.Legend(**_LEGEND)
        kinds = [words.OPEN_FACE, words.JOINT_BAND]
        encoding |= {
            "color": alt.Color(
                "part:N",
                legend=legend,
                scale=alt.Scale(range=_PAIR, domain=kinds),
            ),
            "shape": alt.Shape("part:N", legend=legend, scale=alt.Scale(domain=kinds)),
        }
    points: alt.Chart = (
        alt.Chart(frame)
        .mark_point(filled=True, size=70, opacity=0.9, color=_POINT)
        .encode(**encoding)
    )
    layers = [*_limits(limits), *_steady_rise(found), points]
    return alt.layer(*layers).properties(height=_HEIGHT - 40)


def _limits(limits: tuple[float, ...]) -> list[alt.Chart]:
    """Lines at the ends of the target, each with its word."""
    if not limits:
        return []
    frame = pd.DataFrame({"value": [100 * one for one in limits]})
    frame["said"] = words.TARGET_END
    base = alt.Chart(frame)
    y = _y("value", words.SHARE_AXIS)
    rule = base.mark_rule(strokeDash=[6, 4], strokeWidth=1.8, color=_INK).encode(y=y)
    label = base.mark_text(
        align="left", baseline="bottom", dx=4, fontSize=13, color=_INK
    ).encode(x=alt.value(0), y=y, text="said:N")
    return [rule, label]


def _steady_rise(found: FormWear) -> list[alt.Chart]:
    """Draw the fitted line where a steady rise fits best."""
    trend = found.face
    above = found.share > 0
    if trend is None or trend.shape != "steady_rise" or not above.any():
        return []
    growth = np.log(trend.ratio_per_10_uses) / 10.0
    level = float(np.mean(np.log(found.share[above]) - growth * found.use[above]))
    use = np.linspace(found.use.min(), found.use.max(), 40)
    frame = pd.DataFrame({"use": use, "value": 100 * np.exp(level + growth * use)})
    line = alt.Chart(frame).mark_line(strokeWidth=2.5, color=_RISE)
    return [line.encode(x="use:Q", y=_y("value", words.SHARE_AXIS))]


def _over_pours(
    found: Batches, columns: dict[str, Any], title: str
) -> alt.LayerChart | alt.FacetChart:
    frame = _frame(found, columns).dropna(subset=["value"])
    frame["mark"] = frame["out"].map(words.MARKS)
    x = _x(frame)
    band = frame.dropna(subset=["centre"])
    layers = [
        alt.Chart(band)
        .mark_area(color=_QUIET, opacity=0.16, interpolate="step")
        .encode(x=x, y=_y("lower", title), y2="upper:Q", detail="era:N"),
        alt.Chart(band)
        .mark_line(color=_QUIET, strokeDash=[6, 4], interpolate="step")
        .encode(x=x, y=_y("centre", title), detail="era:N"),
        alt.Chart(frame)
        .mark_line(color=_QUIET, strokeWidth=1)
        .encode(x=x, y=_y("value", title), detail="stretch:N", order="place:Q"),
        _marks(frame, x, title),
        *_breaks(found, frame, x),
    ]
    return alt.layer(*layers).properties(height=_HEIGHT)


def _marks(frame: pd.DataFrame, x: alt.X, title: str) -> alt.Chart:
    kinds = list(words.MARKS.values())
    legend = alt.Legend(**_LEGEND)
    marks: alt.Chart = (
        alt.Chart(frame)
        .mark_point(filled=True, opacity=1)
        .encode(
            x=x,
            y=_y("value", title),
            color=alt.Color(
                "mark:N",
                legend=legend,
                scale=alt.Scale(range=_PAIR, domain=kinds),
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


def _breaks(found: Batches, frame: pd.DataFrame, x: alt.X) -> list[alt.Chart]:
    """Upright lines where the baseline starts anew, each with its reason."""
    breaks = {b.at: b.what for b in found.track.breaks}
    at = frame[frame["place"].isin(list(breaks))].copy()
    if at.empty:
        return []
    at["what"] = at["place"].map(breaks)
    rule = alt.Chart(at).mark_rule(color="black").encode(x=x)
    label = (
        alt.Chart(at)
        .mark_text(align="right", dx=-5, fontSize=13, limit=150, baseline="top")
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
    if not np.isnat(points.cast_on).any():
        frame["day"] = points.cast_on[found.drawn].astype("datetime64[s]")
    return frame


def _x(frame: pd.DataFrame) -> alt.X:
    if "day" not in frame:
        return alt.X("place:Q", title=words.POUR_AXIS).axis(labels=False, **_AXIS)
    first, last = frame["day"].min(), frame["day"].max()
    form = "%d %b" if (last - first).days < _FEW_DAYS else "%b"
    return alt.X("day:T", title=None).axis(
        format=form if first.year == last.year else "%b %Y",
        tickCount=6,
        labelOverlap=True,
        labelFlush=True,
        **_AXIS,
    )


def _y(column: str, title: str, *, zero: bool = True) -> alt.Y:
    scale = alt.Scale(zero=zero, nice=True)
    return alt.Y(f"{column}:Q", title=title, scale=scale).axis(tickCount=5, **_AXIS)


def _tooltip(frame: pd.DataFrame, title: str) -> list[alt.Tooltip]:
    shown = [alt.Tooltip("pour:N", title=words.MARK)]
    if "day" in frame:
        shown.append(alt.Tooltip("day:T", title=" ", format="%d %b %Y"))
    return [*shown, alt.Tooltip("value:Q", title=title, format=".3~g")]
