"""Keeping the log: its records, words, drafts, tables in and out, and backups."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import fields, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from analysis.errors import InputError, StruckfaceError
from analysis.model.log import Piece, Pour
from analysis.pieces.cells import DATE_ORDERS
from analysis.pieces.grid import read_grid
from analysis.storage.backup import (
    back_up,
    back_up_daily,
    backup_folder,
    daily_backups,
    lost_photos,
)
from analysis.storage.castings import (
    add_pour_with_pieces,
    as_new,
    last_casting,
    like_last,
    list_castings,
    next_names,
)
from analysis.storage.drafts import (
    draft_photo,
    drop_draft,
    keep_draft_photo,
    list_drafts,
    load_draft,
    save_draft,
)
from analysis.storage.engine import locate
from analysis.storage.exchange import (
    COLUMNS,
    NEEDED,
    ImportPreview,
    ImportProblem,
    export_csv,
    export_xlsx,
    import_pieces,
    known_column,
    preview_import,
)
from analysis.storage.moving import migrate_log
from analysis.storage.photo_address import is_reached
from analysis.storage.photo_moving import give_address
from analysis.storage.photos import photo_names
from analysis.storage.readings import (
    correct_reading,
    delete_reading,
    restore_reading,
)
from analysis.storage.records import (
    Record,
    add,
    bring_back,
    change,
    hide,
    history,
    list_all,
    load,
)
from analysis.storage.restoring import (
    begin_anew,
    is_good,
    last_good,
    restorable,
    restore,
)
from analysis.storage.terms import (
    add_term,
    list_terms,
    merge_terms,
    part_term,
    rename_term,
    term_history,
    words,
)

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from analysis.services.log import Log

__all__ = [
    "COLUMNS",
    "DATE_ORDERS",
    "NEEDED",
    "ImportPreview",
    "ImportProblem",
    "Record",
    "add",
    "add_pour_with_pieces",
    "add_term",
    "as_new",
    "back_up",
    "backup_folder",
    "begin_anew",
    "bring_back",
    "change",
    "correct_reading",
    "daily_backups",
    "delete_reading",
    "draft_photo",
    "drop_draft",
    "export_csv",
    "export_xlsx",
    "give_address",
    "hide",
    "history",
    "import_pieces",
    "is_good",
    "is_reached",
    "joint_count",
    "keep_draft_photo",
    "known_column",
    "laid_over",
    "last_casting",
    "last_good",
    "like_last",
    "list_all",
    "list_castings",
    "list_drafts",
    "list_terms",
    "load",
    "load_draft",
    "locate",
    "lost_photos",
    "merge_terms",
    "migrate_log",
    "next_names",
    "part_term",
    "photo_names",
    "preview_import",
    "rename_term",
    "restorable",
    "restore",
    "restore_reading",
    "save_draft",
    "term_history",
    "words",
]


_MOST_JOINTS = 64


def pour_like_last(log: Log) -> tuple[Pour, tuple[Piece, ...]] | None:
    """Return a pour set up as the last one with its pieces; None in an empty log.

    Names follow the last ones given; weather, water and what came of it are blank.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     pour_like_last(open_log(folder)) is None
    True
    """
    latest = list_castings(log, limit=1)
    if not latest:
        return None
    last = latest[0].pour
    # Castings come latest first; the table goes on in the order they were cast.
    pieces = [one.piece for one in list_castings(log, pour_id=last.id)][::-1]
    names = next_names(log, Piece, count=len(pieces))
    pour = Pour(
        name=next_names(log, Pour)[0],
        cast_on=today(),
        zone=last.zone,
        mix_id=last.mix_id,
        crew=last.crew,
    )
    return pour, tuple(
        as_new(piece, name) for piece, name in zip(pieces, names, strict=True)
    )


def joint_count(given: float | None) -> int:
    """Return how many joints a new form is given; none where that is not known.

    Raises
    ------
    InputError
        Not a whole number from 0 to 64.

    Examples
    --------
    >>> joint_count(None), joint_count(4.0)
    (0, 4)
    """
    if given is None:
        return 0
    if not 0 <= given <= _MOST_JOINTS or given != int(given):
        msg = (
            f"Joints of the form: {given:g} was given, a whole number from 0 to "
            f"{_MOST_JOINTS} is needed."
        )
        raise InputError(msg)
    return int(given)


def today() -> date:
    """Return the local day."""
    return datetime.now().astimezone().date()


def back_up_today(log: Log) -> None:
    """Copy the database once a day.

    A copy that cannot be written must not keep the log shut; the page of backups tells
    which copies there are.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     back_up_today(log)
    ...     len(daily_backups(log))
    1
    """
    with suppress(StruckfaceError):
        back_up_daily(log)


def back_up_whole(log: Log) -> Path:
    """Back the log up with its photos into its backup folder.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     back_up_whole(log).name[:6]
    'whole-'
    """
    moment = datetime.now().astimezone()
    return back_up(log, backup_folder(log) / f"whole-{moment:%Y-%m-%d-%H%M%S}.zip")


def header_of(data: bytes) -> tuple[str, ...]:
    r"""Return the names of a table's columns.

    Raises
    ------
    TableError
        Not a table.

    Examples
    --------
    >>> header_of(b"piece;pour;cast_on\n7;12;2026-03-31")
    ('piece', 'pour', 'cast_on')
    """
    return tuple(read_grid(data).header)


def differences(
    stored: Record, given: Record
) -> tuple[tuple[str, object, object], ...]:
    """Return each field in which two states of a record differ: name, now, given.

    Examples
    --------
    >>> differences(Piece(name="7", pour_id=1), Piece(name="8", pour_id=1))
    (('name', '7', '8'),)
    """
    return tuple(
        (name, getattr(stored, name), getattr(given, name))
        for name in (item.name for item in fields(stored))
        if name not in {"id", "version"}
        and getattr(stored, name) != getattr(given, name)
    )


def laid_over(stored: Record, opened: Record, given: Record) -> Record:
    """Return what is stored with one person's changes laid over it.

    Parameters
    ----------
    stored : record
        As it is in the log now.
    opened, given : record
        As that person found it, and made of it.

    Returns
    -------
    record
        With the version that is stored, so that it can be saved.

    Examples
    --------
    >>> found = Piece(name="7", pour_id=1, lifts=2, version=1)
    >>> theirs = Piece(name="7", pour_id=1, lifts=3, version=2)
    >>> mine = Piece(name="7", pour_id=1, lifts=2, note="chipped", version=1)
    >>> both = laid_over(theirs, found, mine)
    >>> both.lifts, both.note, both.version
    (3, 'chipped', 2)
    """
    mine: dict[str, Any] = {
        name: value for name, _, value in differences(opened, given)
    }
    return replace(stored, **mine)
