"""How shares and days are written, alike on screens and on paper."""

from __future__ import annotations

from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

DAY_STYLES = ("day month year", "year-month-day", "month day, year")
# How this workshop writes; set for each run of a screen or command, never shared.
_DAY_STYLE: ContextVar[str] = ContextVar("day style", default=DAY_STYLES[0])
_WORKSHOP: ContextVar[str] = ContextVar("workshop", default="")
_LAST_DIGIT = 0.005  # half of the last digit shown
_THREE_DIGITS = 9.95


def percent(share: float) -> str:
    """Write a share as percent, without digits it does not carry.

    Examples
    --------
    >>> percent(0.00912), percent(0.1234), percent(0.00003), percent(0.0)
    ('0.91', '12.3', 'under 0.01', '0')
    """
    value = 100 * share
    if value <= 0:
        return "0"
    if value < _LAST_DIGIT:
        return "under 0.01"
    return f"{value:.1f}" if value >= _THREE_DIGITS else f"{value:.2f}"


def write_for(*, day_style: str, workshop: str) -> None:
    """Write days and heads of sheets so from here on, in this run alone.

    Examples
    --------
    >>> from contextvars import copy_context
    >>> def said():
    ...     write_for(day_style="year-month-day", workshop="Yard 3")
    ...     return workshop_name()
    >>> copy_context().run(said), workshop_name()
    ('Yard 3', '')
    """
    _DAY_STYLE.set(day_style)
    _WORKSHOP.set(workshop)


def workshop_name() -> str:
    """Return the name that stands at the head of sheets; empty prints none."""
    return _WORKSHOP.get()


def day_style() -> str:
    """Return how days are written, one of `DAY_STYLES`."""
    return _DAY_STYLE.get()


def day(given: date, *, style: str | None = None) -> str:
    """Write a day, as the workshop writes days unless a style is given.

    Examples
    --------
    >>> from datetime import date
    >>> [day(date(2026, 3, 1), style=style) for style in DAY_STYLES]
    ['1 March 2026', '2026-03-01', 'March 1, 2026']
    """
    which = style or day_style()
    if which == DAY_STYLES[1]:
        return given.isoformat()
    if which == DAY_STYLES[2]:
        return f"{given:%B} {given.day}, {given.year}"
    return f"{given.day} {given:%B %Y}"


def short_day(given: date) -> str:
    """Write a day where there is little room, as the workshop writes days.

    Examples
    --------
    >>> from contextvars import copy_context
    >>> from datetime import date
    >>> def said(style):
    ...     write_for(day_style=style, workshop="")
    ...     return short_day(date(2026, 3, 1))
    >>> [copy_context().run(said, style) for style in DAY_STYLES]
    ['1 Mar 2026', '2026-03-01', 'Mar 1, 2026']
    """
    which = day_style()
    if which == DAY_STYLES[1]:
        return given.isoformat()
    if which == DAY_STYLES[2]:
        return f"{given:%b} {given.day}, {given.year}"
    return f"{given.day} {given:%b %Y}"


def moment(given: datetime) -> str:
    """Write a day and the time of it, as the given clock shows them.

    Examples
    --------
    >>> from datetime import datetime
    >>> moment(datetime(2026, 3, 1, 9, 5))
    '1 March 2026, 09:05'
    """
    return f"{day(given.date())}, {given:%H:%M}"


def counted(count: int, noun: str) -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> counted(1, "pour"), counted(2, "pour")
    ('1 pour', '2 pours')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def all_of(names: Sequence[str]) -> str:
    """Name all of several things; 1 or more.

    Examples
    --------
    >>> all_of(["a"]), all_of(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    *rest, last = names
    return f"{', '.join(rest)} and {last}" if rest else last
