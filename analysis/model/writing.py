"""How shares and days are written, alike on screens and on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

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


def day(given: date) -> str:
    """Write a day.

    Examples
    --------
    >>> from datetime import date
    >>> day(date(2026, 3, 1))
    '1 March 2026'
    """
    return f"{given.day} {given:%B %Y}"
