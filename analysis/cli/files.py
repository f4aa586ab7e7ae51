"""Files in and answers out, for every verb of the command line."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.services.log import open_log
from analysis.services.tables import table_from_csv, table_from_log

if TYPE_CHECKING:
    import argparse

    from analysis.model.comparison import PieceTable
    from analysis.services.log import Log

_BESIDE_LOG = ("-wal", "-shm", "-journal")


def path_of(name: str) -> Path:
    r"""Return a path for a file name.

    Raises
    ------
    InputError
        It cannot name a file.

    Examples
    --------
    >>> path_of("face.jpg").suffix
    '.jpg'
    """
    if not name or "\0" in name:
        msg = f"{name!r} is no file name: name a file."
        raise InputError(msg)
    return Path(name)


def check_targets(source: Path | None, targets: list[Path]) -> None:
    """Refuse before the work what could not be written after it.

    Raises
    ------
    InputError
        A target is a folder, lies in none, or would overwrite the source or another.

    Examples
    --------
    >>> check_targets(None, [])
    """
    known = [] if source is None else [source.resolve()]
    for target in targets:
        if target.is_dir() or not target.parent.is_dir():
            msg = f"{target} cannot be written: name a file in a folder that exists."
            raise InputError(msg)
        if target.resolve() in known:
            msg = f"{target} is named twice: give each file a name of its own."
            raise InputError(msg)
        known.append(target.resolve())


def check_apart(log: Log, targets: list[Path]) -> None:
    """Refuse targets that belong to the log.

    Raises
    ------
    InputError
        A target is the log's file, one that goes with it, or lies among its photos.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     check_apart(open_log(folder), [Path("answer.json")])
    """
    file = log.file
    own = set() if file is None else {f"{file}{end}" for end in ("", *_BESIDE_LOG)}
    photos = log.photo_folder.resolve()
    for target in targets:
        place = target.resolve()
        if str(place) in own or photos in place.parents:
            msg = f"{target} is the log itself: give what is written another name."
            raise InputError(msg)


def read_bytes(path: Path, kind: str) -> bytes:
    """Read a whole file; `kind` says what it should be, e.g. ``"photo"``.

    Raises
    ------
    InputError
        There is no such file.

    Examples
    --------
    >>> len(read_bytes(Path(__file__), "text")) > 0
    True
    """
    if path.is_dir():
        msg = f"{path} is a folder: name one {kind} in it."
        raise InputError(msg)
    if not path.is_file():
        msg = f"There is no file {path}: check its name."
        raise InputError(msg)
    return path.read_bytes()


def write_json(answer: dict[str, object], target: str) -> None:
    """Write an answer as JSON to a file; ``-`` is stdout.

    Examples
    --------
    >>> write_json({"chart": None}, "-")
    {
     "chart": null
    }
    """
    text = json.dumps(answer, indent=1, allow_nan=False)
    if target == "-":
        say(text)
    else:
        Path(target).write_text(text + "\n", encoding="utf-8")


def say(text: str) -> None:
    """Write a line to stdout at once.

    Examples
    --------
    >>> say("done")
    done
    """
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def add_table_source(parser: argparse.ArgumentParser) -> None:
    """Give a parser the choice between a table and a log.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_table_source(parser)
    >>> parser.parse_args(["--table", "a.csv"]).table
    'a.csv'
    """
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--table", metavar="CSV", help="one row per piece")
    source.add_argument("--log", metavar="URL", help="a log: folder, file or URL")


def table_asked(options: argparse.Namespace) -> PieceTable:
    """Read the table or the log asked for, as `source_asked` does."""
    return source_asked(options)[0]


def source_asked(options: argparse.Namespace) -> tuple[PieceTable, Log | None]:
    r"""Read the table or the log asked for, once the answer can be written.

    Returns
    -------
    table : PieceTable
        The pieces.
    log : Log or None
        Where they came from, None for a table: a log is opened once.

    Raises
    ------
    InputError
        A file is not there, is no table, or the answer cannot be written.
    RecordError
        The log is not there or cannot be read.

    Examples
    --------
    >>> import argparse, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     table = Path(folder) / "pieces.csv"
    ...     _ = table.write_text("piece,pour\n1,A\n")
    ...     asked = argparse.Namespace(table=str(table), log=None, json=None)
    ...     table, log = source_asked(asked)
    >>> len(table), log
    (1, None)
    """
    source = None if options.table is None else path_of(options.table)
    if options.json not in {None, "-"}:
        check_targets(source, [path_of(options.json)])
    if source is not None:
        return table_from_csv(read_bytes(source, "table")), None
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    log = open_log(options.log, create=False)
    if options.json not in {None, "-"}:
        check_apart(log, [path_of(options.json)])
    return table_from_log(log), log
