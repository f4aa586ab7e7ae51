"""Where voids sit, worked out again only after the log changed."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import uuid4

import streamlit as st

from analysis.services import batches as batches_service
from analysis.services import diagnosis

if TYPE_CHECKING:
    from analysis.services.diagnosis import Diagnosis
    from analysis.services.log import Log


def of_piece(log: Log, piece_id: int) -> Diagnosis | None:
    """Return a piece's diagnosis, None without a reading that has a scale."""
    return _of_piece(log.url, batches_service.stamp(log) or uuid4().hex, piece_id, log)


@st.cache_resource(show_spinner=False, max_entries=20)
def _of_piece(url: str, stamp: object, piece_id: int, _log: Log) -> Diagnosis | None:  # noqa: ARG001  the key
    return diagnosis.of_piece(_log, piece_id)


def of_form(log: Log, form_id: int) -> dict[str, Diagnosis]:
    """Return a form's diagnosis by face name."""
    return _of_form(log.url, batches_service.stamp(log) or uuid4().hex, form_id, log)


@st.cache_resource(show_spinner=False, max_entries=20)
def _of_form(  # the key holds what the log was
    url: str,  # noqa: ARG001
    stamp: object,  # noqa: ARG001
    form_id: int,
    _log: Log,
) -> dict[str, Diagnosis]:
    return diagnosis.of_form(_log, form_id)
