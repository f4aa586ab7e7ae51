"""Cautions where the work is done; their sources a tap away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.diagnosis.advice import CAUTION_PLACES, LOCAL_FIRST, cautions
from analysis.diagnosis.lifting import IDEAL_LIFT_KG, concrete_kg
from ui.widgets import diagnosis_words as words
from ui.widgets.notice import hint, plain
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.workshop import Form


def show_cautions(at: str) -> None:
    """Show the usual cautions of a kind of work."""
    for one in cautions(at):
        said = f"**{literal(one.title)}.** {literal(one.text)} {LOCAL_FIRST}"
        hint(said, more=literal(f"{one.more} {words.SOURCE}: {one.source}"))


def show_lifting(forms: Iterable[Form]) -> None:
    """Say which full forms are too heavy for one person even at best."""
    heavy = {
        form.name: concrete_kg(form.volume_l)
        for form in forms
        if form.volume_l is not None
    }
    heavy = {name: kg for name, kg in heavy.items() if kg > IDEAL_LIFT_KG}
    if heavy:
        caution = cautions("lifting")[0]
        hint(
            literal(words.lifting_line(heavy, IDEAL_LIFT_KG)),
            more=literal(f"{caution.more} {words.SOURCE}: {caution.source}"),
        )


def show_all_cautions() -> None:
    """Show the cautions of all kinds of work, sources and all."""
    # One that belongs to several kinds of work is shown once.
    for one in dict.fromkeys(one for at in CAUTION_PLACES for one in cautions(at)):
        st.markdown(f"**{literal(one.title)}.** {literal(f'{one.text} {one.more}')}")
        hint(literal(f"{words.SOURCE}: {one.source}"))
    plain(f"{LOCAL_FIRST} {words.LICENSED}")
