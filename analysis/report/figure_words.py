"""Figures in words, as printed sheets say them; mm or inch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.checks import one_of
from analysis.model.reading import Share
from analysis.model.writing import percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.reading import Reading

UNITS = ("mm", "inch")
_MM_PER_INCH = 25.4
_SMALL_MM2 = 50_000.0


def length(mm: float, unit: str = "mm") -> str:
    """Write a length.

    Examples
    --------
    >>> length(12.345), length(12.7, "inch")
    ('12 mm', '0.5 in')
    """
    one_of(unit, "Unit", UNITS)
    value = mm / _MM_PER_INCH if unit == "inch" else mm
    return f"{_two_digits(value)} {'in' if unit == 'inch' else 'mm'}"


def area(mm2: float, unit: str = "mm") -> str:
    """Write a face's area.

    Examples
    --------
    >>> area(123_456.0), area(2_700.0), area(123_456.0, "inch")
    ('0.12 m²', '27 cm²', '190 in²')
    """
    one_of(unit, "Unit", UNITS)
    if unit == "inch":
        return f"{_two_digits(mm2 / _MM_PER_INCH**2)} in²"
    if mm2 < _SMALL_MM2:
        return f"{_two_digits(mm2 / 100)} cm²"
    return f"{_two_digits(mm2 / 1e6)} m²"


def between(share: Share) -> str:
    """Say an interval.

    Examples
    --------
    >>> between(Share(value=0.004, low=0.003, high=0.006))
    'between 0.30 and 0.60 %'
    >>> between(Share(value=0.0, low=0.0, high=0.0002))
    'below 0.02 %'
    """
    if percent(share.low) == percent(0.0):
        return f"below {percent(max(share.high, 0.0001))} %"
    return f"between {percent(share.low)} and {percent(share.high)} %"


def pooled(readings: Sequence[Reading], *, sampled: bool = False) -> Share:
    """Return the share of several areas, weighted by area.

    Ends are pooled like the shares, as if all errors went the same way: the light and
    the lens are the same.
    """
    sizes = [one.summary.face_area_mm2 for one in readings]
    weights = [
        one.summary.face_area_px if None in sizes else (size or 0.0)
        for one, size in zip(readings, sizes, strict=True)
    ]
    shares = [
        one.summary.sampled_share if sampled else one.summary.void_share
        for one in readings
    ]

    def mean(values: Sequence[float]) -> float:
        pairs = zip(values, weights, strict=True)
        return sum(value * weight for value, weight in pairs) / sum(weights)

    return Share(
        value=mean([one.value for one in shares]),
        low=mean([one.low for one in shares]),
        high=mean([one.high for one in shares]),
    )


def headline(readings: Sequence[Reading], unit: str = "mm") -> tuple[str, str, str]:
    """Say the result, how sure it is, and what it says of the rest of the piece."""
    share = pooled(readings)
    counted = max((_floor(one, unit) for one in readings), key=lambda one: one[0])[1]
    rest = (
        f"The rest cast the same way: {between(pooled(readings, sampled=True))}, "
        f"as far as {_photos(len(readings))} can tell."
    )
    if not sum(one.summary.void_count for one in readings):
        return (
            f"No voids of {counted} or more",
            (
                "95 % sure that voids too small to count make up less than "
                f"{percent(max(share.high, 0.0001))} % of the face."
            ),
            rest,
        )
    sure = f"95 % sure {between(share)}; counted from {counted}."
    return f"{percent(share.value)} % void area", sure, rest


def _photos(count: int) -> str:
    return "this one photo" if count == 1 else f"these {count} photos"


def _floor(reading: Reading, unit: str) -> tuple[float, str]:
    summary = reading.summary
    if summary.smallest_counted_mm is None:
        return summary.smallest_counted_px, f"{summary.smallest_counted_px:.1f} px"
    return summary.smallest_counted_mm, length(summary.smallest_counted_mm, unit)


def _two_digits(value: float) -> str:
    """Round to two digits, never as a power of ten."""
    return f"{float(f'{value:.2g}'):.10g}"
