"""A reading on the screen: figures, pictures, doubts, tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import pandas as pd
import streamlit as st

from analysis.services.photos import void_rows
from ui import cache, reading_words, words
from ui.widgets.fields import segments
from ui.widgets.notice import hint
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading, Summary


_SHOWN_UNIT = "shown unit"
_TYPED_UNIT = "ruler unit"
_MM2_PER_IN2 = 25.4**2
_M2_PER_SQ_FT = 0.3048**2


def _unit() -> str:
    """Return what lengths are shown in: as chosen, else as they were typed."""
    chosen = st.session_state.get(_SHOWN_UNIT)
    typed = st.session_state.get(_TYPED_UNIT)
    return chosen or typed or st.session_state.get(cache.USUAL_UNIT) or "mm"


def show_share(summary: Summary, *, in_step: bool = False) -> None:
    """Show the share large, with how sure it is; under the title, or in a step."""
    unit = _unit()
    show = st.subheader if in_step else st.header
    with st.container(key="headline"):
        show(reading_words.headline(summary, unit), anchor=False)
    st.write(reading_words.how_sure(summary, unit))


def show_counts(summary: Summary, *, stands_for_all: bool = True) -> None:
    """Show what else was counted; a chosen spot says nothing of what was cast."""
    unit = _unit()
    if stands_for_all:
        hint(reading_words.how_sure_of_all(summary))
    with st.container(horizontal=True):
        st.metric(words.VOIDS, f"{summary.void_count:,}", width="content")
        if summary.smallest_counted_mm is not None:
            largest, per_area = _in_unit(summary, unit)
            # Voids within honeycomb have no largest one: 0.0 beside them is false.
            if summary.largest_void_mm or not summary.void_count:
                st.metric(words.LARGEST[unit], largest, width="content")
            st.metric(words.PER_AREA[unit], per_area, width="content")
    if reading_words.areas(summary):
        st.write(reading_words.areas(summary))


def _in_unit(summary: Summary, unit: str) -> tuple[str, str]:
    largest, per_m2 = summary.largest_void_mm, summary.voids_per_m2
    if unit == "mm" or largest is None or per_m2 is None:
        return reading_words.figure(largest, 1), reading_words.figure(per_m2)
    inches = largest / words.UNITS_MM[unit]
    return reading_words.figure(inches, 2), reading_words.figure(per_m2 * _M2_PER_SQ_FT)


def show_pictures(photo: Photo, reading: Reading) -> None:
    """Show counted voids beside the photo."""
    left, right = st.columns(2)
    overlay = cache.overlay_jpeg(photo, reading)
    photo = cache.seen(photo, reading.face.view)
    jpeg = cache.photo_jpeg(f"{photo.sha256} {photo.view}", photo)
    shown = ((left, words.OVERLAY, overlay), (right, words.PHOTO, jpeg))
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
    for sentence in reading_words.doubts(reading.light_flags | reading.flags):
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
        st.session_state[_SHOWN_UNIT] = _unit()
        segments(words.LENGTHS_IN, {"mm": "mm", "inch": "inch"}, _SHOWN_UNIT)
        st.write(reading_words.how(reading))
        hint(
            f"{words.MEASURED}: {words.when(reading.measured_at)}. "
            f"{words.METHOD_VERSION}: {reading.method_version}."
        )


def show_reading(
    photo: Photo | None, reading: Reading, *, stands_for_all: bool = True
) -> None:
    """Show a reading; without its photo, the figures alone."""
    show_share(reading.summary)
    if reading.usual_share is not None:
        hint(reading_words.usual(reading))
    show_counts(reading.summary, stands_for_all=stands_for_all)
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
            "flags": reading_words.void_doubts(cast("list[str]", row["flags"])),
        }
        for row in void_rows(reading)
    ]
    table = pd.DataFrame(rows, columns=list(words.COLUMNS)).round({"x": 0, "y": 0})
    table = table.round(2)
    if reading.scale is None:
        table = table.drop(columns=[name for name in table if name.endswith("_mm")])
        table = table.drop(columns="area_mm2")
    elif _unit() == "inch":
        lengths = [name for name in table if name.endswith("_mm")]
        table[lengths] = (table[lengths] / words.UNITS_MM["inch"]).round(3)
        table["area_mm2"] = (table["area_mm2"] / _MM2_PER_IN2).round(4)
        return table.rename(columns=words.COLUMNS).rename(columns=words.INCH_COLUMNS)
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
