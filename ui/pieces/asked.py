"""What is asked of the library: kept in the session and in the page's address."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING, Any

import streamlit as st

from analysis.errors import InputError
from analysis.model.library import ORDERS, PLACES, LibraryAsk
from analysis.services import log as log_service
from analysis.vocabulary import SEALINGS, STAGES
from ui import words
from ui.pieces import library_words as said
from ui.widgets.fields import day_format
from ui.widgets.notice import refuse

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.services.log import Log

ASK = "library asked"
START = "library start"
_EARLIEST = date(1970, 1, 1)
_LONGEST_ID = 18
_WHOLE = ("form_id", "pour_id")
_DAYS = ("from_day", "to_day")


def asked() -> LibraryAsk:
    """Return what is asked: what the address says, else what the session holds."""
    named = {one.name for one in fields(LibraryAsk)} & set(st.query_params)
    held: LibraryAsk | None = st.session_state.get(ASK)
    if held is not None and not named:
        return held
    given = _from_address()
    if given != held:
        st.session_state[ASK] = given
        go_to(0)
    return given


def start() -> int:
    """Return the place of the first card shown."""
    return int(st.session_state.get(START, 0))


def go_to(place: int) -> None:
    """Show the page that begins there."""
    st.session_state[START] = place


def ask_anew() -> None:
    """Let go of all filters; the order stays."""
    for one in fields(LibraryAsk):
        if one.name != "order":
            st.session_state.pop(_key(one.name), None)
    st.session_state[ASK] = LibraryAsk(order=asked().order)
    _into_address(st.session_state[ASK])
    go_to(0)


def show_question(log: Log) -> LibraryAsk:
    """Draw the search, the filters and the order; return what is asked."""
    before = asked()
    answers: dict[str, Any] = {
        "text": st.text_input(
            said.SEARCH,
            value=before.text,
            placeholder=said.SEARCH_EXAMPLE,
            key=_key("text"),
            label_visibility="collapsed",
        )
    }
    count = sum(
        getattr(before, one.name) is not None
        for one in fields(LibraryAsk)
        if one.name not in {"text", "order"}
    )
    label = said.FILTERS if not count else f"{said.FILTERS} ({count})"
    with st.expander(label, key="library filters"):
        answers |= _filters(log, before)
        st.button(said.CLEAR, on_click=ask_anew)
    try:
        now = LibraryAsk(**answers)
    except InputError as error:
        refuse(error)
        return before
    if now != before:
        st.session_state[ASK] = now
        go_to(0)
    _into_address(now)
    return now


def _filters(log: Log, before: LibraryAsk) -> dict[str, Any]:
    forms = {one.id or 0: one.name for one in log_service.forms(log)}
    pours = {one.id or 0: words.pour_name(one) for one in log_service.pours(log)}
    offered: dict[str, tuple[str, Mapping[Any, str]]] = {
        "form_id": (words.FORM, forms),
        "form_type": (words.FORM_TYPE, _as_is(log_service.words(log, "form_type"))),
        "pour_id": (words.POUR, pours),
        "sealing": (words.SEALING, said.SEALINGS),
        "method": (words.METHOD, _as_is(log_service.words(log, "vibration_method"))),
        "place": (said.TARGET, said.PLACES),
        "stage": (words.STAGE, words.STAGES),
    }
    answers: dict[str, Any] = {}
    with st.container(horizontal=True):
        answers["order"] = _pick("order", said.ORDER, said.ORDERS, before.order)
        for name, (label, options) in offered.items():
            chosen = getattr(before, name)
            answers[name] = _pick(name, label, {None: said.ANY, **options}, chosen)
        for name, label in (("from_day", said.FROM), ("to_day", said.TO)):
            answers[name] = st.date_input(
                label,
                value=getattr(before, name),
                min_value=_EARLIEST,
                format=day_format(),
                key=_key(name),
                width=220,
            )
    return answers


def _pick(name: str, label: str, options: Mapping[Any, str], chosen: object) -> Any:  # noqa: ANN401  a filter's own type
    keys = list(options)
    return st.selectbox(
        label,
        keys,
        index=keys.index(chosen) if chosen in options else 0,
        format_func=lambda key: options[key],
        key=_key(name),
        width=220,
    )


def _as_is(given: tuple[str, ...]) -> dict[str, str]:
    return {word: word for word in given}


def _key(name: str) -> str:
    return f"library {name}"


def _into_address(ask: LibraryAsk) -> None:
    for one in fields(LibraryAsk):
        value = getattr(ask, one.name)
        if value == one.default:
            st.query_params.pop(one.name, None)
        else:
            st.query_params[one.name] = str(value)


def _from_address() -> LibraryAsk:
    """Read what the address asks; what it says wrongly is not asked."""
    readers: dict[str, Callable[[str], Any]] = {
        "order": lambda text: text if text in ORDERS else "newest",
        "sealing": lambda text: text if text in SEALINGS else None,
        "place": lambda text: text if text in PLACES else None,
        "stage": lambda text: text if text in STAGES else None,
        **dict.fromkeys(_WHOLE, _whole),
        **dict.fromkeys(_DAYS, _day),
    }
    given = {
        one.name: readers.get(one.name, str)(st.query_params[one.name])
        for one in fields(LibraryAsk)
        if one.name in st.query_params
    }
    try:
        return LibraryAsk(**given)
    except InputError:
        return LibraryAsk()


def _whole(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) <= _LONGEST_ID else None


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
