"""The log as the screens and the command line use it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.checks import as_kept
from analysis.errors import NotInLogError
from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form
from analysis.storage.castings import (
    add_pour_with_pieces,
    casting_names,
    has_pieces,
    list_castings,
)
from analysis.storage.engine import Log
from analysis.storage.photo_store import digest, photo_bytes
from analysis.storage.reading_lines import (
    list_readings,
    pieces_of_readings,
    readings_by_piece,
)
from analysis.storage.readings import load_reading, save_reading, save_with_new_piece
from analysis.storage.records import list_all, load
from analysis.storage.store import open_log
from analysis.storage.terms import words

if TYPE_CHECKING:
    from analysis.model.log_views import Casting

__all__ = [
    "Log",
    "add_pour_with_pieces",
    "casting",
    "casting_names",
    "digest",
    "form",
    "form_named",
    "form_of_piece",
    "forms",
    "has_pieces",
    "list_castings",
    "list_readings",
    "load_reading",
    "open_log",
    "photo_bytes",
    "pieces_of_readings",
    "pours",
    "readings_by_piece",
    "save_reading",
    "save_with_new_piece",
    "words",
]


def forms(log: Log) -> tuple[Form, ...]:
    """Return the forms in use, by name."""
    return list_all(log, Form)


def pours(log: Log) -> tuple[Pour, ...]:
    """Return the pours, newest first."""
    return list_all(log, Pour)


def form(log: Log, form_id: int) -> Form:
    """Return one form, hidden or not.

    Raises
    ------
    NotInLogError
        It is not in the log.
    """
    return load(log, Form, form_id)


def form_named(log: Log, name: str) -> Form:
    """Return the form in use that is called so.

    Raises
    ------
    NotInLogError
        There is none.
    """
    for found in list_all(log, Form):
        if found.name == as_kept(name):
            return found
    msg = f"There is no form {name!r} in the log: check its name."
    raise NotInLogError(msg)


def form_of_piece(log: Log, piece_id: int) -> Form | None:
    """Return the form a piece was cast in; None where that is not known.

    Raises
    ------
    NotInLogError
        There is no such piece.
    """
    form_id = load(log, Piece, piece_id).form_id
    return None if form_id is None else load(log, Form, form_id)


def casting(log: Log, piece_id: int) -> Casting:
    """Return a piece with its pour and form use.

    Raises
    ------
    NotInLogError
        It is not in the log, or hidden.
    """
    pour_id = load(log, Piece, piece_id).pour_id
    for found in list_castings(log, pour_id=pour_id):
        if found.piece.id == piece_id:
            return found
    msg = f"Piece {piece_id} was removed from the log: choose from the list."
    raise NotInLogError(msg)
