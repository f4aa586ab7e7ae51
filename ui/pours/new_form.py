"""A form made while its first pour is being logged."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import uuid4

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.workshop import Form, FormJoint
from analysis.services import log as log_service
from analysis.services import records
from ui.pours import words
from ui.widgets import pour_entry
from ui.widgets.fields import line, number, pick_word
from ui.widgets.notice import refuse
from ui.widgets.presses import act_button
from ui.words import FORM_NAME, FORM_TYPE, UNKNOWN

if TYPE_CHECKING:
    from analysis.services.log import Log
    from ui.widgets.entry import Entry

_NAME, _TYPE, _JOINTS = "new form name", "new form type", "new form joints"
_MAKING = "new form being made"


def new_form(log: Log, entry: Entry) -> None:
    """Ask for a form and add a piece out of it to the pour."""
    token = st.session_state.setdefault(_MAKING, uuid4().hex)
    at = token[:6]
    name = line(FORM_NAME, f"{_NAME} {at}")
    kind = pick_word(
        FORM_TYPE,
        log_service.words(log, "form_type"),
        f"{_TYPE} {at}",
        {"": UNKNOWN},
    )
    try:
        joints = number(words.JOINTS_COUNT, f"{_JOINTS} {at}")
    except StruckfaceError as error:
        refuse(error)
        return

    def make() -> None:
        form = Form(
            name=name or "",
            form_type=kind or None,
            joints=tuple(
                FormJoint(name=str(place + 1))
                for place in range(records.joint_count(joints))
            ),
        )
        made = records.add(log, form, save_token=token)
        # The piece comes last: done again after a cut, it would be added twice.
        del st.session_state[_MAKING]
        pour_entry.add_piece(log, entry, str(made.id))

    act_button(words.MAKE_FORM, make, key=f"make form {token}", wide=True)
