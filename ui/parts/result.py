"""A reading on the screen: figures, pictures, doubts, tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import pandas as pd
import streamlit as st

from analysis.desk.photos import void_rows
from ui import cache, words
from ui.parts.notice import hint
from ui.parts.picture import picture

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading, Summary


def show_figures(summary: Summary) -> None:
    """Show the share large, then how sure it is and what else was counted."""
    with st.container(key="headline"):
        st.subheader(words.headline(summary), anchor=False)
    st.write(words.how_sure(summary))
    hint(words.how_sure_of_all(summary))
    with st.container(horizontal=True):
        st.metric(words.VOIDS, f"{summary.void_count:,}", width="content")
        if summary.smallest_counted_mm is not None:
            st.metric(
                words.LARGEST, words.figure(summary.largest_void_mm, 1), width="content"
            )
            st.metric(words.PER_M2, words.figure(summary.voids_per_m2), width="content")
    if words.areas(summary):
        st.write(words.areas(summary))


def show_pictures(photo: Photo, reading: Reading) -> None:
    """Show counted voids beside the photo."""
    left, right = st.columns(2)
    shown = (
        (left, words.OVERLAY, cache.overlay_jpeg(photo, reading)),
        (right, words.PHOTO, cache.photo_jpeg(photo.sha256, photo)),
    )
    for place, label, jpeg in shown:
        with place:
            st.write(label)
            picture(
                jpeg,
                width_px=photo.width_px,
                height_px=photo.height_px,
                key=f"view {label} {reading.measured_at} {photo.sha256}",
                label=label,
                mode="view",
            )


def show_doubts(reading: Reading) -> None:
    """Say what to mind, and what to do about it."""
    for sentence in words.doubts(reading.light_flags | reading.flags):
        st.info(sentence)


def show_tables(reading: Reading) -> None:
    """List the voids, and apart from them what was turned down."""
    if len(reading.voids):
        with st.expander(f"{words.VOID_TABLE} ({len(reading.voids)})"):
            st.dataframe(_voids(reading), hide_index=True)
    if len(reading.rejected):
        with st.expander(f"{words.REJECTED} ({len(reading.rejected)})"):
            hint(words.REJECTED_HINT)
            st.dataframe(_rejected(reading), hide_index=True)
    with st.expander(words.HOW):
        st.write(words.how(reading))
        hint(
            f"{words.MEASURED}: {words.when(reading.measured_at)}. "
            f"{words.METHOD_VERSION}: {reading.method_version}."
        )


def show_reading(photo: Photo | None, reading: Reading) -> None:
    """Show a reading; without its photo, the figures alone."""
    show_figures(reading.summary)
    if photo is not None:
        show_pictures(photo, reading)
    show_doubts(reading)
    show_tables(reading)


def _voids(reading: Reading) -> pd.DataFrame:
    rows = [
        row
        | {
            "x": row["col_px"],
            "y": row["row_px"],
            "kind": words.KINDS.get(str(row["kind"]), row["kind"]),
            "flags": words.void_doubts(cast("list[str]", row["flags"])),
        }
        for row in void_rows(reading)
    ]
    table = pd.DataFrame(rows, columns=list(words.COLUMNS)).round({"x": 0, "y": 0})
    table = table.round(2)
    if reading.scale is None:
        table = table.drop(columns=[name for name in table if name.endswith("_mm")])
        table = table.drop(columns="area_mm2")
    return table.rename(columns=words.COLUMNS)


def _rejected(reading: Reading) -> pd.DataFrame:
    rejected = reading.rejected
    table = pd.DataFrame(
        {
            "reason": rejected.reason,
            "x": rejected.col_px,
            "y": rejected.row_px,
            "area": rejected.area_px,
        }
    )
    table = table.sort_values("area", ascending=False).round(0)
    return table.rename(columns=words.REJECTED_COLUMNS)
