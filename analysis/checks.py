"""Checks at the door. Bounds are written so that NaN fails them."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING, TypeVar, cast

import numpy as np

from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike, NDArray

AnyScalar = TypeVar("AnyScalar", bound=np.generic)
LONGEST_NAME = 200
# Farther from the photo's corner no point can be meant.
_FARTHEST_PX = 1e6
# Days of a workshop: what lies outside is a slip of the year, and counts of days before
# or behind such a day may have no calendar.
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2099, 12, 31)
_OF_TEXT = frozenset("\t\n\r")
_BEFORE_SIGN = 20


def number(
    value: object,
    name: str,
    *,
    above: float | None = None,
    low: float = -math.inf,
    high: float = math.inf,
    unit: str = "",
    error: type[InputError] = InputError,
) -> float:
    """Return `value` as a finite float inside its bounds.

    Parameters
    ----------
    value : object
        What was given; text such as ``"1.5"`` is not a number here.
    name : str
        What it is, in the user's words; starts the message.
    above : float, optional
        Exclusive lower bound.
    low, high : float
        Inclusive bounds.
    unit : str
        Printed behind the bounds.
    error : type
        Which refusal to raise.

    Returns
    -------
    float
        The number, finite.

    Raises
    ------
    InputError
        Not a number, not finite, or out of bounds.

    Examples
    --------
    >>> number(3, "Scale", above=0)
    3.0
    """
    if isinstance(value, bool) or not isinstance(
        value, (int, float, np.integer, np.floating)
    ):
        msg = f"{name} must be a number, {value!r} was given: type digits."
        raise error(msg)
    try:
        given = float(value)
    except (OverflowError, TypeError):
        given = math.nan
    if not math.isfinite(given):
        msg = f"{name} must be a finite number, {given} was given: type digits."
        raise error(msg)
    space = f" {unit}" if unit else ""
    if above is not None and not given > above:
        msg = f"{name} must be more than {above:g}{space}, {given:g} was given."
        raise error(msg)
    if not low <= given <= high:
        if math.isinf(high):
            msg = f"{name} must be at least {low:g}{space}, {given:g} was given."
        elif math.isinf(low):
            msg = f"{name} must be at most {high:g}{space}, {given:g} was given."
        else:
            msg = (
                f"{name} must be between {low:g} and {high:g}{space}, "
                f"{given:g} was given."
            )
        raise error(msg)
    return given


def composed(text: str) -> str:
    r"""Return a text as it is compared: some systems write an umlaut as two signs.

    Examples
    --------
    >>> len(composed("u\N{COMBINING DIAERESIS}.jpg"))
    5
    """
    return unicodedata.normalize("NFC", text)


def as_kept(name: str) -> str:
    r"""Return a typed name as the log keeps it: composed, without blanks around it.

    Examples
    --------
    >>> as_kept(" u\N{COMBINING DIAERESIS} ") == "\u00fc"
    True
    """
    return composed(name.strip())


def one_of(
    value: str,
    name: str,
    allowed: Iterable[str],
    *,
    error: type[InputError] = InputError,
) -> str:
    """Return `value` if it is one of the allowed words.

    Examples
    --------
    >>> one_of("dry", "Surface state", ["wet", "dry"])
    'dry'
    """
    words = tuple(allowed)
    if value not in words:
        named = ", ".join(word for word in words if word)
        blank = " or blank" if "" in words else ""
        msg = f"{name} must be one of {named}{blank}; {value!r} was given."
        raise error(msg)
    return value


def points(
    value: ArrayLike,
    name: str,
    *,
    least: int,
    error: type[InputError] = InputError,
) -> NDArray[np.float64]:
    """Return (n, 2) finite points, in px, as a sealed float array.

    Examples
    --------
    >>> points([[0, 0], [0, 9], [9, 9]], "Face outline", least=3).shape
    (3, 2)
    """
    try:
        array = np.array(value, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        array = np.empty((0,))
    if array.shape[1:] != (2,) or len(array) < least:
        msg = (
            f"{name} needs at least {least} points of two numbers each, "
            f"an array of shape {array.shape} was given: mark more points."
        )
        raise error(msg)
    if not np.isfinite(array).all():
        msg = f"{name} has a point that is not a finite number: mark it again."
        raise error(msg)
    if np.abs(array).max() > _FARTHEST_PX:
        msg = f"{name} has a point far outside any photo: mark it again."
        raise error(msg)
    return sealed(array)


def sealed(array: NDArray[AnyScalar]) -> NDArray[AnyScalar]:
    """Return a contiguous copy that can no longer be written to.

    What is sealed already is given back as it is.

    Examples
    --------
    >>> sealed(np.zeros(2)).flags.writeable
    False
    """
    if (
        type(array) is np.ndarray
        and array.flags.owndata  # else others may write to what it shows
        and array.flags.c_contiguous
        and not array.flags.writeable
    ):
        return array
    copy = np.array(array, order="C", copy=True)
    copy.flags.writeable = False
    return copy


def seal_arrays(value: object) -> None:
    """Seal each array that a dataclass holds, in place.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Pair:
    ...     numbers: NDArray[np.float64]
    >>> pair = Pair(np.zeros(2))
    >>> seal_arrays(pair)
    >>> pair.numbers.flags.writeable
    False
    """
    for item in fields(value):  # type: ignore[arg-type]
        held = getattr(value, item.name)
        if isinstance(held, np.ndarray):
            object.__setattr__(value, item.name, sealed(held))


def frozen(array: NDArray[AnyScalar]) -> NDArray[AnyScalar]:
    """Seal an array that its maker has just made and keeps no other hold of.

    Examples
    --------
    >>> fresh = np.arange(3)[[0, 2]]
    >>> frozen(fresh) is fresh, fresh.flags.writeable
    (True, False)
    """
    array.flags.writeable = False
    return array


def named(value: object, what: str) -> None:
    """Refuse a blank or endless name, and one with a sign that ends a text.

    Examples
    --------
    >>> named("Trough A", "The form")
    """
    if not isinstance(value, str) or not value.strip():
        given = "nothing" if isinstance(value, str) else repr(value)
        msg = f"{what} needs a name, {given} was given: type one."
        raise InputError(msg)
    if "\0" in value:  # PostgreSQL keeps none, and C libraries read no further
        msg = f"{what} has a NUL sign in its name, {value!r}: type it anew."
        raise InputError(msg)
    if len(value) > LONGEST_NAME:
        msg = (
            f"{what} has a name of {len(value)} characters: "
            f"shorten it to {LONGEST_NAME}."
        )
        raise InputError(msg)


def all_named(values: Sequence[object], what: str) -> None:
    """Refuse what `named` refuses, of many names at once.

    Examples
    --------
    >>> all_named(["Trough A", "Trough B"], "The form")
    """
    if set(map(type, values)) == {str}:
        names = cast("Sequence[str]", values)
        if (
            "\0" not in "".join(names)
            and max(map(len, names)) <= LONGEST_NAME
            and all(map(str.strip, names))
        ):
            return
    for value in values:  # a closer look finds which, and says so
        named(value, what)


def odd_sign(text: str) -> str:
    r"""Name a text's first control character or half character; empty if it has none.

    Tabs and line ends belong to a text.

    Examples
    --------
    >>> odd_sign("wet\x07"), odd_sign("wet\0"), odd_sign("two\nlines")
    ('a control character (U+0007)', 'a NUL sign', '')
    """
    if text.isprintable():
        return ""
    for sign in text:
        # C0 and C1 controls, and halves of a pair that no encoding writes (Unicode,
        # general categories Cc and Cs).
        if sign not in _OF_TEXT and unicodedata.category(sign) in {"Cc", "Cs"}:
            return "a NUL sign" if sign == "\0" else _coded(sign)
    return ""


def _coded(sign: str) -> str:
    kind = "control" if unicodedata.category(sign) == "Cc" else "broken"
    return f"a {kind} character (U+{ord(sign):04X})"


def plain_text(value: str, what: str) -> None:
    """Refuse a text with a control character: it is not seen, and spoils sheets.

    Parameters
    ----------
    value : str
        As it was typed, pasted or read.
    what : str
        What it is, in the user's words; starts the message.

    Raises
    ------
    InputError
        Naming the sign and what stands before it.

    Examples
    --------
    >>> plain_text("struck wet, two lifts", "Note")
    """
    found = odd_sign(value)
    if found:
        at = next(n for n, sign in enumerate(value) if odd_sign(sign))
        before = " ".join(value[max(at - _BEFORE_SIGN, 0) : at].split())
        where = f"behind {before!r}" if before else "at its start"
        msg = f"{what} has {found} {where}: delete it there, or type the text anew."
        raise InputError(msg)


def sensible_day(
    value: date, what: str, *, error: type[InputError] = InputError
) -> None:
    """Refuse a day of another century, which is a slip of the year.

    Examples
    --------
    >>> sensible_day(date(2026, 3, 31), "Cast on")
    """
    if not FIRST_DAY <= value <= LAST_DAY:
        msg = (
            f"{what} must lie in the years {FIRST_DAY.year} to {LAST_DAY.year}, "
            f"{value} was given: correct the year."
        )
        raise error(msg)


def each_once(names: tuple[str, ...], what: str) -> None:
    """Refuse a joint given twice.

    Examples
    --------
    >>> each_once(("left", "right"), "The form")
    """
    if len(set(names)) < len(names):
        msg = f"{what} names a joint twice: give each joint once."
        raise InputError(msg)
