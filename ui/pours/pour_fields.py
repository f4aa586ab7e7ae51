"""A pour being logged: its own fields, its pieces one by one and all at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services.entry import parts_of
from ui.pours import words
from ui.pours.new_form import new_form
from ui.widgets import pour_entry, record_words
from ui.widgets.cautions import show_lifting
from ui.widgets.notice import hint, plain_lines
from ui.widgets.record_fields import ask_record, box, offers_of, tap_word, write
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.services.entry import Texts
    from analysis.services.log import Log
    from ui.widgets.entry import Entry
    from ui.widgets.record_fields import Offers, Slots

_OPEN = "piece being changed"
# A piece comes out of the form it was added for: its joints are that form's.
_NOT_HERE = frozenset({"form_id"})


def ask_pour(log: Log, entry: Entry) -> None:
    """Ask for a pour with its pieces; what is answered stands in the entry."""
    offers = offers_of(log)
    token = entry["token"]
    ask_record(offers, entry[pour_entry.TOPIC], Pour, token)
    pieces = pour_entry.pieces_of(entry)
    forms = offers("form_id")
    st.header(f"{words.PIECES} ({len(pieces)})", anchor=False)
    if not pieces:
        st.write(words.NO_PIECES)
    for texts in pieces:
        _piece(offers, entry, texts, forms)
    used = {texts["form_id"] for texts in pieces}
    show_lifting(one for one in log_service.forms(log) if str(one.id) in used)
    if pieces:
        with box(words.ALL_PIECES, f"{token} box"):
            _all_at_once(offers, pieces, token)
    _add(log, entry)


def _piece(
    offers: Offers, entry: Entry, texts: Texts, forms: Mapping[str, str]
) -> None:
    mark = pour_entry.mark_of(texts)
    key = f"{entry['token']} {mark}"
    is_open = st.session_state.get(_OPEN) == key
    with st.container(border=True):
        with st.container(
            horizontal=True,
            wrap=False,
            vertical_alignment="center",
            horizontal_alignment="distribute",
        ):
            name = words.piece_name(texts["name"], forms.get(texts["form_id"] or "-"))
            plain_lines((name, record_words.in_brief(texts)))
            st.button(
                words.DONE if is_open else words.CHANGE,
                key=f"open {key}",
                on_click=_open,
                args=("" if is_open else key,),
            )
        if is_open:
            ask_record(offers, texts, Piece, key, without=_NOT_HERE)
            st.button(
                words.TAKE_OFF,
                key=f"off {key}",
                on_click=pour_entry.take_off,
                args=(entry, mark),
            )


def _open(key: str) -> None:
    st.session_state[_OPEN] = key


def _all_at_once(offers: Offers, pieces: list[Texts], token: str) -> None:
    """Change one thing of all pieces together."""
    key = f"{token} all"
    sealings: Slots = []
    for texts in pieces:
        count = max(1, len(parts_of(texts, "joints")))
        sealings += [(texts, f"joints {place} sealing") for place in range(count)]
    simple = [texts for texts in pieces if len(parts_of(texts, "steps")) <= 1]
    left, right = st.columns(2)
    with left:
        agents = ("release_agent", "release_application")
        asked = (
            ("sealing", "joint_sealing", sealings),
            *((name, name, [(texts, name) for texts in pieces]) for name in agents),
        )
        for name, vocabulary, slots in asked:
            said, at = record_words.label(name), f"{key} {name}"
            tap_word(said, offers(vocabulary), slots, at, own=True)
    with right:
        if len(simple) < len(pieces):
            hint(words.ONE_BY_ONE)
        if simple:
            method = [(texts, "steps 0 method") for texts in simple]
            said = record_words.label("method")
            tap_word(
                said, offers("vibration_method"), method, f"{key} method", own=True
            )
            for name in ("seconds", "strokes"):
                slots = [(texts, f"steps 0 {name}") for texts in simple]
                write(record_words.label(name), slots, f"{key} {name}")


def _add(log: Log, entry: Entry) -> None:
    """Add pieces, one a tap, each like the one before in its form."""
    st.write(f"**{words.ADD_LIKE}**")
    with st.container(horizontal=True, key="add pieces"):
        for form in log_service.forms(log):
            st.button(
                literal(form.name),
                key=f"add in {form.id}",
                on_click=pour_entry.add_piece,
                args=(log, entry, str(form.id)),
            )
        st.button(
            words.ADD_LOOSE,
            key="add without a form",
            on_click=pour_entry.add_piece,
            args=(log, entry, ""),
        )
    with box(words.NEW_FORM, f"{entry['token']} new form"):
        new_form(log, entry)
