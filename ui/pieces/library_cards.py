"""The library: cards of pieces with their pictures, a page at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import piece_library
from ui import words
from ui.pieces import asked
from ui.pieces import library_words as said
from ui.widgets.notice import hint, plain, plain_lines

if TYPE_CHECKING:
    from collections.abc import Callable

    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.library import LibraryCard, LibraryPage
    from analysis.services.log import Log

_PICTURE_PX = 112


def show_library(log: Log, open_piece: Callable[[int], None]) -> None:
    """Show what is asked for; pictures that are yet to be made come in at the end."""
    ask = asked.show_question(log)
    page = piece_library.library_page(log, ask, start=asked.start())
    plain(said.found_line(page))
    if not page.count:
        st.write(said.NOTHING_FOUND)
    shown = [one.shown.id for one in page.cards if one.shown is not None]
    faces = piece_library.faces_of(log, shown)
    late: list[tuple[DeltaGenerator, LibraryCard, dict[str, Any] | None]] = []
    with st.container(key="library"):
        for card in page.cards:
            place = _card(card, open_piece)
            face = None if card.shown is None else faces.get(card.shown.id)
            if not _picture_kept(log, place, card, face):
                late.append((place, card, face))
    _turn_pages(page)
    for place, card, face in late:
        _picture(log, place, card, face)


def _card(card: LibraryCard, open_piece: Callable[[int], None]) -> DeltaGenerator:
    """Draw a card; the button's reach is the whole of it. Return its picture's place.

    The style sheet of the app spreads the button over the card: see `ui.app`.
    """
    piece, pour = card.casting.piece, card.casting.pour
    with st.container(
        border=True, horizontal=True, wrap=False, key=f"card-{piece.id}", gap="small"
    ):
        place = st.empty()
        with st.container(gap=None):
            st.button(
                words.literal(words.piece_in_form(piece, card.form)),
                key=f"open {piece.id}",
                type="tertiary",
                on_click=open_piece,
                args=(piece.id,),
            )
            lines = (said.figure_line(card), said.place_line(card))
            plain_lines([line for line in lines if line])
            hint(words.literal(f"{words.POUR} {words.pour_name(pour)}"))
    return place


def _picture_kept(
    log: Log, place: DeltaGenerator, card: LibraryCard, face: dict[str, Any] | None
) -> bool:
    """Show a picture that lies ready, or that there is none; else say False."""
    if card.shown is None:
        _none(place)
        return True
    kept = piece_library.kept_picture(log, card.shown, face)
    if kept is None:
        _none(place, " ")
        return False
    place.image(kept, width=_PICTURE_PX, alt=said.alt_of(card))
    return True


def _picture(
    log: Log, place: DeltaGenerator, card: LibraryCard, face: dict[str, Any] | None
) -> None:
    if card.shown is None:
        return
    try:
        made = piece_library.small_picture(log, card.shown, face)
    except StruckfaceError:
        _none(place)  # its own page says what is wrong
    else:
        place.image(made, width=_PICTURE_PX, alt=said.alt_of(card))


def _none(place: DeltaGenerator, text: str = said.NO_PHOTO) -> None:
    place.html(f'<div class="no-picture">{text}</div>', width=_PICTURE_PX)


def _turn_pages(page: LibraryPage) -> None:
    if page.count == len(page.cards):
        return
    last = page.start + len(page.cards)
    with st.container(horizontal=True, horizontal_alignment="distribute"):
        st.button(
            said.PAGE_BEFORE,
            disabled=page.start == 0,
            on_click=asked.go_to,
            args=(max(0, page.start - piece_library.PAGE),),
        )
        st.button(
            said.PAGE_AFTER,
            disabled=last >= page.count,
            on_click=asked.go_to,
            args=(last,),
        )
