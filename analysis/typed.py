"""Numbers as people type them: comma or dot, with or without a unit.

One reading for every field. What could be two numbers is refused, never guessed: 1.200
may be a thousand two hundred or one and a fifth.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit: what it measures, and its size in the base unit of that.

    Attributes
    ----------
    kind : str
        Units of one kind can be turned into one another.
    size : float
        Of one of it, in base units; `zero` is where its nought lies there.
    zero : float
        In base units.
    """

    kind: str
    size: float
    zero: float = 0.0


# Inch, foot, pound, ounce and gallon are US customary units, exact but for rounding:
# NIST Special Publication 811 (2008), appendix B.8 (values from memory).
_INCH, _POUND, _GALLON = 25.4, 0.45359237, 3.785411784
UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        "mm": Unit(kind="length", size=1.0),
        "cm": Unit(kind="length", size=10.0),
        "m": Unit(kind="length", size=1000.0),
        "in": Unit(kind="length", size=_INCH),
        "ft": Unit(kind="length", size=12 * _INCH),
        "mm2": Unit(kind="area", size=1.0),
        "cm3": Unit(kind="volume", size=0.001),
        "l": Unit(kind="volume", size=1.0),
        "ml": Unit(kind="volume", size=0.001),
        "gal": Unit(kind="volume", size=_GALLON),
        "fl oz": Unit(kind="volume", size=_GALLON / 128),
        "kg": Unit(kind="mass", size=1.0),
        "g": Unit(kind="mass", size=0.001),
        "lb": Unit(kind="mass", size=_POUND),
        "oz": Unit(kind="mass", size=_POUND / 16),
        "C": Unit(kind="temperature", size=1.0),
        "F": Unit(kind="temperature", size=5 / 9, zero=-160 / 9),
        "s": Unit(kind="time", size=1.0),
        "min": Unit(kind="time", size=60.0),
        "h": Unit(kind="time", size=3600.0),
        "d": Unit(kind="time", size=86400.0),
        "%": Unit(kind="share", size=1.0),
        "mm/px": Unit(kind="scale", size=1.0),
        "px": Unit(kind="pixels", size=1.0),
    }
)
_OTHER_NAMES = MappingProxyType(
    {
        '"': "in",
        "''": "in",
        "inch": "in",
        "inches": "in",
        "'": "ft",
        "foot": "ft",
        "feet": "ft",
        "mm²": "mm2",
        "cm³": "cm3",
        "mm per px": "mm/px",
        "litre": "l",
        "litres": "l",
        "liter": "l",
        "liters": "l",
        "gallon": "gal",
        "gallons": "gal",
        "floz": "fl oz",
        "lbs": "lb",
        "c": "C",
        "f": "F",
        "°c": "C",
        "°f": "F",
        "degrees c": "C",
        "degrees f": "F",
        "deg c": "C",
        "deg f": "F",
        "sec": "s",
        "minutes": "min",
        "hours": "h",
        "days": "d",
    }
)
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_PART = re.compile(
    rf"\s*({_NUMBER})(?:\s+(\d+)/(\d+)|/(\d+))?\s*(mm2|mm²|cm3|[^\d\s+.,-][^\d+,]*)?"
)
# A leading nought starts no thousands.
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[.,'\u2019\u00a0\u202f ]\d{3})+(?:[.,]\d+)?")
_ONE_MARK = re.compile(r"[+-]?\d{1,3}[.,]\d{3}")
_SEXAGESIMAL = re.compile(r"(\d+):([0-5]?\d(?:[.,]\d+)?)")


def typed_number(text: str, unit: str = "", *, what: str = "") -> float | None:
    """Return what was typed, in the field's own unit; blank is None.

    Parameters
    ----------
    text : str
        As typed.
    unit : str
        The field's, one of `UNITS` or any other word; empty for a bare number. Another
        unit of the same kind is turned into it.
    what : str
        The field's name, for the sentence that refuses.

    Raises
    ------
    InputError
        No number, one that could be read in two ways, or a unit of another kind.

    Examples
    --------
    >>> typed_number("0,14"), typed_number("5 1/2 in", "mm"), typed_number(" ")
    (0.14, 139.7, None)
    >>> typed_number("68 F", "C"), typed_number("1:30", "s")
    (20.0, 90.0)
    """
    given = text.strip().replace("\N{MINUS SIGN}", "-").replace("\u2019", "'")
    given = given.replace("\u2033", '"').replace("\u2032", "'")
    if not given:
        return None
    told = what or "The number"
    unit = _OTHER_NAMES.get(unit.lower(), unit)  # a field may write °C or mm²
    clock = _SEXAGESIMAL.fullmatch(given)
    if clock and unit in {"s", "min"}:
        small = 60 * int(clock[1]) + float(clock[2].replace(",", "."))
        return small if unit == "s" else small / 60
    bare = re.sub(r"[^\d]+$", "", given)
    if _GROUPED.fullmatch(bare) and not _ONE_MARK.fullmatch(bare):
        msg = (
            f"{told}: {given!r} is grouped in thousands: write the number in one, with "
            "one comma or dot at most."
        )
        raise InputError(msg)
    total, at, before = 0.0, 0, math.inf
    while at < len(given):
        part = _PART.match(given, at)
        if part is None:
            raise _no_number(told, text, unit)
        value = _value(part, told, text)
        size, zero, own = _unit(part[5], unit, told, text)
        if at and not (own < before and zero == 0 and value >= 0):  # as 5 ft 3 in
            raise _no_number(told, text, unit)
        total += math.copysign(1, total) * value * size if at else value * size + zero
        at, before = part.end(), own
    result = float(f"{total:.12g}")
    if not math.isfinite(result):
        raise _no_number(told, text, unit)
    return result


def said_back(value: float | None, unit: str = "") -> str:
    """Say a number with its unit, as it was understood; empty for none.

    Examples
    --------
    >>> said_back(0.14, "mm"), said_back(20.0, "C"), said_back(None, "mm")
    ('0.14 mm', '20 degrees C', '')
    """
    if value is None:
        return ""
    word = f"degrees {unit}" if unit in {"C", "F"} else unit
    return f"{value:.9g} {word}".strip()


def _value(part: re.Match[str], told: str, text: str) -> float:
    written = part[1]
    if _MAYBE_THOUSANDS.fullmatch(written):
        whole = re.sub("[.,]", "", written)
        # The same with another ending says which was meant.
        msg = (
            f"{told}: {text.strip()!r} could be {whole} or "
            f"{written.replace(',', '.')}0: write it without doubt, "
            f"{whole} or {written.replace(',', '.').rstrip('0').rstrip('.') or '0'}."
        )
        raise InputError(msg)
    value = float(written.replace(",", "."))
    if part[2]:
        top, bottom = int(part[2]), int(part[3])
    elif part[4]:
        top, bottom = 0, int(part[4])
    else:
        return value
    if bottom == 0 or (part[4] is None and top >= bottom):
        raise _no_number(told, text, "")
    if part[4]:
        return value / bottom
    return value + math.copysign(top / bottom, value)


def _unit(
    written: str | None, unit: str, told: str, text: str
) -> tuple[float, float, float]:
    """Return what one of the unit is in the field's, its nought, and its own size."""
    word = " ".join((written or "").split())
    if not word or word == unit:
        return 1.0, 0.0, UNITS[unit].size if unit in UNITS else 1.0
    lower = word.lower().rstrip(".")
    name = _OTHER_NAMES.get(lower, word if word in UNITS else lower)
    own = UNITS.get(unit)
    if name == "oz" and own is not None and own.kind == "volume":
        name = "fl oz"
    other = UNITS.get(name)
    if other is None or own is None or other.kind != own.kind:
        meant = f"in {unit}" if unit else "without a unit"
        msg = (
            f"{told}: {word!r} in {text.strip()!r} is not understood: type it {meant}."
        )
        raise InputError(msg)
    return other.size / own.size, (other.zero - own.zero) / own.size, other.size


def _no_number(told: str, text: str, unit: str) -> InputError:
    given = text.strip()
    example = f"12.5 {unit}".strip()
    return InputError(
        f"{told}: {given!r} is not a number: type one, such as {example}."
    )
