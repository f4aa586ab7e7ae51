"""Records as fields hold them: one text per field, and back.

A blank text is 'not known'; 'none' and 'not applicable' are words of their own. Shares
are percent in the texts. Fields of parts, such as the joints of a piece, bear the
part's field, its place and its own field, parted by blanks: ``"joints 0 sealing"``.
"""

from __future__ import annotations

from dataclasses import fields
from datetime import date, time
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from analysis.errors import InputError
from analysis.fields import FIELDS
from analysis.model.log import JointState, Piece, Step
from analysis.model.workshop import Form, FormJoint, Mix, MixPart
from analysis.typed import typed_number

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from analysis.fields import Field

Texts = dict[str, str]
Value = TypeVar("Value")

PARTS: Mapping[tuple[type, str], type[Any]] = MappingProxyType(
    {
        (Piece, "joints"): JointState,
        (Piece, "steps"): Step,
        (Form, "joints"): FormJoint,
        (Mix, "parts"): MixPart,
    }
)
_KEPT_APART = frozenset({"id", "version"})
_KNOWN: Mapping[str, Field] = MappingProxyType(
    {one.name: one for one in reversed(FIELDS)}
)


def unit_of(name: str) -> str:
    """Return the unit of a field, empty where it has none.

    Examples
    --------
    >>> unit_of("water_added_l"), unit_of("humidity_share"), unit_of("lifts")
    ('l', '%', '')
    """
    return _KNOWN[name].unit if name in _KNOWN else ""


def is_number(name: str) -> bool:
    """Tell whether a field holds a number.

    Examples
    --------
    >>> is_number("seconds"), is_number("strokes"), is_number("note")
    (True, True, False)
    """
    return name in _KNOWN and _KNOWN[name].is_number


def said_of(name: str) -> str:
    """Return what a field is called in a refusal.

    Examples
    --------
    >>> said_of("water_added_l"), said_of("lifts")
    ('Water added, l', 'Lifts')
    """
    said = _KNOWN[name].factor if name in _KNOWN else name
    return f"{said}, {unit_of(name)}" if unit_of(name) else said


def to_texts(record: Any) -> Texts:  # noqa: ANN401  any record or part of one
    """Return a record as texts.

    Examples
    --------
    >>> piece = Piece(name="7", pour_id=1, steps=(Step(method="table", seconds=40.0),))
    >>> texts = to_texts(piece)
    >>> texts["name"], texts["steps 0 seconds"], texts["lifts"]
    ('7', '40', '')
    """
    texts: Texts = {}
    for item in fields(record):
        value = getattr(record, item.name)
        if (type(record), item.name) in PARTS:
            for place, part in enumerate(value):
                texts |= {
                    f"{item.name} {place} {name}": text
                    for name, text in to_texts(part).items()
                }
        elif item.name not in _KEPT_APART:
            texts[item.name] = _text(item.name, value)
    return texts


def _text(name: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{100 * value if unit_of(name) == '%' else value:.15g}"
    return str(value)


def from_texts(kind: type[Value], texts: Mapping[str, str], **known: object) -> Value:
    """Return the record that texts say; parts left blank are left out.

    Parameters
    ----------
    kind : type
        Piece, Pour, Form and so on, or a part of one.
    texts : mapping
        As from `to_texts`; a field that is missing keeps its default.
    **known : object
        Fields that are not typed, such as `id` and `version`.

    Raises
    ------
    InputError
        A text is no number, date or time, or the record refuses it.

    Examples
    --------
    >>> from_texts(Step, {"method": "table", "seconds": "12,5"}).seconds
    12.5
    """
    values: dict[str, Any] = {}
    for item in fields(kind):  # type: ignore[arg-type]  # every kind is a dataclass
        part = PARTS.get((kind, item.name))
        if part is not None:
            values[item.name] = tuple(
                from_texts(part, one)
                for one in parts_of(texts, item.name)
                if any(text.strip() for text in one.values())
            )
        elif item.name in texts and item.name not in known:
            values[item.name] = _READ[str(item.type)](item.name, texts[item.name])
    return kind(**values | known)


def parts_of(texts: Mapping[str, str], field: str) -> tuple[Texts, ...]:
    """Return the parts of a field in their order.

    Examples
    --------
    >>> parts_of({"name": "7", "steps 0 method": "table"}, "steps")
    ({'method': 'table'},)
    """
    found: dict[int, Texts] = {}
    for key, text in texts.items():
        head, _, rest = key.partition(" ")
        place, _, name = rest.partition(" ")
        if head == field and name:
            found.setdefault(int(place), {})[name] = text
    return tuple(found[place] for place in sorted(found))


def with_parts(texts: Mapping[str, str], field: str, parts: Sequence[Texts]) -> Texts:
    """Return texts with the parts of a field replaced.

    Examples
    --------
    >>> with_parts({"name": "7", "steps 0 method": "table"}, "steps", [])
    {'name': '7'}
    """
    rest = {k: text for k, text in texts.items() if not k.startswith(f"{field} ")}
    for place, part in enumerate(parts):
        rest |= {f"{field} {place} {name}": text for name, text in part.items()}
    return rest


def blank_part(kind: type, field: str) -> Texts:
    """Return a part with nothing known.

    Examples
    --------
    >>> blank_part(Form, "joints")
    {'name': '', 'default_sealing': ''}
    """
    return {item.name: "" for item in fields(PARTS[kind, field])}


def blank_texts(kind: type) -> Texts:
    """Return the texts of a record of which nothing is known.

    Examples
    --------
    >>> blank_texts(Mix)
    {'name': '', 'basis': '', 'proportions': '', 'note': ''}
    """
    return {
        item.name: ""
        for item in fields(kind)
        if item.name not in _KEPT_APART and (kind, item.name) not in PARTS
    }


def joint_groups(names: Sequence[str]) -> dict[str, tuple[int, ...]]:
    """Return joints that are set together: all, every second one, those named alike.

    Names are alike up to the number that ends them; a group that holds all of them, or
    one alone, is not offered.

    Examples
    --------
    >>> found = joint_groups(["long 1", "long 2", "end 1", "end 2"])
    >>> found["All"], found["Every second"], found["end"]
    ((0, 1, 2, 3), (0, 2), (2, 3))
    """
    everyone = tuple(range(len(names)))
    groups = {
        "All": everyone,
        "Every second": everyone[::2],
        "The others": everyone[1::2],
    }
    alike: dict[str, list[int]] = {}
    for place, name in enumerate(names):
        alike.setdefault(name.rstrip("0123456789 -_.").strip(), []).append(place)
    for head, places in alike.items():
        if head and 1 < len(places) < len(names):
            groups[head] = tuple(places)
    return groups


def echo(name: str, text: str) -> str:
    """Say how a number was read, with its unit; empty for a blank.

    Raises
    ------
    InputError
        The text is no number, or could be two.

    Examples
    --------
    >>> echo("water_added_l", " 1,25"), echo("seconds", "5:30")
    ('1.25 l', '330 s')
    """
    unit = unit_of(name)
    value = typed_number(text, unit, what=said_of(name))
    return "" if value is None else f"{value:.15g} {unit}".strip()


def _plain(_name: str, text: str) -> str:
    return text


def _word(_name: str, text: str) -> str | None:
    return " ".join(text.split()) or None


def _number(name: str, text: str) -> float | None:
    value = typed_number(text, unit_of(name), what=said_of(name))
    if value is not None and unit_of(name) == "%":
        return value / 100
    return value


def _whole(name: str, text: str) -> int | None:
    value = _number(name, text)
    if value is not None and value != int(value):
        msg = f"{said_of(name)}: {text.strip()!r} is not a whole number: type one."
        raise InputError(msg)
    return None if value is None else int(value)


def _whole_or_zero(name: str, text: str) -> int:
    return _whole(name, text) or 0


def _day(name: str, text: str) -> date | None:
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        msg = f"{said_of(name)}: {text!r} is not a date: write it as 2026-03-31."
        raise InputError(msg) from None


def _needed_day(name: str, text: str) -> date:
    day = _day(name, text)
    if day is None:
        msg = f"{said_of(name)} is blank: choose the day."
        raise InputError(msg)
    return day


def _time(name: str, text: str) -> time | None:
    hour, _, minute = text.strip().replace(".", ":").partition(":")
    try:
        return time(int(hour), int(minute)) if text.strip() else None
    except ValueError:
        msg = f"{said_of(name)}: {text!r} is not a time: write it as 14:30."
        raise InputError(msg) from None


_READ: Mapping[str, Callable[[str, str], object]] = MappingProxyType(
    {
        "str": _plain,
        "str | None": _word,
        "float | None": _number,
        "int | None": _whole,
        "int": _whole_or_zero,
        "date": _needed_day,
        "date | None": _day,
        "time | None": _time,
    }
)
