"""Opening the log, and the two ways to touch it: `reading` and `writing`."""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs
import sqlalchemy as sa
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    StatementError,
)
from sqlalchemy.pool import NullPool

from analysis.errors import (
    DamagedLogError,
    InputError,
    NoWritingError,
    RecordError,
    StruckfaceError,
)
from analysis.storage.beside import traces

if TYPE_CHECKING:
    from collections.abc import Iterator

FILE_NAME = "log.sqlite"
BUSY_TIMEOUT_S = 30.0
# What a table or a text has lost: the file is no longer what was written.
_LACKING = re.compile(r"no such (table|column)|Could not decode to UTF-8")
_NO_WRITING = (
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
)
# SQLite quotes what is damaged: where those bytes are no text, Python cannot even say
# the error, and raises the other.
UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
_WRITERS_LOCK = 0x5F4CE  # any number; PostgreSQL's name for 'one writer at a time'


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """Where a log lives. It holds no connection and may be passed anywhere.

    Attributes
    ----------
    url : str
        SQLAlchemy URL.
    photo_folder : pathlib.Path
        Originals, each named by the sha256 of its bytes.
    read_only : str
        Why nothing can be written, in a sentence; empty where it can.
    has_address : bool
        The log itself says where its originals are: a folder that machines share.
    """

    url: str = field(repr=False)
    photo_folder: Path
    read_only: str = ""
    has_address: bool = False

    @property
    def file(self) -> Path | None:
        """The SQLite file, or None for a database server."""
        return _sqlite_file(self.url)

    @property
    def home(self) -> Path:
        """Folder of what lies beside the log: backups, small pictures, drafts."""
        return self.photo_folder.parent if self.file is None else self.file.parent


def data_folder() -> Path:
    """Return the folder the log lives in unless told otherwise.

    The environment variable STRUCKFACE_DATA overrides the platform's choice.

    Examples
    --------
    >>> isinstance(data_folder(), Path)
    True
    """
    given = os.environ.get("STRUCKFACE_DATA")
    if given:
        return Path(given)
    return Path(platformdirs.user_data_dir("Struckface", appauthor=False))


def locate(where: str | os.PathLike[str] | None = None) -> Log:
    """Return the handle for a folder, a file or a SQLAlchemy URL; touches nothing.

    Parameters
    ----------
    where : str or path, optional
        Folder, SQLite file (``.sqlite``, ``.sqlite3``, ``.db``) or URL.

    Returns
    -------
    Log
        The handle.

    Raises
    ------
    InputError
        Not a URL that can be used, or a name that is not UTF-8.

    Examples
    --------
    >>> locate("finish").file.name
    'log.sqlite'
    """
    text = "" if where is None else os.fspath(where)
    _check_name(text or str(data_folder()))
    if "://" not in text:
        path = Path(text).expanduser() if text else data_folder()
        is_file = path.suffix.lower() in {".sqlite", ".sqlite3", ".db"}
        file = (path if is_file else path / FILE_NAME).absolute()
        url = sa.URL.create("sqlite", database=str(file))
        return Log(
            url=url.render_as_string(hide_password=False),
            photo_folder=file.parent / "photos",
        )
    try:
        backend = sa.make_url(text).get_backend_name()
    except ArgumentError:
        msg = (
            "The address of the log is not a database URL: "
            "give a folder, or for example postgresql+psycopg://user@host/name."
        )
        raise InputError(msg) from None
    if backend != "sqlite":
        return Log(url=text, photo_folder=data_folder() / "photos")
    database = _sqlite_file(text)
    if database is None:
        msg = "A log cannot live in memory only: give a folder or a file."
        raise InputError(msg)
    return locate(database if database.suffix else database.with_suffix(".sqlite"))


def _check_name(text: str) -> None:
    if "\0" in text:
        msg = f"{text!a} is no name of a log: give a folder."
        raise InputError(msg)
    try:
        text.encode()
    except UnicodeEncodeError:
        msg = (
            "The address of the log holds bytes that are not UTF-8: rename "
            f"{text!a}, or give another folder."
        )
        raise InputError(msg) from None


def _sqlite_file(url: str) -> Path | None:
    """Return the file behind a SQLite URL."""
    parsed = sa.make_url(url)
    if parsed.get_backend_name() != "sqlite":
        return None
    if parsed.database in {None, "", ":memory:"}:
        return None
    return Path(str(parsed.database)).absolute()


@lru_cache(maxsize=32)
def engine(url: str, *, read_only: bool = False) -> sa.Engine:
    """Return the engine: a connection of its own for every operation."""
    file = _sqlite_file(url)
    if file is None:
        try:
            made = sa.create_engine(url, poolclass=NullPool)
        except (NoSuchModuleError, ModuleNotFoundError) as error:
            name = sa.make_url(url).drivername
            msg = (
                f"The log's address asks for the database {name}, which is not "
                "installed here: install its driver (for PostgreSQL the optional "
                "requirements, pip install '.[postgresql]') or give a folder."
            )
            raise InputError(msg) from error
    else:
        made = sa.create_engine(
            url,
            poolclass=NullPool,
            creator=partial(_connected, file, read_only=read_only),
        )
        sa.event.listen(made, "connect", _prepare_sqlite)
    sa.event.listen(made, "begin", _begin)
    return made


def _connected(file: Path, *, read_only: bool) -> sqlite3.Connection:
    """Connect to a file that is there; an empty log is never made by the way."""
    mode = "mode=rw"
    if read_only:
        ahead = file.with_name(f"{file.name}-wal")
        # Where no companion can be made, SQLite must be told that nobody writes.
        still = not ahead.exists() or not ahead.stat().st_size
        mode = "mode=ro&immutable=1" if still else "mode=ro"
    return sqlite3.connect(f"{file.as_uri()}?{mode}", uri=True, timeout=BUSY_TIMEOUT_S)


def _prepare_sqlite(connection: Any, _record: object) -> None:  # noqa: ANN401 - a driver's connection
    """Switch on what SQLite leaves off."""
    connection.isolation_level = None  # `_begin` says BEGIN, not the driver
    for pragma in (
        "foreign_keys=ON",
        "synchronous=FULL",
        "trusted_schema=OFF",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: sa.Connection) -> None:
    """Take the writer's turn at the start, so that no save fails half way for it."""
    writes = connection.get_execution_options().get("writes", False)
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
    elif writes and connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS_LOCK})")


@contextmanager
def reading(log: Log) -> Iterator[sa.Connection]:
    """Give a connection that sees one consistent state."""
    made = engine(log.url, read_only=bool(log.read_only))
    try:
        with in_words(log), made.connect() as connection, connection.begin():
            yield connection
    except StruckfaceError:
        raise
    except (TypeError, ValueError, OverflowError, LookupError) as error:
        # What a column cannot have held: a date that is a number, broken JSON.
        raise DamagedLogError(damaged(log)) from error


@contextmanager
def writing(log: Log) -> Iterator[sa.Connection]:
    """Give the one writer's connection; all of it is kept, or nothing."""
    if log.read_only:
        raise NoWritingError(log.read_only)
    with (
        in_words(log),
        engine(log.url).connect().execution_options(writes=True) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def in_words(log: Log) -> Iterator[None]:
    """Turn the driver's trouble into one sentence."""
    try:
        yield
    except StatementError as error:
        if isinstance(error.orig, StruckfaceError):
            raise error.orig from None
        # Extended codes have the primary one in their low byte (sqlite.org/rescode).
        code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
        lacking = log.file is not None and _LACKING.search(str(error.orig))
        if lacking or code in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}:
            raise DamagedLogError(damaged(log)) from error
        if code == sqlite3.SQLITE_CANTOPEN and _has_gone(log):
            raise DamagedLogError(gone(log)) from error
        if code in _NO_WRITING:
            raise NoWritingError(_sentence(log, error, code)) from error
        raise RecordError(_sentence(log, error, code)) from error
    except UnicodeDecodeError as error:
        raise DamagedLogError(damaged(log)) from error
    except OSError as error:
        msg = (
            f"The photo folder {log.photo_folder} cannot be used "
            f"({error.strerror or error}): make room or allow writing there; "
            "nothing was saved."
        )
        raise RecordError(msg) from error


def _sentence(log: Log, error: StatementError, code: int) -> str:
    """Say what went wrong and what to do."""
    place = log.file or "the database server"
    original = error.orig
    known = {
        sqlite3.SQLITE_FULL: f"The disk with {place} is full: make room; "
        "nothing was saved.",
        sqlite3.SQLITE_READONLY: f"The log {place} may not be written to: "
        "allow writing there; nothing was saved.",
        sqlite3.SQLITE_CANTOPEN: f"The log {place} cannot be opened: "
        "check that its folder exists and may be written to.",
        sqlite3.SQLITE_BUSY: f"The log {place} is in use by someone else: "
        "try again in a moment; nothing was saved.",
        sqlite3.SQLITE_IOERR: f"The log {place} cannot be read or written "
        "(the disk may be full or gone): check the disk; nothing was saved.",
    }
    if code in known:
        return known[code]
    if isinstance(error, IntegrityError):
        return (
            f"The log refused the record ({original}): "
            "check the values and that what it refers to still exists."
        )
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return f"The connection to {place} was lost: try again; nothing was saved."
    return f"The log in {place} could not be used ({original}): nothing was saved."


def _has_gone(log: Log) -> bool:
    """Tell whether a log that was open is gone from among what it left behind."""
    return log.file is not None and not log.file.exists() and traces(log)


def gone(log: Log) -> str:
    """Say that the database is gone from among its photos and what to do."""
    return (
        f"The log {log.file} is missing or empty, though photos or backups of it are "
        "there: restore the last backup."
    )


def damaged(log: Log) -> str:
    """Say that the database is damaged and what to do."""
    return (
        f"The log {log.file or 'on the database server'} is damaged: "
        "restore the last backup; the damaged file is left as it is."
    )
