"""What is set once: the workshop's name, units, how days are written."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.settings import UNITS, Settings
from analysis.model.writing import DAY_STYLES, day
from analysis.services.workshop_settings import keep_settings, settings
from ui.records import words
from ui.widgets.notice import hint
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from analysis.services.log import Log

_EXAMPLE = date(2026, 3, 14)


def show_settings(log: Log) -> None:
    """Ask for what holds everywhere; it is kept in the log, for everyone on it."""
    now = settings(log)
    name = st.text_input(words.WORKSHOP, value=now.workshop, key="workshop name")
    hint(words.WORKSHOP_WHERE)
    unit = st.radio(
        words.UNITS,
        UNITS,
        index=UNITS.index(now.unit),
        format_func=words.UNIT_NAMES.__getitem__,
        key="workshop unit",
    )
    style = st.radio(
        words.DATES,
        DAY_STYLES,
        index=DAY_STYLES.index(now.day_style),
        format_func=lambda one: day(_EXAMPLE, style=one),
        key="workshop dates",
    )
    act_button(
        words.SAVE_SETTINGS,
        lambda: keep_settings(
            log, Settings(workshop=name.strip(), unit=unit, day_style=style)
        ),
        key="save settings",
        main=True,
    )
