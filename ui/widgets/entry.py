"""Half-filled entries, kept in the log itself under a key in the page's address.

A session ends with its connection, a server with its machine: what was filled in is in
the log's drafts after every answer, and is taken up from there.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import streamlit as st

from analysis.services import records

if TYPE_CHECKING:
    from analysis.services.log import Log

Entry = dict[str, Any]

_DEVICE = "entry"
_ENTRIES = "entries"
_KEPT = "entries kept"
_OF = " of "
_LONGEST_DEVICE = 40


def device() -> str:
    """Return the key of this browser; it stands in the address from now on."""
    given = st.query_params.get(_DEVICE, "")
    if not (given.isalnum() and len(given) <= _LONGEST_DEVICE):
        given = st.session_state.get(_DEVICE) or uuid4().hex[:12]
        st.query_params[_DEVICE] = given
    st.session_state[_DEVICE] = given
    return given


def stay() -> None:
    """Keep the key in the address where Back or a list has led away from an entry."""
    if _DEVICE in st.session_state:
        device()


def begun(log: Log, topic: str) -> Entry | None:
    """Return what was begun here, after a reload too, and keep it as it stands now."""
    entries = _entries()
    if topic not in entries:
        found = records.load_draft(log, _key(topic))
        if found is None:
            return None
        entries[topic] = found
    entry = entries[topic]
    stands = json.dumps(entry)
    kept = st.session_state.setdefault(_KEPT, {})
    if kept.get(topic) != stands:
        records.save_draft(log, _key(topic), entry)
        kept[topic] = stands
    return entry


def begin(topic: str, content: Entry) -> Entry:
    """Begin an entry; its save token makes sure that it is saved once."""
    entry = {"token": uuid4().hex} | content
    _entries()[topic] = entry
    return entry


def end(log: Log, topic: str) -> Entry | None:
    """Forget an entry that was saved or thrown away; it is given back."""
    records.drop_draft(log, _key(topic))
    st.session_state.get(_KEPT, {}).pop(topic, None)
    return _entries().pop(topic, None)


def elsewhere(log: Log, topic: str) -> dict[str, Entry]:
    """Return what was begun in other browsers, the latest first, by its key."""
    keys = records.list_drafts(log, topic + _OF)
    found = {key: records.load_draft(log, key) for key in keys if key != _key(topic)}
    return {key: entry for key, entry in found.items() if entry is not None}


def take_over(log: Log, topic: str, key: str) -> None:
    """Go on here with what was begun in another browser."""
    found = records.load_draft(log, key)
    if found is not None:
        _entries()[topic] = found
        records.save_draft(log, _key(topic), found)
    records.drop_draft(log, key)


def drop(log: Log, key: str) -> None:
    """Throw away what was begun in another browser."""
    records.drop_draft(log, key)


def _key(topic: str) -> str:
    return f"{topic}{_OF}{device()}"


def _entries() -> dict[str, Entry]:
    found: dict[str, Entry] = st.session_state.setdefault(_ENTRIES, {})
    return found
