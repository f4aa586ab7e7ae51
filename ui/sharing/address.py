"""The address of the shared app, and its QR code."""

from __future__ import annotations

import io
import os

import segno
import streamlit as st


def shared_at() -> str:
    """Return the address phones use, empty while the app is not shared.

    Examples
    --------
    >>> isinstance(shared_at(), str)
    True
    """
    return os.environ.get("STRUCKFACE_SHARED_AT", "")


@st.cache_data(show_spinner=False, max_entries=2)
def code_png(address: str) -> bytes:
    """Return an address as a QR code to scan off a screen."""
    file = io.BytesIO()
    segno.make(address, error="m").save(file, kind="png", scale=8, border=4)
    return file.getvalue()
