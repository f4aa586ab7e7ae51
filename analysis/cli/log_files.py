"""``import``, ``export``, ``backup``, ``restore``: the log in and out."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from analysis.cli.files import (
    check_apart,
    check_targets,
    path_of,
    read_bytes,
    say,
    write_json,
)
from analysis.errors import InputError, NotInLogError
from analysis.services import exports, records, reports
from analysis.services.log import open_log

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from analysis.services.log import Log

_SPREADSHEET = ".xlsx"
_ANNOTATIONS = ".json"
_TABLES = (".csv", _SPREADSHEET)


def add_import(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``import``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_import(parser)
    >>> parser.parse_args(["a.csv", "--log", "finish", "--dry-run"]).dry_run
    True
    """
    parser.add_argument("file", metavar="FILE", help="CSV or xlsx, one row per piece")
    _add_log(parser)
    parser.add_argument("--dry-run", action="store_true", help="say only what would be")
    parser.add_argument("--decimal", choices=(".", ","), help="decimal mark")
    parser.add_argument(
        "--date-order",
        choices=records.DATE_ORDERS,
        help="of dates other than 2026-03-31",
    )
    parser.add_argument(
        "--column",
        metavar="OWN=NAME",
        action="append",
        default=[],
        help="a column of the file and its name here",
    )
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_import)


def add_export(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``export``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_export(parser)
    >>> parser.parse_args(["--log", "finish", "--out", "a.csv"]).decimal
    '.'
    """
    _add_log(parser)
    parser.add_argument(
        "--out",
        metavar="FILE",
        required=True,
        help="pieces as .csv or .xlsx, voids as .json (COCO); of one piece .json "
        "(its reading), .coco.json or .png (its photo, annotated)",
    )
    parser.add_argument("--piece", metavar="NAME", help="its latest reading alone")
    parser.add_argument("--decimal", choices=(".", ","), default=".")
    parser.set_defaults(run=_export)


def add_backup(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``backup``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_backup(parser)
    >>> parser.parse_args(["--log", "finish", "--out", "log.zip"]).out
    'log.zip'
    """
    _add_log(parser)
    parser.add_argument("--out", metavar="ZIP", required=True)
    parser.set_defaults(run=_backup)


def add_restore(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``restore``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_restore(parser)
    >>> parser.parse_args(["log.zip", "--log", "finish"]).replace
    False
    """
    parser.add_argument("file", metavar="ZIP")
    parser.add_argument("--log", metavar="FOLDER", required=True)
    parser.add_argument(
        "--replace", action="store_true", help="move the log that is there aside"
    )
    parser.set_defaults(run=_restore)


def add_migrate_log(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``migrate-log``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_migrate_log(parser)
    >>> parser.parse_args(["finish", "postgresql+psycopg://u@h/n"]).old
    'finish'
    """
    parser.add_argument("old", metavar="FROM", help="a log: folder, file or URL")
    parser.add_argument("new", metavar="TO", help="an empty log, or none yet")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_migrate_log)


def _migrate_log(options: argparse.Namespace) -> None:
    written = [] if options.json in {None, "-"} else [path_of(options.json)]
    check_targets(None, written)
    old = open_log(_named(options.old), create=False)
    new = open_log(_named(options.new))
    check_apart(old, written)
    check_apart(new, written)
    quiet = options.json == "-"
    moved = records.migrate_log(old, new, None if quiet else say)
    if options.json is not None:
        write_json(
            {
                "rows": moved.rows,
                "photos": moved.photos,
                "missing": list(moved.missing),
            },
            options.json,
        )
    if not quiet:
        say(
            f"Copied and compared: {moved.rows['piece']} pieces, "
            f"{moved.rows['reading']} readings, {moved.photos} photos."
        )
        if moved.missing:
            names = ", ".join(records.photo_names(new, moved.missing))
            say(f"Their originals were missing or changed before: {names}.")


def add_photo_folder(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``photo-folder``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_photo_folder(parser)
    >>> parser.parse_args(["/srv/photos", "--log", "finish"]).folder
    '/srv/photos'
    """
    parser.add_argument(
        "folder",
        metavar="FOLDER",
        nargs="?",
        help="keep the photos there from now on, on all machines; without it, say "
        "where they are",
    )
    _add_log(parser)
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_photo_folder)


def _photo_folder(options: argparse.Namespace) -> None:
    log = open_log(_named(options.log), create=False)
    if options.json not in {None, "-"}:
        check_targets(None, [path_of(options.json)])
        check_apart(log, [path_of(options.json)])
    answer: dict[str, object] = {}
    said = []
    if options.folder is not None:
        moved = records.give_address(log, options.folder)
        log = moved.log
        answer = {
            "copied": moved.copied,
            "there": moved.there,
            "missing": moved.missing,
        }
        said.append(
            f"Copied and checked: {moved.copied} photos; there already: {moved.there}; "
            f"missing before: {moved.missing}. Open the log anew on all machines."
        )
    reached = records.is_reached(log)
    answer |= {
        "folder": str(log.photo_folder),
        "shared": log.has_address,
        "reached": reached,
    }
    said.append(f"Photos are kept in {log.photo_folder}.")
    if not reached:
        said.append("It cannot be reached from here: connect it.")
    if options.json is not None:
        write_json(answer, options.json)
    if options.json != "-":
        for line in said:
            say(line)


def _add_log(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--log", metavar="URL", required=True, help="a log: folder, file or URL"
    )


def _import(options: argparse.Namespace) -> None:
    source = path_of(options.file)
    if options.json not in {None, "-"}:
        check_targets(source, [path_of(options.json)])
    data = read_bytes(source, "table")
    columns = dict(_renamed(text) for text in options.column)
    with _log_to_fill(options) as log:
        if options.json not in {None, "-"}:
            check_apart(log, [path_of(options.json)])
        preview = records.preview_import(
            log,
            data,
            decimal=options.decimal,
            date_order=options.date_order,
            columns=columns,
        )
        imported = 0
        if not options.dry_run and not preview.problems:
            records.import_pieces(log, preview, save_token=uuid4().hex)
            imported = len(preview.rows)
    if options.json is not None:
        write_json(_answer(preview, imported), options.json)
    else:
        _tell(preview, imported)
    if preview.problems:
        msg = (
            f"Nothing was imported, because {_cells(len(preview.problems))} of "
            f"{source.name} cannot be read: correct the table and import it again."
        )
        raise InputError(msg)


@contextmanager
def _log_to_fill(options: argparse.Namespace) -> Iterator[Log]:
    """Give the log; a dry run against none makes none."""
    where = _named(options.log)
    try:
        yield open_log(where, create=not options.dry_run)
    except NotInLogError:
        if not options.dry_run:
            raise
        with tempfile.TemporaryDirectory() as folder:
            yield open_log(folder)


def _renamed(text: str) -> tuple[str, str]:
    own, _, name = text.partition("=")
    if not own or name not in records.COLUMNS:
        msg = (
            f"--column must be OWN=NAME with a NAME of {', '.join(records.COLUMNS)}; "
            f"{text!r} was given."
        )
        raise InputError(msg)
    return own, name


def _tell(preview: records.ImportPreview, imported: int) -> None:
    for one in preview.problems:
        say(one.sentence)
    if preview.columns_left_out:
        say(f"Not imported: {', '.join(preview.columns_left_out)}.")
    for note in preview.notes:
        say(note)
    if not preview.problems:
        word = "Imported" if imported else "Would be imported"
        say(f"{word}: {len(preview.rows)} pieces.")


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count} cells"


def _answer(preview: records.ImportPreview, imported: int) -> dict[str, object]:
    return {
        "pieces": len(preview.rows),
        "imported": imported,
        "encoding": preview.encoding or None,
        "separator": preview.separator or None,
        "decimal": preview.decimal,
        "date_order": preview.date_order,
        "columns_read": list(preview.columns_read),
        "columns_left_out": list(preview.columns_left_out),
        "problems": [asdict(one) for one in preview.problems],
    }


def _export(options: argparse.Namespace) -> None:
    target = path_of(options.out)
    suffix = target.suffix.lower()
    if options.piece is not None or suffix == _ANNOTATIONS:
        _export_readings(options, target)
        return
    if suffix not in _TABLES:
        msg = f"{target} is no table's name: end it in {' or '.join(_TABLES)}."
        raise InputError(msg)
    check_targets(None, [target])
    log = open_log(_named(options.log), create=False)
    check_apart(log, [target])
    remarks: tuple[str, ...] = ()
    if suffix == _SPREADSHEET:
        data, remarks = records.export_xlsx(log)
    else:
        data = records.export_csv(log, decimal=options.decimal)
    target.write_bytes(data)
    for remark in remarks:
        say(remark)
    say(f"Written: {target}.")


def _export_readings(options: argparse.Namespace, target: Path) -> None:
    """Write the reading that stands for a piece, or the voids of all readings."""
    kind = ".coco.json" if target.name.lower().endswith(".coco.json") else None
    kind = kind or target.suffix.lower()
    if kind not in (".json", ".coco.json", ".png"):
        msg = f"{target} is no reading's name: end it in .json, .coco.json or .png."
        raise InputError(msg)
    check_targets(None, [target])
    log = open_log(_named(options.log), create=False)
    check_apart(log, [target])
    if options.piece is None:
        target.write_bytes(exports.annotations_json(log))
    else:
        casting = reports.casting_named(log, options.piece)
        line = exports.line_of_piece(log, casting.piece.id or 0)
        write = {
            ".json": exports.reading_json,
            ".coco.json": lambda log, line: exports.annotations_json(log, [line]),
            ".png": exports.annotated_png,
        }[kind]
        target.write_bytes(write(log, line))
    say(f"Written: {target}.")


def _backup(options: argparse.Namespace) -> None:
    target = path_of(options.out)
    check_targets(None, [target])
    log = open_log(_named(options.log), create=False)
    check_apart(log, [target])
    size = records.back_up(log, target).stat().st_size
    say(f"Backed up: {target}, {size / 1e6:.1f} MB.")
    lost = records.lost_photos(target)
    if lost:
        names = ", ".join(records.photo_names(log, lost))
        say(f"Left out, since the file is missing or changed: photos {names}.")


def _restore(options: argparse.Namespace) -> None:
    source = path_of(options.file)
    if not source.is_file():
        msg = f"There is no file {source}: check its name."
        raise InputError(msg)
    where = _named(options.log)
    if "://" in where or Path(where).is_file():
        msg = f"A backup is restored into a folder, {where!r} was given: name one."
        raise InputError(msg)
    log = records.restore(source, where, replace=options.replace)
    say(f"Restored: {log.file}, {len(records.list_castings(log))} pieces.")


def _named(where: str) -> str:
    if not where.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    return where
