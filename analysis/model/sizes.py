"""Ratios as they are said: a part, percent less or more, or so many times."""

from __future__ import annotations

# Ratios that are said as a part; others as percent less or more, large ones as times.
PARTS = (
    (0.45, 0.55, "about half"),
    (0.30, 0.37, "about a third of"),
    (0.22, 0.28, "about a quarter of"),
    (1.9, 2.15, "about twice"),
)
SMALL_PART, TIMES_FROM, PLAIN_TIMES = 0.22, 1.9, 10.0
SMALL_RATIO, SHORT_RATIO, LARGE_RATIO, HUGE_RATIO = 0.1, 10.0, 1e3, 1e6


def ratio_words(ratio: float) -> str:
    """Write a ratio so that it is never rounded to nothing.

    Examples
    --------
    >>> [ratio_words(ratio) for ratio in (0.4512, 0.0031, 12.34, 51234.0)]
    ['0.45', '0.0031', '12.3', '51,234']
    """
    if ratio >= LARGE_RATIO:
        return f"{ratio:,.0f}" if ratio < HUGE_RATIO else f"{ratio:.1e}"
    if ratio >= SHORT_RATIO:
        return f"{ratio:.1f}"
    return f"{ratio:.2f}" if ratio >= SMALL_RATIO else f"{ratio:.2g}"


def rounded(value: float, digits: int) -> str:
    """Write a number with so many digits, never as a power of ten.

    Examples
    --------
    >>> [rounded(value, 2) for value in (0.1234, 20.0, 1234.0, 0.0000123)]
    ['0.12', '20', '1,200', '0.000012']
    """
    short = f"{value:.{digits}g}"
    if "e" not in short:
        return short
    number = float(short)
    return f"{number:,.0f}" if abs(number) >= 1 else f"{number:.12f}".rstrip("0")


def percent_of(share: float) -> str:
    """Write a share in percent, never rounded to nothing.

    Examples
    --------
    >>> percent_of(0.424), percent_of(0.0012)
    ('42', '0.12')
    """
    value = 100 * abs(share)
    return f"{value:.0f}" if value >= 1 else f"{value:.2g}"


def is_part(ratio: float) -> bool:
    """Tell whether a ratio is said as a part, such as half.

    Examples
    --------
    >>> is_part(0.5), is_part(0.7)
    (True, False)
    """
    return any(low <= ratio <= high for low, high, _ in PARTS)


def change(ratio: float, less: str = "less", more: str = "more") -> str:
    """Write a ratio as percent less or more.

    Examples
    --------
    >>> change(0.62), change(1.4)
    ('38 % less', '40 % more')
    """
    return f"{percent_of(1 - ratio)} % {less if ratio < 1 else more}"


def interval(
    low: float | None, high: float | None, less: str = "less", more: str = "more"
) -> str:
    """Write an interval of ratios as changes, its smaller change first.

    Examples
    --------
    >>> interval(0.42, 0.7), interval(0.9, 1.3), interval(None, None)
    (' (30 to 58 % less)', ' (10 % less to 30 % more)', '')
    """
    if low is None or high is None:
        return ""
    return f" ({between(low, high, less, more)})"


def between(low: float, high: float, less: str = "less", more: str = "more") -> str:
    """Say the two ends of an interval of ratios as changes.

    Examples
    --------
    >>> between(0.9, 1.3), between(1.1, 1.3)
    ('10 % less to 30 % more', '10 to 30 % more')
    """
    ends = [high, low] if high <= 1 else [low, high]
    if high <= 1 or low >= 1:
        return f"{percent_of(1 - ends[0])} to {change(ends[1], less, more)}"
    return f"{change(ends[0], less, more)} to {change(ends[1], less, more)}"


def against(
    ratio: float,
    low: float | None,
    high: float | None,
    second: str,
    *,
    of: str = "void area",
    thing: str = "void area",
    less: str = "less",
    more: str = "more",
) -> str:
    """Say how much one had, held against a second.

    Parameters
    ----------
    ratio, low, high : float
        One over the second, with its 95 % interval where that is known.
    second : str
        What it is held against.
    of, thing : str
        What is told, as in 'half the ... of' and in '20 % less ... than'.
    less, more : str
        How a change is said.

    Examples
    --------
    >>> against(0.48, 0.42, 0.56, "open ones")
    'about half the void area of open ones (42 to 56 %)'
    >>> against(0.7, 0.6, 0.8, "open ones")
    '30 % less void area than open ones (20 to 40 % less)'
    >>> against(3.4, None, None, "the open face")
    'about 3.4 times the void area of the open face'
    """
    size = _part(ratio)
    if size:
        return f"{size} the {of} of {second}{_between(ratio, low, high)}"
    said = f"{change(ratio, less, more)} {thing} than {second}"
    return said + interval(low, high, less, more)


def against_usual(ratio: float) -> str:
    """Say how much void area there is, held against the usual.

    Examples
    --------
    >>> against_usual(1.4), against_usual(2.0), against_usual(0.3)
    ('40 % more void area than usual', 'about twice the usual void area', \
'about a third of the usual void area')
    """
    size = _part(ratio)
    if size:
        return f"{size} the usual void area"
    return f"{change(ratio)} void area than usual"


def changed(ratio: float, low: float | None = None, high: float | None = None) -> str:
    """Say how the void area changes.

    Examples
    --------
    >>> changed(1.23, 1.1, 1.4), changed(2.3, 1.9, 2.8)
    ('23 % more void area (10 to 40 % more)', \
'about 2.3 times the void area (1.9 to 2.8 times)')
    """
    size = _part(ratio)
    if size:
        return f"{size} the void area{_between(ratio, low, high)}"
    return f"{change(ratio)} void area{interval(low, high)}"


def _part(ratio: float) -> str:
    """Say a ratio as a part or as times; empty where percent say it better."""
    part = next((said for least, most, said in PARTS if least <= ratio <= most), "")
    if part:
        return part
    if ratio >= TIMES_FROM:
        return f"about {_times(ratio)} times"
    return f"about {percent_of(ratio)} % of" if ratio < SMALL_PART else ""


def _between(ratio: float, low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    if ratio >= TIMES_FROM:
        return f" ({_times(low)} to {_times(high)} times)"
    return f" ({percent_of(low)} to {percent_of(high)} %)"


def _times(ratio: float) -> str:
    return f"{ratio:.1f}" if 1 <= ratio < PLAIN_TIMES else ratio_words(ratio)
