"""Cards: printing them, and what one in a photo leads to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import cards, plans
from analysis.services import log as log_service
from ui import cache, words
from ui.widgets import card_words as said
from ui.widgets import pour_entry
from ui.widgets.fields import file_button, pick
from ui.widgets.keeping import choose_piece
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.record_fields import box

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.log_views import Casting
    from analysis.model.photo import Photo
    from analysis.services.cards import Target
    from analysis.services.log import Log
    from analysis.services.plans import KeptPlan

_READ = "card read"


def offer_cards(log: Log, kind: str, names: Mapping[int, str], first: int) -> None:
    """Offer cards of pieces or forms to print, of one of them to begin with."""
    with box(said.CARDS, f"cards of {kind} {first}"):
        hint(said.CARDS_HINT)
        paper = pick(said.CARD_PAPER, said.CARD_PAPERS, "card paper", index=0)
        chosen = st.multiselect(
            said.CARD_FOR,
            list(names),
            default=[first],
            format_func=lambda one: names[one],
            key=f"cards for {kind} {first}",
            placeholder=words.CHOOSE,
        )
        if not chosen or paper is None:
            hint(said.NO_CARDS)
            return
        file_button(
            said.CARDS_PDF,
            lambda: cards.cards_of(log, kind, chosen, paper=paper),
            "cards.pdf",
            f"take cards of {kind} {first}",
        )


def offer_cards_of_pour(log: Log, casting: Casting) -> None:
    """Offer cards of the pieces of a pour, of one of them to begin with."""
    names = {
        one.piece.id: words.casting_name(one)
        for one in log_service.list_castings(log, pour_id=casting.pour.id)
        if one.piece.id is not None
    }
    if casting.piece.id is not None:
        offer_cards(log, "piece", names, casting.piece.id)


def tell_card(log: Log, photo: Photo) -> None:
    """Say what the cards in the photo at hand lead to; the first time, choose it."""
    targets, problems = cards.targets_of(log, cache.cards(photo))
    for problem in problems:
        st.warning(words.literal(problem))
    pieces = {one.id for one in targets if one.kind == "piece"}
    if len(pieces) > 1:
        st.warning(said.TWO_CARDS)
    elif pieces:
        casting = log_service.casting(log, pieces.pop())
        if st.session_state.get(_READ) != photo.sha256:
            choose_piece(casting)
        plain(f"{said.CARD_OF_PIECE} {words.casting_name(casting)}.")
    elif forms := [one.id for one in targets if one.kind == "form"]:
        form = log_service.form(log, forms[0])
        plain(f"{said.CARD_OF_FORM} {form.name}.")
        st.page_link(
            "pours/page.py", label=said.POUR_IN, query_params={"form": str(form.id)}
        )
    if targets and st.session_state.get(_READ) != photo.sha256:
        st.session_state["scale way"] = "sheet"
    st.session_state[_READ] = photo.sha256


def offer_plan_cards(log: Log, kept: KeptPlan) -> None:
    """Offer a card for each pour of a plan that is still to be cast."""
    with box(said.CARDS, f"cards of {kept.key}"):
        hint(said.PLAN_CARDS_HINT)
        paper = pick(
            said.CARD_PAPER, said.CARD_PAPERS, f"card paper of {kept.key}", index=0
        )
        file_button(
            said.CARDS_PDF,
            lambda: cards.plan_cards(log, kept, paper=paper or "cards_a4"),
            "cards.pdf",
            f"take cards of {kept.key}",
        )


def read_form_card(log: Log) -> None:
    """Let the card of a form or of a planned pour be photographed, and begin it."""
    with st.expander(said.READ_CARD):
        given = st.file_uploader(
            said.CARD_PHOTO, type=["jpg", "jpeg", "png", "heic"], key="card photo"
        )
        if given is None:
            return
        data = given.getvalue()
        try:
            photo = cache.photo(log_service.digest(data), given.name, data)
            targets, problems = cards.targets_of(log, cache.cards(photo))
        except StruckfaceError as error:
            refuse(error)
            return
        for problem in problems:
            st.warning(words.literal(problem))
        for target in targets:
            if target.kind == "form":
                st.query_params["form"] = str(target.id)
            elif target.kind == "plan":
                _begin_planned(log, target)
            else:
                continue
            del st.session_state["card photo"]
            st.rerun()
        if not problems:
            st.warning(said.NOT_A_FORM if targets else said.NO_CARD)


def _begin_planned(log: Log, target: Target) -> None:
    kept = plans.kept_plan(log, target.plan)
    pour, pieces = plans.pour_of_plan(log, kept, target.id)
    token = plans.pour_token(log, kept.key, target.id)
    pour_entry.begin_ready(pour, pieces, token=token)
