"""Adding and correcting records of any kind; two people at one are shown both."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from analysis.errors import ConflictError, InputError, StruckfaceError
from analysis.services import records
from analysis.services.entry import blank_texts, from_texts, to_texts
from ui.records import words
from ui.widgets import entry as entries
from ui.widgets.notice import plain, plain_lines, refuse, refusing
from ui.widgets.presses import act_button
from ui.widgets.record_fields import ask_record, offers_of
from ui.words import SAVE

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.services.entry import Texts
    from analysis.services.log import Log
    from analysis.services.records import Record
    from ui.widgets.entry import Entry

_TAKEN_OUT = "taken out last"


def show_adding(log: Log, kind: type[Record], said: str, **known: int | str) -> None:
    """Let a record be added.

    Ids in `known` hold for good and are not asked; texts stand in their fields.
    """
    fixed: dict[str, int] = {
        name: value for name, value in known.items() if isinstance(value, int)
    }
    topic = " ".join([f"new {kind.__name__}", *map(str, fixed.values())])
    entry = entries.begun(log, topic)
    if entry is None:
        texts: Texts = blank_texts(kind) | {
            name: value for name, value in known.items() if isinstance(value, str)
        }
        st.button(said, key=topic, on_click=_begin, args=(topic, texts))
        return
    with st.container(border=True):
        st.write(f"**{said}**")
        texts = entry["texts"]
        ask_record(
            offers_of(log), texts, kind, entry["token"], without=frozenset(fixed)
        )
        save = partial(_add, log, kind, entry, fixed)
        act_button(
            SAVE,
            partial(_keep, log, topic, save),
            key=f"save {topic}",
            about=entry["token"],
            main=True,
            wide=True,
        )
        st.button(
            words.LET_GO, key=f"let go {topic}", on_click=_let_go, args=(log, topic)
        )


def show_editing(log: Log, record: Record, said: str) -> None:
    """Let a record be corrected; what stands in the log now is `record`."""
    kind = type(record)
    topic = f"{kind.__name__} {record.id}"
    entry = entries.begun(log, topic)
    if entry is None:
        st.button(said, key=f"edit {topic}", on_click=_begin_edit, args=(topic, record))
        return
    with st.container(border=True):
        st.write(f"**{said}**")
        ask_record(offers_of(log), entry["texts"], kind, entry["token"])
        if record.version != entry["version"]:
            _conflict(log, record, entry, topic)
            return
        act_button(
            SAVE,
            partial(
                _keep,
                log,
                topic,
                lambda: records.change(log, _given(record, entry, "texts")),
            ),
            key=f"save {topic}",
            about=entry["token"],
            main=True,
            wide=True,
        )
        st.button(
            words.LET_GO, key=f"let go {topic}", on_click=_let_go, args=(log, topic)
        )


@refusing
def _let_go(log: Log, topic: str) -> None:
    entries.end(log, topic)


def _add(log: Log, kind: type[Record], entry: Entry, fixed: Mapping[str, Any]) -> None:
    texts = entry["texts"]
    if texts == entry["blank"]:
        raise InputError(words.NOTHING_FILLED)
    records.add(log, from_texts(kind, texts, **fixed), save_token=entry["token"])


def _keep(log: Log, topic: str, save: Callable[[], object]) -> None:
    """Save what was entered and close its form."""
    # After a conflict the next run finds the other's version and shows both.
    with suppress(ConflictError):
        save()
        entries.end(log, topic)


def _begin(topic: str, texts: Texts) -> None:
    entries.begin(topic, {"texts": texts, "blank": dict(texts)})


def _begin_edit(topic: str, record: Record) -> None:
    texts = to_texts(record)
    entries.begin(
        topic, {"texts": texts, "opened": dict(texts), "version": record.version}
    )


def _given(record: Record, entry: Entry, which: str) -> Record:
    """Return the record as this person has it, or had it when it was opened."""
    owners = {
        name: getattr(record, name)
        for name in ("pour_id", "piece_id")
        if hasattr(record, name)
    }
    known = {"id": record.id, "version": entry["version"]} | owners
    return from_texts(type(record), entry[which], **known)


def _conflict(log: Log, stored: Record, entry: Entry, topic: str) -> None:
    """Show what the other saved beside what is being written here."""
    st.warning(words.CONFLICT)
    try:
        opened, given = _given(stored, entry, "opened"), _given(stored, entry, "texts")
    except StruckfaceError as error:
        refuse(error)
        return
    mine = {name for name, *_ in records.differences(opened, given)}
    offers = offers_of(log)
    for name, _, _ in records.differences(stored, given):
        lines = words.both_lines(stored, given, name, offers, is_mine=name in mine)
        with st.container(border=True):
            plain_lines(lines)
    if mine:
        act_button(
            words.SAVE_MINE,
            partial(
                _keep,
                log,
                topic,
                lambda: records.change(log, records.laid_over(stored, opened, given)),
            ),
            key=f"mine {topic}",
            about=(entry["token"], stored.version),
            main=True,
            wide=True,
        )
    st.button(
        words.KEEP_THEIRS,
        width="stretch",
        key=f"theirs {topic}",
        on_click=_let_go,
        args=(log, topic),
    )


@refusing
def take_out(log: Log, record: Record, said: str) -> None:
    """Hide a record and remember it, so that the next page offers it back."""
    records.hide(log, type(record), record.id or 0)
    st.session_state[_TAKEN_OUT] = (type(record), record.id, said)


def show_taken_out(log: Log) -> None:
    """Offer back what was taken out last."""
    if _TAKEN_OUT not in st.session_state:
        return
    kind, record_id, said = st.session_state[_TAKEN_OUT]
    with st.container(border=True, horizontal=True, vertical_alignment="center"):
        plain(f"{words.TAKEN_OUT} {said}")
        st.button(
            words.UNDO,
            key="bring back last",
            on_click=bring_back,
            args=(log, kind, record_id),
        )


@refusing
def bring_back(log: Log, kind: type[Record], record_id: int) -> None:
    """Undo `take_out`."""
    records.bring_back(log, kind, record_id)
    st.session_state.pop(_TAKEN_OUT, None)
