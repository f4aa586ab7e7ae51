"""Buttons that change the log: a press is written down until it is done.

A page is drawn from the top, and whatever changes meanwhile cuts the drawing short.
The answer of a button would be gone with it. So a press is written down by its own
call, before the page is drawn; the first drawing that comes as far as the button does
what was asked, and only then is it forgotten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.errors import StruckfaceError
from ui import words
from ui.widgets.notice import refuse

if TYPE_CHECKING:
    from collections.abc import Callable

_PRESSED = "presses not yet done"
_PAGE = "page drawn"


class _Press(NamedTuple):
    about: object
    page: str


def act_button(
    label: str,
    act: Callable[[], object],
    *,
    key: str,
    about: object = None,
    main: bool = False,
    wide: bool = False,
    disabled: bool = False,
) -> None:
    """Draw a button; do what it asks once a press, then draw the page anew.

    `act` may be called twice for one press, where a drawing is cut short between what
    it saves and its end: what it saves carries a token. A refusal is shown below.
    """
    if pressed(label, key=key, about=about, main=main, wide=wide, disabled=disabled):
        act_on(key, act)


def act_on(key: str, act: Callable[[], object]) -> None:
    """Do what a `pressed` button asks, as `act_button` does, at another place."""
    presses = _presses()
    try:
        act()
    except StruckfaceError as error:
        presses.pop(key, None)
        refuse(error)
        return
    except Exception:
        presses.pop(key, None)  # or each drawing to come would fail like this one
        raise
    # Nothing here can be cut short between what was saved and this.
    presses.pop(key, None)
    st.rerun()


def pressed(
    label: str,
    *,
    key: str,
    about: object = None,
    main: bool = False,
    wide: bool = False,
    disabled: bool = False,
) -> bool:
    """Draw a button; tell whether it was pressed and is still to be `done`.

    A press is only of what the button was `about` then.
    """
    presses = _presses()
    # The call is handed the dictionary: asking the session for it is a place where a
    # run is cut short.
    st.button(
        label,
        key=key,
        type="primary" if main else "secondary",
        width="stretch" if wide else "content",
        disabled=disabled,
        on_click=_note,
        args=(presses, key, _Press(about, st.session_state.get(_PAGE, ""))),
    )
    found = presses.get(key)
    if found is not None and (disabled or found.about != about):
        done(key)
        return False
    return found is not None


def done(key: str) -> None:
    """Forget a press that was done or refused."""
    _presses().pop(key, None)


def begin_page(page: str) -> None:
    """Note which page is drawn from here on."""
    st.session_state[_PAGE] = page


def end_page(page: str) -> None:
    """Forget presses that the page, drawn to its end, had no use for.

    Of one that another page was left with too soon it is said that it was not done.
    """
    presses = _presses()
    for left in dict.fromkeys(one.page for one in presses.values()):
        if left != page:
            st.warning(words.literal(words.left_too_soon(left)))
    presses.clear()


def _presses() -> dict[str, _Press]:
    found: dict[str, _Press] = st.session_state.setdefault(_PRESSED, {})
    return found


def _note(presses: dict[str, _Press], key: str, press: _Press) -> None:
    presses[key] = press
