"""Reviewed photos as a training set, with consent said in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import records
from analysis.services import training_set as service
from ui.second_opinion import words
from ui.widgets.fields import line
from ui.widgets.notice import refuse
from ui.words import STARTING

if TYPE_CHECKING:
    from analysis.services.log import Log

_MADE = "training set made"


def offer_training_set(log: Log) -> None:
    """Say what would be handed over, ask for consent, then make the file."""
    st.write(words.TRAINING_WHAT)
    st.info(words.NOTHING_LEAVES)
    lines = service.reviewed_lines(log)
    if not lines:
        st.write(words.NOTHING_REVIEWED)
        return
    st.write(words.reviewed_photos(len(lines)))
    agreed = st.checkbox(service.CONSENT, key="training consent")
    who = line(words.WHO_AGREES, "training who")
    if st.button(words.MAKE_SET, type="primary", disabled=not agreed, width="stretch"):
        bar = st.progress(0.0, STARTING)

        def tell(part: float, what: str) -> None:
            bar.progress(part, what)

        try:
            st.session_state[_MADE] = service.training_set(
                log,
                lines,
                agreed_by=who,
                agreed_on=records.today(),
                consent=agreed,
                progress=tell,
            )
        except StruckfaceError as error:
            refuse(error)
        finally:
            bar.empty()
    made: service.TrainingSet | None = st.session_state.get(_MADE)
    if made is not None and agreed:
        st.write(words.made(made))
        st.download_button(
            words.SAVE_SET,
            made.data,
            f"reviewed-{records.today().isoformat()}.zip",
            "application/zip",
            width="stretch",
            on_click="ignore",
        )
