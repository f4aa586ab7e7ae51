"""Who asks for a turn to measure: each device once, however many tabs it has open."""

from __future__ import annotations

import hashlib

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ui.sharing.gate import COOKIE

_LENGTH = 12


def asking() -> str:
    """Return a name of the device, else of the session; empty outside of pages.

    Examples
    --------
    >>> asking()
    ''
    """
    run = get_script_run_ctx(suppress_warning=True)
    if run is None:
        return ""
    named = str(st.context.cookies.get(COOKIE) or run.session_id)
    # What is kept with a photo must let nobody in.
    return hashlib.sha256(str(named).encode()).hexdigest()[:_LENGTH]
