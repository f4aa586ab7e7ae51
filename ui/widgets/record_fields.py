"""Fields of any record: each a text of an entry, shown by what kind of field it is."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import fields
from datetime import date
from functools import cache, partial
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.afterwards import HandFigures
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.services import records
from analysis.services.entry import (
    PARTS,
    blank_part,
    echo,
    is_number,
    joint_groups,
    parts_of,
    unit_of,
    with_parts,
)
from analysis.vocabulary import NONE, NOT_APPLICABLE
from ui.widgets import record_words as words
from ui.widgets.fields import day_format
from ui.widgets.hands import numbers
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.presses import act_button
from ui.words import SEALING_NONE, literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from analysis.services.entry import Texts
    from analysis.services.log import Log

    Offers = Callable[[str], Mapping[str, str]]

_REFERENCES = {"form_id": Form, "product_line_id": ProductLine, "mix_id": Mix}
_IN_A_ROW = 3
_MANY_JOINTS = 3
# More words than this are sooner found in a list.
_TAPPED_MOST = 10
# No word of a log: those hold no line's end.
_ANOTHER = "another\n"
# What is asked first; the rest is folded away.
FIRST = {
    Pour: ("name", "cast_on"),
    Piece: ("name", "form_id", "release_agent", "release_application"),
    Step: ("method", "seconds", "strokes"),
    Form: ("name", "form_type", "release_agent", "product_line_id"),
    HandFigures: ("joint", "leak_width_mm", "leak_depth_mm", "step_mm", "fin_mm"),
}
_NOT_ASKED = frozenset({"id", "version", "pour_id", "piece_id"})


def offers_of(log: Log) -> Offers:
    """Return what can be chosen by vocabulary or reference, each read once a run."""

    @cache
    def offered(what: str) -> Mapping[str, str]:
        if what in _REFERENCES:
            known = records.list_all(log, _REFERENCES[what])
            return {"": words.UNKNOWN} | {str(one.id): one.name for one in known}
        none = SEALING_NONE if what == "joint_sealing" else words.NONE_WORD
        fixed = {
            "": words.UNKNOWN,
            NONE: none,
            NOT_APPLICABLE: words.NOT_APPLICABLE_WORD,
        }
        return fixed | {
            word: word for word in records.words(log, what) if word not in fixed
        }

    return offered


def ask_record(
    offers: Offers,
    texts: Texts,
    kind: type,
    key: str,
    *,
    without: frozenset[str] = frozenset(),
) -> None:
    """Ask for all fields of a record: the usual ones, its parts, then the rest."""
    names = [
        item.name
        for item in fields(kind)
        if item.name not in _NOT_ASKED | without and (kind, item.name) not in PARTS
    ]
    first = [name for name in FIRST.get(kind, names) if name in names]
    _grid(offers, texts, kind, first, key)
    for of, field in PARTS:
        if of is kind:
            _ask_parts(offers, texts, kind, field, key)
    rest = [name for name in names if name not in first]
    if rest:
        with box(words.MORE_OF[kind.__name__], f"{key} more"):
            _grid(offers, texts, kind, rest, key)


def box(said: str, key: str) -> st.delta_generator.DeltaGenerator:
    """Return a box that stays as open as it was left, whatever comes above it."""
    return st.expander(said, key=key, on_change="rerun")


def _grid(
    offers: Offers, texts: Texts, kind: type, names: Sequence[str], key: str
) -> None:
    for start in range(0, len(names), _IN_A_ROW):
        row = names[start : start + _IN_A_ROW]
        for place, name in zip(st.columns(_IN_A_ROW), row, strict=False):
            with place:
                ask(offers, texts, kind, name, key)


def _ask_parts(offers: Offers, texts: Texts, kind: type, field: str, key: str) -> None:
    st.write(f"**{words.PARTS[field]}**")
    parts = parts_of(texts, field)
    part_kind = PARTS[kind, field]
    if part_kind is JointState and len(parts) >= _MANY_JOINTS:
        ask_joints_together(offers, texts, key)
    for place in range(len(parts)):
        with st.container(border=True):
            at = f"{field} {place} "
            names = [item.name for item in fields(part_kind)]
            if part_kind is JointState and texts.get(f"{at}joint"):
                names.remove("joint")
                plain(f"{words.PART[field]} {texts[f'{at}joint']}")
            first = FIRST.get(part_kind, names)
            _grid(offers, texts, part_kind, [at + name for name in first], key)
            rest = [at + name for name in names if name not in first]
            if rest:
                with box(words.MORE_OF[part_kind.__name__], f"{key} {at}more"):
                    _grid(offers, texts, part_kind, rest, key)
            said = f"{words.REMOVE} {words.PART[field].lower()} {place + 1}"
            left = (*parts[:place], *parts[place + 1 :])
            act_button(
                said,
                partial(_replace, texts, field, left),
                key=f"{key} remove {field} {place}",
                about=len(parts),
            )
    more = (*parts, blank_part(kind, field))
    act_button(
        words.ADD_PART[field],
        partial(_replace, texts, field, more),
        key=f"{key} add {field}",
        about=len(parts),
    )


def _replace(texts: Texts, field: str, parts: Sequence[Texts]) -> None:
    new = with_parts(texts, field, parts)
    texts.clear()
    texts.update(new)


def ask(offers: Offers, texts: Texts, kind: type, path: str, key: str) -> None:
    """Ask for one field; `path` may lead to a part's field."""
    name = path.rpartition(" ")[2]
    (item,) = (one for one in fields(kind) if one.name == name)
    vocabulary = item.metadata.get("vocabulary")
    if "vocabulary_in" in item.metadata:
        vocabulary = texts.get(path.removesuffix(name) + item.metadata["vocabulary_in"])
    said, at = words.label(name, kind), f"{key} {path}"
    if name in words.TAPPED:
        tap(said, words.CHOICES[name], [(texts, path)], at)
    elif name in words.CHOICES:
        offered = {"": words.UNKNOWN, **words.CHOICES[name]}
        choose(said, offered, [(texts, path)], at)
    elif name in _REFERENCES:
        choose(said, offers(name), [(texts, path)], at)
    elif vocabulary:
        choose(said, offers(vocabulary), [(texts, path)], at, own=True)
    elif str(item.type).startswith("date"):
        needed = "None" not in str(item.type)
        _ask_day(said, texts, path, at, needed=needed)
    else:
        example = words.TIME_EXAMPLE if str(item.type).startswith("time") else ""
        write(said, [(texts, path)], at, example=example)


def tap_word(
    said: str, offered: Mapping[str, str], slots: Slots, key: str, *, own: bool = False
) -> None:
    """Let a word be tapped for all slots; too many stand in a list.

    A word that is not among them is asked for by one more tap, where it may be one's
    own.
    """
    known = {one: told for one, told in offered.items() if one}
    # A word of the maker's own, written at one slot, is a tap for the others.
    for texts, path in slots:
        if word := texts.get(path, ""):
            known.setdefault(word, word)
    if len(known) > _TAPPED_MOST:
        choose(said, {"": words.UNKNOWN} | known, slots, key, own=own)
        return
    asked = f"{key} asks for another"
    tap(said, known, slots, key, another=asked if own else "")
    if own and st.session_state.get(asked):
        listed = {"": words.UNKNOWN} | known
        choose(words.ANOTHER, listed, slots, f"{key} another", own=True)


def tap(
    said: str, offered: Mapping[str, str], slots: Slots, key: str, *, another: str = ""
) -> None:
    """Let one of a few be tapped; a second tap makes it not known again."""
    now = common(slots) or None
    _show(key, now)
    st.pills(
        said,
        [*offered, *([_ANOTHER] if another else [])],
        default=now if now in offered else None,  # as in `write`
        format_func=lambda one: offered.get(one, words.ANOTHER),
        key=key,
        width="stretch",
        wrap=True,  # a word that must be looked for sideways is not seen
        on_change=_take_tapped,
        args=(slots, key, another),
    )


def _take_tapped(slots: Slots, key: str, another: str) -> None:
    """Write what was tapped, or ask for another word from the next run on."""
    asks = st.session_state[key] == _ANOTHER
    if another:
        st.session_state[another] = asks
    if not asks:
        _take(slots, key)


Slots = list[tuple[dict[str, str], str]]


def ask_joints_together(offers: Offers, texts: Texts, key: str) -> None:
    """Seal many joints with one tap: all, every second one, or a group by its name."""
    names = [one.get("joint", "") for one in parts_of(texts, "joints")]
    groups = joint_groups(names)
    chosen = st.pills(
        words.JOINTS_TOGETHER,
        list(groups),
        default=next(iter(groups)),
        key=f"{key} joints together",
        width="stretch",
        wrap=True,
    )
    places = groups.get(chosen or "", range(len(names)))
    for field, vocabulary in (("sealing", "joint_sealing"), ("leak", "leak")):
        slots = [(texts, f"joints {place} {field}") for place in places]
        at = f"{key} {chosen} {field}"
        offered = dict(offers(vocabulary))
        for one in parts_of(texts, "joints"):
            offered.setdefault(one.get(field, ""), one.get(field, ""))
        tap_word(words.label(field), offered, slots, at)
    hint(literal(", ".join(names[place] or str(place + 1) for place in places)))


def choose(
    said: str, offered: Mapping[str, str], slots: Slots, key: str, *, own: bool = False
) -> None:
    """Let one word be chosen for all slots; where they differ, none is shown."""
    now = common(slots)
    options = list(offered if now is None or now in offered else [*offered, now])
    _show(key, now)
    st.selectbox(
        said,
        options,
        index=options.index(now) if now in options else None,  # as in `write`
        format_func=lambda one: offered.get(one, one),
        placeholder=words.DIFFERS if slots else words.UNKNOWN,
        accept_new_options=own,
        key=key,
        on_change=_take,
        args=(slots, key),
    )


def write(said: str, slots: Slots, key: str, *, example: str = "") -> None:
    """Let one text be written for all slots; numbers are echoed with their unit."""
    now = common(slots)
    name = slots[0][1].rpartition(" ")[2] if slots else ""
    _show(key, now or "")
    with numbers(key) if is_number(name) else nullcontext():
        st.text_input(
            said,
            now or "",  # a browser too busy to hear of `_show` begins with this
            key=key,
            placeholder=words.DIFFERS if now is None else example,
            on_change=_take,
            args=(slots, key),
        )
    if now and is_number(name):
        try:
            read = echo(name, now)
        except StruckfaceError as error:
            refuse(error)
        else:
            # A comma, or minutes and seconds: say what it was taken for.
            if read not in {f"{now.strip()} {unit_of(name)}", now.strip()}:
                hint(f"= {literal(read)}")


def common(slots: Slots) -> str | None:
    """Return what all slots hold, None where they differ."""
    found = {texts.get(path, "") for texts, path in slots}
    return found.pop() if len(found) == 1 else None


def _ask_day(said: str, texts: Texts, path: str, key: str, *, needed: bool) -> None:
    now = texts.get(path, "")
    try:
        day = date.fromisoformat(now) if now else None
    except ValueError:
        day = None
    _show(key, day)
    st.date_input(
        said,
        # As in `write`; a day that may be blank must stay one that can be cleared.
        value=day if needed else None,
        format=day_format(),
        key=key,
        on_change=_take,
        args=([(texts, path)], key),
    )


def _show(key: str, value: object) -> None:
    """Let a field show what the entry holds; what is being typed is left alone."""
    if key not in st.session_state or st.session_state[key] != value:
        st.session_state[key] = value


def _take(slots: Slots, key: str) -> None:
    """Write a field's new value into the entry."""
    value = st.session_state[key]
    text = value.isoformat() if isinstance(value, date) else str(value or "")
    for texts, path in slots:
        texts[path] = text
