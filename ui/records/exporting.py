"""The table of pieces out of the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import records
from ui.records import exchange_words as words
from ui.widgets.notice import hint

if TYPE_CHECKING:
    from analysis.services.log import Log

_CSV = "text/csv"
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def show_export(log: Log) -> None:
    """Offer the table in each shape; it is made when it is asked for."""
    st.write(words.EXPORT)
    name = f"pieces-{records.today().isoformat()}"
    st.download_button(
        words.EXPORTS_CSV,
        lambda: records.export_csv(log),
        f"{name}.csv",
        _CSV,
        width="stretch",
    )
    st.download_button(
        words.EXPORTS_CSV_COMMA,
        lambda: records.export_csv(log, decimal=","),
        f"{name}.csv",
        _CSV,
        width="stretch",
    )
    st.download_button(
        words.EXPORTS_XLSX,
        lambda: records.export_xlsx(log)[0],
        f"{name}.xlsx",
        _XLSX,
        width="stretch",
    )
    hint(words.EXPORT_KEEPS)
