"""Charts drawn on paper: points, lines and a log scale, in black and grey.

Drawn with the page's own strokes, so that a print needs no colours and no picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.report.paper import chart_text
from analysis.report.typeface import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.report.paper import Paper

_LEFT_MM, _FOOT_MM = 14.0, 11.0
_ROOM = 1.2  # above the highest and below the lowest
_DOT_MM = 0.75
_TICKS = (1.0, 2.0, 5.0)
_FEWEST_TICKS = 3
_FINE_TICKS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
_GREY, _BLACK = 150, 30
_DASH_MM = 1.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Points of a chart.

    Attributes
    ----------
    x, y : ndarray of float64, (n,)
        Place, and percent; 0 is drawn at the foot.
    marked : ndarray of bool, (n,)
        Drawn as filled squares; the others as rings.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    marked: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of a chart; NaN breaks it.

    Attributes
    ----------
    x, y : ndarray of float64, (n,)
        Place and percent.
    dashed : bool
        Else whole.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    dashed: bool = False


class _Frame(NamedTuple):
    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return a place on the page, mm."""
        low, high = np.log(self.y)
        up = (np.log(min(max(y, self.y[0]), self.y[1])) - low) / (high - low)
        along = (x - self.x[0]) / (self.x[1] - self.x[0])
        return self.left + along * self.width, self.top + (1 - up) * self.height


def percent_chart(
    paper: Paper,
    points: Points,
    lines: Sequence[Line] = (),
    *,
    ticks: Sequence[tuple[float, str]],
    title: str,
    height_mm: float = 62.0,
) -> None:
    """Draw points and lines over a log scale of percent.

    Parameters
    ----------
    paper : Paper
        The sheet.
    points : Points
        One at least.
    lines : sequence of Line
        Means, limits, targets.
    ticks : sequence of (float, str)
        Where along x something is named, and its name.
    title : str
        Of the x axis; the y axis is void area in percent.
    height_mm : float
        Of the chart without its foot.

    Examples
    --------
    >>> from analysis.report.paper import new_paper
    >>> dots = Points(x=np.arange(3.0), y=np.array([0.5, 0.0, 2.0]),
    ...               marked=np.array([False, False, True]))
    >>> percent_chart(new_paper("Pours"), dots, ticks=[(0.0, "P1")], title="Pour")
    """
    if paper.will_page_break(height_mm + _FOOT_MM + 4):
        paper.add_page()
    frame = _frame_of(paper, points, lines, height_mm)
    _axes(paper, frame, ticks, title)
    for line in lines:
        _draw_line(paper, frame, line)
    paper.set_line_width(0.25)
    paper.set_draw_color(_BLACK)
    paper.set_fill_color(_BLACK)
    for x, y, marked in zip(points.x, points.y, points.marked, strict=True):
        place = frame.at(float(x), float(y))
        if marked:
            paper.rect(
                place[0] - _DOT_MM, place[1] - _DOT_MM, 2 * _DOT_MM, 2 * _DOT_MM, "F"
            )
        else:
            paper.circle(place[0], place[1], _DOT_MM)
    paper.set_draw_color(0)
    paper.set_fill_color(255)
    paper.set_xy(paper.l_margin, frame.top + height_mm + _FOOT_MM)


def _frame_of(
    paper: Paper, points: Points, lines: Sequence[Line], height_mm: float
) -> _Frame:
    drawn = np.concatenate([points.y, *(line.y for line in lines)])
    positive = drawn[np.isfinite(drawn) & (drawn > 0)]
    low, high = (
        (float(positive.min()), float(positive.max())) if len(positive) else (0.1, 1.0)
    )
    # A log scale has no 0: room is made for a foot below the least of the others.
    if (points.y <= 0).any():
        low /= 2
    x = np.concatenate([points.x, *(line.x for line in lines)])
    side = max(float(np.ptp(x)) * 0.03, 0.5 if np.ptp(x) <= 0 else 0.0)
    return _Frame(
        left=paper.l_margin + _LEFT_MM,
        top=paper.get_y() + 2.0,
        width=paper.epw - _LEFT_MM,
        height=height_mm,
        x=(float(x.min()) - side, float(x.max()) + side),
        y=(low / _ROOM, high * _ROOM),
    )


def _axes(
    paper: Paper, frame: _Frame, ticks: Sequence[tuple[float, str]], title: str
) -> None:
    paper.set_line_width(0.15)
    paper.set_draw_color(215)
    foot = frame.top + frame.height
    values = _within(frame.y, _TICKS)
    if len(values) < _FEWEST_TICKS:
        values = _within(frame.y, _FINE_TICKS)
    for value in values:
        place = frame.at(frame.x[0], value)[1]
        paper.line(frame.left, place, frame.left + frame.width, place)
        chart_text(paper, f"{value:.10g} %", frame.left - 1.5, place, align="R")
    paper.set_draw_color(_GREY)
    paper.line(frame.left, foot, frame.left + frame.width, foot)
    taken = -np.inf
    for x, name in ticks:
        place = frame.at(x, frame.y[0])[0]
        half = paper.get_string_width(one_line(name)) / 2
        # A name that would run into the one before is left out.
        if place - half > taken:
            chart_text(paper, name, place, foot + 2.8, align="C")
            taken = place + half + 1.5
    middle = frame.left + frame.width / 2
    chart_text(paper, f"{title}; up: void area, log scale", middle, foot + 7.0)


def _within(span: tuple[float, float], steps: Sequence[float]) -> list[float]:
    low, high = span
    powers = range(floor(log10(low)), ceil(log10(high)) + 1)
    values = [step * 10.0**power for power in powers for step in steps]
    return [value for value in values if low <= value <= high]


def _draw_line(paper: Paper, frame: _Frame, line: Line) -> None:
    paper.set_line_width(0.3 if line.dashed else 0.5)
    paper.set_draw_color(_BLACK)
    if line.dashed:
        paper.set_dash_pattern(dash=_DASH_MM, gap=_DASH_MM)
    known = np.isfinite(line.y)
    for n in range(len(line.y) - 1):
        if known[n] and known[n + 1]:
            begin = frame.at(float(line.x[n]), float(line.y[n]))
            end = frame.at(float(line.x[n + 1]), float(line.y[n + 1]))
            paper.line(*begin, *end)
    paper.set_dash_pattern()
