"""A table of pieces into the log: looked at first, then all of it or nothing."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from analysis.errors import TableError
from analysis.model.field_words import label_of
from analysis.services import records
from analysis.services.log import digest
from ui import state
from ui.records import exchange_words as words
from ui.widgets.notice import hint, plain, plain_lines, refuse
from ui.widgets.presses import act_button
from ui.words import literal

if TYPE_CHECKING:
    from analysis.services.log import Log
    from analysis.services.records import ImportPreview

_SHOWN = 5
_PROBLEMS_SHOWN = 200


def show_import(log: Log) -> None:
    """Take a table, show what would go in and what will not, and why."""
    hint(words.NEEDS)
    file = st.file_uploader(words.TABLE, key="table")
    if file is None:
        return
    data = file.getvalue()
    left, right = st.columns(2)
    with left:
        order = st.selectbox(
            words.DATES,
            list(words.DATE_ORDERS),
            format_func=words.DATE_ORDERS.__getitem__,
        )
    with right:
        decimal = st.selectbox(
            words.DECIMAL, list(words.DECIMALS), format_func=words.DECIMALS.__getitem__
        )
    columns = _columns(data)
    try:
        preview = records.preview_import(
            log,
            data,
            decimal=decimal or None,
            date_order=order or None,
            columns=columns,
        )
    except TableError as error:
        refuse(error)
        return
    token = state.save_token(("table", digest(data), log.url))
    plain(words.read_line(preview))
    if state.saved_as(token) is not None:
        st.success(f"{words.IMPORT_DONE} {state.saved_as(token)}.")
    elif preview.problems:
        _problems(preview)
    else:
        _take_in(log, preview, token)


def _columns(data: bytes) -> dict[str, str]:
    """Ask what the file's own columns are here; what is not said stays out."""
    header = [name for name in records.header_of(data) if name.strip()]
    known = {name: records.known_column(name) for name in header}
    own = [name for name in header if known[name] not in records.COLUMNS]
    left = [one for one in records.COLUMNS if one not in known.values()]
    if not own:
        return {}
    missing = any(name in left for name in records.NEEDED)
    found: dict[str, str] = {}
    with st.expander(
        words.COLUMNS, expanded=missing, key="own columns", on_change="rerun"
    ):
        for name in own:
            meant = st.selectbox(
                literal(name),
                left,
                format_func=label_of,
                index=None,
                placeholder=words.LEFT_OUT,
                key=f"column {name}",
            )
            if meant is not None:
                found[name] = meant
    return found


def _problems(preview: ImportPreview) -> None:
    st.error(words.problems_line(preview.problems))
    shown = preview.problems[:_PROBLEMS_SHOWN]
    for one in shown:
        plain(one.sentence)


def _take_in(log: Log, preview: ImportPreview, token: str) -> None:
    count = len(preview.rows)
    if not count:
        return
    st.write(words.PREVIEW_FIRST)
    rows = [
        {item.name: getattr(row, item.name) for item in fields(row)}
        for row in preview.rows[:_SHOWN]
    ]
    table = pd.DataFrame(rows).dropna(axis="columns", how="all")
    st.dataframe(table, hide_index=True)
    plain_lines(preview.notes)

    def take_in() -> None:
        records.import_pieces(log, preview, save_token=token)
        state.note_saved(token, count)

    act_button(
        words.import_button(count),
        take_in,
        key="import table",
        about=token,
        main=True,
        wide=True,
    )
