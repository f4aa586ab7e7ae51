"""Shared between sessions. Keys are sha256 and settings, never arrays."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING
from uuid import uuid4

import streamlit as st

from analysis.errors import InputError
from analysis.model.photo import Face
from analysis.model.points import row_col
from analysis.services import (
    batch_marks,
    faces,
    marking,
    photo_queue,
    records,
    set_up,
    sheets,
)
from analysis.services import batches as batches_service
from analysis.services import cards as cards_service
from analysis.services import forms as forms_service
from analysis.services import log as log_service
from analysis.services import workshop_settings as settings_service
from analysis.services.example import open_example
from analysis.services.ghost import ghost_of, ghost_on
from analysis.services.photos import encoded, preview, read_photo, reading_overlay
from ui import words

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.flags import Flag
    from analysis.model.face_proposal import FaceProposal
    from analysis.model.monitoring import PieceColumns
    from analysis.model.outlook import FormWear
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.reading import Reading
    from analysis.model.set_up import SetUp
    from analysis.model.view import View
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.batches import Batches
    from analysis.services.cards import FoundCard
    from analysis.services.log import Log


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Which pieces are followed; None follows what was cast most."""

    form: str | None = None
    product_line: str | None = None
    stage: str | None = None
    sealing: str | None = None


_EXAMPLE = "example workshop"
_WHICH_LOG, _NAMES_EXAMPLE = "log", "example"
USUAL_UNIT = "usual unit"
LONGEST_PX = 1600
THUMB_PX = 480


def log() -> Log:
    """Return the user's log, or the example while it is open; once per process."""
    where = os.environ.get("STRUCKFACE_DATA", "")
    if in_example():
        return _example(where)
    opened = _log(where)
    _backed_up(where, records.today().isoformat(), opened)
    return opened


def reopen() -> None:
    """Open the log anew at its next use: another was put in its place."""
    _log.clear()


@st.cache_resource(show_spinner=False, max_entries=2)
def _backed_up(where: str, day: str, _log: Log) -> bool:  # noqa: ARG001  the key
    """Copy the database once a day, before that day's work."""
    records.back_up_today(_log)
    return True


def follow_address() -> None:
    """Open the log that the page's address names, and keep its name there.

    Only `?log=example` names one: a reload, a bookmark or another tab open the example
    workshop again, and no session ever changes from one log to the other midway
    without letting go of all that was chosen.
    """
    named = st.query_params.get(_WHICH_LOG) == _NAMES_EXAMPLE
    if named and not in_example():
        st.session_state.clear()
        st.session_state[_EXAMPLE] = True
    elif in_example() and not named:
        st.query_params[_WHICH_LOG] = _NAMES_EXAMPLE


def apply_settings() -> None:
    """Write days, sheets and lengths in this run as the log's workshop does."""
    st.session_state[USUAL_UNIT] = settings_service.apply_settings(log()).unit


def in_example() -> bool:
    """Tell whether the example workshop is open."""
    return bool(st.session_state.get(_EXAMPLE))


def enter_example(progress: Callable[[float, str], None] | None = None) -> None:
    """Open the example workshop, built the first time.

    Raises
    ------
    RecordError
        It cannot be written.
    """
    open_example(progress)
    _forget()
    st.session_state[_EXAMPLE] = True
    st.query_params[_WHICH_LOG] = _NAMES_EXAMPLE


def leave_example() -> None:
    """Go back to the user's own log."""
    _forget()


def _forget() -> None:
    """Let go of all that was chosen: it belongs to the log before."""
    st.session_state.clear()
    st.query_params.clear()


@st.cache_resource(show_spinner=words.OPENING_EXAMPLE)
def _example(where: str) -> Log:  # noqa: ARG001  the key
    return open_example()


@st.cache_resource(show_spinner=False)
def _log(where: str) -> Log:
    return log_service.open_log(where or None)


@st.cache_resource(show_spinner=False, max_entries=3)
def photo(sha256: str, name: str, _data: bytes) -> Photo:  # noqa: ARG001  the key
    """Return a decoded photo."""
    return read_photo(_data, name)


@st.cache_data(show_spinner=False, max_entries=16)
def photo_jpeg(sha256: str, _photo: Photo) -> bytes:  # noqa: ARG001  the key
    """Return a photo reduced for showing."""
    return encoded(preview(_photo.pixels, LONGEST_PX), "JPEG")


@st.cache_data(show_spinner=False, max_entries=4)
def ghost(first: str, _first: Photo, second: str, _second: Photo) -> bytes:  # noqa: ARG001  keys
    """Return a second photo with the edges of the first on it, for showing."""
    return encoded(ghost_on(_first, _second, longest_px=LONGEST_PX), "JPEG")


@st.cache_data(show_spinner=False, max_entries=4)
def ghost_alone(sha256: str, _photo: Photo) -> bytes:  # noqa: ARG001  the key
    """Return the edges of a photo, to be laid over what a camera sees."""
    return encoded(ghost_of(_photo, longest_px=LONGEST_PX), "PNG")


def seen(photo: Photo, view: View | None) -> Photo:
    """Return a photo as a view shows it."""
    return photo if view is None else _seen(photo.sha256, repr(view), photo, view)


@st.cache_resource(show_spinner=False, max_entries=3)
def _seen(sha256: str, view: str, _photo: Photo, _view: View) -> Photo:  # noqa: ARG001  the key
    return sheets.seen(_photo, _view)


def by_sheet(
    photo: Photo, check_mm: float | None
) -> tuple[View, Scale, tuple[Points, ...]]:
    """Return the view straightened by the sheet in a photo, and where the sheet is.

    Raises
    ------
    StruckfaceError
        There is no sheet that can be used.
    """
    return _by_sheet(photo.sha256, check_mm, photo)


@st.cache_resource(show_spinner=False, max_entries=6)
def _by_sheet(
    sha256: str,  # noqa: ARG001  the key
    check_mm: float | None,
    _photo: Photo,
) -> tuple[View, Scale, tuple[Points, ...]]:
    return sheets.view_by_sheet(_photo, check_mm)


def cards(photo: Photo) -> tuple[FoundCard, ...]:
    """Return the printed cards in a photo."""
    return _cards(photo.sha256, photo)


@st.cache_resource(show_spinner=False, max_entries=8)
def _cards(sha256: str, _photo: Photo) -> tuple[FoundCard, ...]:  # noqa: ARG001  the key
    return cards_service.find_cards(_photo.pixels, _photo.lens_35mm)


def face_found(photo: Photo) -> FaceProposal:
    """Return the face of a photo, or of a view of it, as it is found."""
    return _face_found(photo.key, photo)


@st.cache_resource(show_spinner=words.LOOKING, max_entries=32)
def _face_found(key: str, _photo: Photo) -> FaceProposal:  # noqa: ARG001  the key
    return faces.find_face(_photo)


def printed(photo: Photo) -> tuple[Points, ...]:
    """Return the paper of the sheets and cards in a photo: never counted."""
    return _printed(photo.key, photo)


@st.cache_data(show_spinner=False, max_entries=32)
def _printed(key: str, _photo: Photo) -> tuple[Points, ...]:  # noqa: ARG001  the key
    return faces.printed(_photo)


def outlined_jpeg(log: Log, waiting: WaitingPhoto) -> bytes:
    """Return a waiting photo, small, with its face and left-out areas outlined."""
    return _outlined(_proposed(waiting), log, waiting)[0]


def waiting_set_up(log: Log, waiting: WaitingPhoto) -> SetUp:
    """Return how a waiting photo was taken, by the face proposed in it."""
    return _outlined(_proposed(waiting), log, waiting)[1]


def _proposed(waiting: WaitingPhoto) -> str:
    return repr((waiting.sha256, waiting.asked.outline))


# Together: reading the photo is what takes long.
@st.cache_data(show_spinner=False, max_entries=128)
def _outlined(asked: str, _log: Log, _waiting: WaitingPhoto) -> tuple[bytes, SetUp]:  # noqa: ARG001  the key
    shown, scale, areas = photo_queue.outlined(_log, _waiting)
    outline = _waiting.asked.outline
    jpeg = encoded(faces.small_outlined(shown, outline, areas, THUMB_PX), "JPEG")
    face = Face(outline_px=None if outline is None else row_col(outline))
    return jpeg, set_up.set_up_of(shown, scale, face)


def waiting_view(
    log: Log, waiting: WaitingPhoto
) -> tuple[Photo, Scale | None, tuple[Points, ...]]:
    """Return a waiting photo as it will be measured, its scale, what is left out."""
    return _waiting_view(waiting.sha256, log, waiting)


@st.cache_resource(show_spinner=False, max_entries=3)
def _waiting_view(
    sha256: str,  # noqa: ARG001  the key
    _log: Log,
    _waiting: WaitingPhoto,
) -> tuple[Photo, Scale | None, tuple[Points, ...]]:
    shown, scale, areas = photo_queue.outlined(_log, _waiting)
    return shown, scale, tuple(areas)


def first_look(
    photo: Photo, scale: Scale | None, face: Face, smallest_mm: float | None
) -> tuple[Flag, ...]:
    """Return what is doubtful about a photo before it is measured."""
    outline = face.outline_px
    key = (scale, face.view, None if outline is None else outline.tolist(), smallest_mm)
    return _first_look(photo.sha256, repr(key), photo, scale, face, smallest_mm)


@st.cache_data(show_spinner=words.LOOKING, max_entries=16)
def _first_look(
    sha256: str,  # noqa: ARG001  the key
    asked: str,  # noqa: ARG001  the key
    _photo: Photo,
    _scale: Scale | None,
    _face: Face,
    _smallest_mm: float | None,
) -> tuple[Flag, ...]:
    return marking.first_look(
        _photo, scale=_scale, face=_face, smallest_mm=_smallest_mm
    )


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


def last_set_up(form_id: int, face_name: str, sha256: str) -> SetUp | None:
    """Return the set-up of the latest other photo of a form's face."""
    found = log()
    return _last_set_up(found.url, changed_at(found), form_id, face_name, sha256, found)


@st.cache_data(show_spinner=False, max_entries=16)
def _last_set_up(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    form_id: int,
    face_name: str,
    sha256: str,
    _log: Log,
) -> SetUp | None:
    return set_up.last_set_up(_log, form_id, face_name, sha256)


def kept_set_up(form_id: int, face_name: str) -> SetUp | None:
    """Return the set-up kept with a form's face."""
    return set_up.kept_set_up(log(), form_id, face_name)


def thumb_jpeg(log: Log, sha256: str, name: str) -> bytes:
    """Return a stored photo, small."""
    return _thumb_jpeg(sha256, name, log)


@st.cache_data(show_spinner=False, max_entries=128)
def _thumb_jpeg(sha256: str, name: str, _log: Log) -> bytes:
    found = read_photo(log_service.photo_bytes(_log, sha256), name)
    return encoded(preview(found.pixels, THUMB_PX), "JPEG")


def pieces(log: Log) -> PieceColumns | None:
    """Return the log's measured pieces, read again only after the log changed."""
    return _pieces(log.url, changed_at(log), log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=2)
def _pieces(url: str, stamp: str, _log: Log) -> PieceColumns | None:  # noqa: ARG001  the key
    return batches_service.pieces_of_log(_log)


def batches(log: Log, scope: Scope, rules: tuple[str, ...]) -> Batches:
    """Return what the batches page draws."""
    return _batches(log.url, changed_at(log), scope, rules, log)


@st.cache_resource(show_spinner=False, max_entries=8)
def _batches(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    scope: Scope,
    rules: tuple[str, ...],
    _log: Log,
) -> Batches:
    found = pieces(_log)
    if found is None:
        raise InputError(words.NOT_MEASURED)
    marked = batch_marks.marks(_log, form=scope.form, product_line=scope.product_line)
    return batches_service.batches(found, marked, rules=rules, **asdict(scope))


def wear(log: Log, *, by_type: bool = False) -> dict[str, FormWear]:
    """Return the wear of every form, or form type, with measured pieces."""
    return _wear(log.url, changed_at(log), by_type, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=4)
def _wear(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    by_type: bool,
    _log: Log,
) -> dict[str, FormWear]:
    found = pieces(_log)
    if found is None:
        return {}
    days = batch_marks.refinished_marks(_log)
    return forms_service.wear(
        found,
        targets=batch_marks.targets_of_lines(_log),
        refinished={name: mark.from_day for name, mark in days.items()},
        by_type=by_type,
    )


def changed_at(log: Log) -> str:
    """Return what differs after every change; always, where that is not known."""
    return batches_service.stamp(log) or uuid4().hex
