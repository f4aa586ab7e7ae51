"""One photo of a folder, measured by a process that need not see the log."""

from __future__ import annotations

import logging
import os
import signal
import threading
from importlib.metadata import version
from multiprocessing import parent_process
from pathlib import Path
from typing import TYPE_CHECKING

import cv2

from analysis.errors import PhotoError, ScaleError, StruckfaceError
from analysis.imaging.card import find_cards
from analysis.imaging.scale import scale_typed
from analysis.model.folder import FOUND, FolderReading
from analysis.model.photo import Face, PhotoFacts
from analysis.model.points import row_col
from analysis.model.workshop import settings_of_form
from analysis.services.face_reading import LIBRARIES
from analysis.services.faces import find_face, printed
from analysis.services.measuring import measure
from analysis.services.photos import read_photo
from analysis.services.set_up import set_up_of
from analysis.services.sheets import points_of, seen, to_view, view_by_sheet
from analysis.storage.photo_store import digest
from analysis.voids.settings import METHOD_VERSION

if TYPE_CHECKING:
    from analysis.model.card import Code
    from analysis.model.folder import AskedOfPhoto
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.view import View

__all__ = ["begin_task", "begin_worker", "measure_file", "versions"]

_LOGGER = logging.getLogger(__name__)


def versions() -> dict[str, str]:
    """Return what figures depend on: the method's version and the libraries'.

    Examples
    --------
    >>> "method" in versions()
    True
    """
    return {name: version(name) for name in LIBRARIES} | {"method": METHOD_VERSION}


def begin_task() -> None:
    """Prepare a process whose tasks are each of one core, as those of a cluster are.

    Examples
    --------
    >>> begin_task()
    """
    cv2.setNumThreads(1)


def begin_worker(threads: int) -> None:
    """Prepare a process that measures: it ends with the one that started it.

    Parameters
    ----------
    threads : int
        How many OpenCV may use; the figures do not depend on it.
    """
    cv2.setNumThreads(threads)
    # Ctrl-C is for the process that hands the photos out: it waits for this one.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: object) -> None:
    parent.join()  # type: ignore[attr-defined]  # a process as multiprocessing has it
    # `sys.exit` would end this thread alone.
    os._exit(1)


def measure_file(
    where: str | bytes, name: str, sha256: str, asked: AskedOfPhoto
) -> FolderReading:
    """Measure one photo; what is wrong with it is told, not raised.

    Parameters
    ----------
    where : str or bytes
        Path of the file, or its content.
    name : str
        For display.
    sha256 : str
        Of the content, as the log will keep it.
    asked : AskedOfPhoto
        How.

    Examples
    --------
    >>> from analysis.model.folder import AskedOfPhoto
    >>> measure_file(b"text", "a.jpg", digest(b"text"), AskedOfPhoto()).problem
    'a.jpg is not a photo that can be read: give a JPEG, PNG, TIFF, WebP or HEIC file.'
    """
    facts: PhotoFacts | None = None
    codes: tuple[Code, ...] = ()
    try:
        photo = read_photo(_content(where, name, sha256), name)
        facts = _facts(photo)
        codes = tuple(
            card.code
            for card in find_cards(photo.pixels, photo.lens_35mm)
            if card.code is not None
        )
        if not asked.piece and not codes:
            return FolderReading(facts=facts, problem=_nobodys(name))
        face, scale = _face(photo, asked)
        settings = settings_of_form(
            asked.form, smallest_mm=asked.smallest_mm, has_scale=scale is not None
        )
        reading, _ = measure(photo, scale=scale, face=face, settings=settings)
        set_up = None
        if asked.reads_set_up:
            set_up = set_up_of(seen(photo, face.view), scale, face)
    except StruckfaceError as error:
        return FolderReading(facts=facts, codes=codes, problem=str(error))
    except MemoryError:
        problem = f"{name} does not fit into memory: photograph in parts."
        return FolderReading(facts=facts, codes=codes, problem=problem)
    except Exception as error:  # one photo stops no other
        _LOGGER.exception("A photo of a folder could not be measured")
        problem = (
            f"{name} could not be measured ({type(error).__name__}: {error}): "
            "measure it by hand."
        )
        return FolderReading(facts=facts, codes=codes, problem=problem)
    return FolderReading(facts=facts, codes=codes, reading=reading, set_up=set_up)


def _nobodys(name: str) -> str:
    return (
        f"Nothing tells which piece {name} is of: name it in the side-car, put its "
        "card in the photo, or name the folder after the piece."
    )


def _content(where: str | bytes, name: str, sha256: str) -> bytes:
    if isinstance(where, bytes):
        return where
    try:
        data = Path(where).read_bytes()
    except OSError as error:
        msg = f"{name} cannot be read ({error.strerror}): look at the folder."
        raise PhotoError(msg) from None
    if digest(data) != sha256:
        msg = f"{name} changed while it was to be measured: begin again."
        raise PhotoError(msg)
    return data


def _facts(photo: Photo) -> PhotoFacts:
    return PhotoFacts(
        sha256=photo.sha256,
        name=photo.name,
        file_format=photo.file_format,
        taken_at=photo.taken_at,
        width_px=photo.width_px,
        height_px=photo.height_px,
    )


def _face(photo: Photo, asked: AskedOfPhoto) -> tuple[Face, Scale | None]:
    """Return the face asked for, with what is left out of it, and the scale."""
    view, scale, papers = _scale(photo, asked)
    outline, left_out = asked.outline, asked.left_out
    areas: list[Points] = [*papers]
    if view is not None:
        outline = None if outline is None else _carried(view, outline)
        left_out = tuple(_carried(view, area) for area in left_out)
    if outline is None and asked.face == FOUND:
        found = find_face(seen(photo, view))
        outline = points_of(found.outline_px)
        areas = [points_of(area) for area in found.left_out_px]
    face = Face(
        outline_px=None if outline is None else row_col(outline),
        left_out_px=tuple(row_col(area) for area in (*areas, *left_out)),
        view=view,
        name=asked.form_face,
        up=asked.up,
    )
    return face, scale


def _scale(
    photo: Photo, asked: AskedOfPhoto
) -> tuple[View | None, Scale | None, tuple[Points, ...]]:
    """Return view, scale and papers: as typed, or by the sheet or card in it."""
    if asked.mm_per_px is not None:
        return None, scale_typed(asked.mm_per_px), printed(photo)
    try:
        return view_by_sheet(photo)
    except ScaleError:
        return None, None, printed(photo)


def _carried(view: View, points: Points) -> Points:
    return points_of(to_view(view, row_col(points)))
