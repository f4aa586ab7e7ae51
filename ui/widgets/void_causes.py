"""The map of the voids, its reading, likely causes, repair and cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.diagnosis.advice import NOT_STRENGTH, PROVES_NOTHING
from analysis.diagnosis.repair_words import RECIPES, repair_words
from analysis.services.pieces import standing_lines
from ui.cache import void_places as cache_diagnosis
from ui.widgets import diagnosis_words as words
from ui.widgets.cautions import show_cautions
from ui.widgets.notice import hint, plain, plain_lines
from ui.words import NO_ORDINARY, literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.diagnosis import Cause
    from analysis.services.diagnosis import Diagnosis
    from analysis.services.log import Log

_MAP_PX = 560


def show_of_piece(log: Log, piece_id: int) -> None:
    """Show where a piece's voids sit, why that may be, and whether to fill them."""
    found = cache_diagnosis.of_piece(log, piece_id)
    st.header(words.WHERE, anchor=False)
    if found is None:
        stands = standing_lines(log, piece_id)
        st.write(words.NO_SCALE if stands else f"{NO_ORDINARY}.")
        return
    _map(found)
    _causes(found)
    with st.expander(words.REPAIR):
        _repair(found)


def show_of_form(log: Log, form_id: int) -> None:
    """Show the faces out of a form over each other, each named face by itself."""
    faces = cache_diagnosis.of_form(log, form_id)
    if not faces:
        return
    st.header(words.POOLED, anchor=False)
    for name, found in faces.items():
        if len(faces) > 1 or name:
            plain(f"{words.FACE} {name}".strip())
        hint(words.faces_line(found.placement.faces, found.placement.voids))
        _map(found)
        _causes(found)


def _map(found: Diagnosis) -> None:
    plain_lines(words.said(found))
    st.image(found.svg, width=_MAP_PX, alt=" ".join(words.said(found)))
    hint(words.thirds_line(found.placement.thirds_per_m2))


def _causes(found: Diagnosis) -> None:
    if found.causes:
        with st.expander(words.WHY):
            show_causes(found.causes)


def show_causes(causes: Iterable[Cause]) -> None:
    """Show causes with how to tell them, what to do, and their sources."""
    for cause in causes:
        st.markdown(f"**{words.SURE[cause.sure]}:** {literal(cause.cause)}")
        plain_lines(
            (
                f"{words.TELL}: {cause.tell_apart}",
                f"{words.DO}: {cause.remedy}",
            )
        )
        hint(literal(f"{words.SOURCE}: {cause.source}"))
    hint(f"{PROVES_NOTHING} {NOT_STRENGTH}")


def _repair(found: Diagnosis) -> None:
    note = found.repair
    plain(repair_words(note))
    if note.to_fill:
        plain(words.filler_line(note.filler_cm3))
    if note.deep_voids:
        plain(words.deep_line(note.deep_voids))
    for recipe, source in RECIPES if note.to_fill else ():
        plain(recipe)
        hint(literal(f"{words.SOURCE}: {source}"))
    show_cautions("repair")
