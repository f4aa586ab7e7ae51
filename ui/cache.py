"""Shared between sessions. Keys are sha256 and settings, never arrays."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import streamlit as st

from analysis.desk import log as desk_log
from analysis.desk.photos import encoded, preview, read_photo, reading_overlay

if TYPE_CHECKING:
    from analysis.desk.log import Log
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading

LONGEST_PX = 1600


def log() -> Log:
    """Return the log, opened once per process."""
    return _log(os.environ.get("STRUCKFACE_DATA", ""))


@st.cache_resource(show_spinner=False)
def _log(where: str) -> Log:
    return desk_log.open_log(where or None)


@st.cache_resource(show_spinner=False, max_entries=3)
def photo(sha256: str, name: str, _data: bytes) -> Photo:  # noqa: ARG001  the key
    """Return a decoded photo."""
    return read_photo(_data, name)


@st.cache_data(show_spinner=False, max_entries=16)
def photo_jpeg(sha256: str, _photo: Photo) -> bytes:  # noqa: ARG001  the key
    """Return a photo reduced for showing."""
    return encoded(preview(_photo.pixels, LONGEST_PX), "JPEG")


def overlay_jpeg(photo: Photo, reading: Reading) -> bytes:
    """Return a reading's voids outlined on its photo, reduced for showing."""
    made_with = (
        reading.measured_at,
        reading.method_version,
        reading.scale,
        reading.settings,
        reading.summary,
    )
    return _overlay_jpeg(photo.sha256, repr(made_with), photo, reading)


@st.cache_data(show_spinner=False, max_entries=16)
def _overlay_jpeg(
    sha256: str,  # noqa: ARG001  the key
    made_with: str,  # noqa: ARG001  the key
    _photo: Photo,
    _reading: Reading,
) -> bytes:
    return encoded(reading_overlay(_photo, _reading, longest_px=LONGEST_PX), "JPEG")
