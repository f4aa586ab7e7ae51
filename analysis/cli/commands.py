"""The command line: ``python -m analysis VERB ...``."""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, NoReturn

from analysis.checks import composed
from analysis.errors import InputError, StruckfaceError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# Verb -> its module here, what adds its options, what it does. Only the module of the
# verb asked for is read: all of them take seconds.
_VERBS: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "measure": ("measure", "add_measure", "measure the voids of one photo"),
        "measure-pair": (
            "measure",
            "add_measure_pair",
            "measure one face photographed in two lights",
        ),
        "compare": ("compare", "add_compare", "compare the levels of a factor"),
        "track": ("track", "add_track", "follow the finish pour by pour"),
        "find-face": ("faces", "add_find_face", "propose what of a photo is face"),
        "measure-folder": (
            "folder",
            "add_measure_folder",
            "measure a folder into a log",
        ),
        "import": ("log_files", "add_import", "take a table of pieces into a log"),
        "export": ("log_files", "add_export", "write the pieces of a log as a table"),
        "backup": ("log_files", "add_backup", "write a whole log to one zip"),
        "restore": ("log_files", "add_restore", "put a backup back"),
        "migrate-log": ("log_files", "add_migrate_log", "copy a log into an empty one"),
        "photo-folder": (
            "log_files",
            "add_photo_folder",
            "keep the photos in a shared folder",
        ),
        "vibration": (
            "vibration",
            "add_vibration",
            "tell whether more vibration is needed",
        ),
        "cheapest": (
            "cheapest",
            "add_cheapest",
            "tell what is cheapest, repair included",
        ),
        "plan": ("plan", "add_plan", "plan the next pours"),
        "report": ("report", "add_report", "lay out a sheet of paper"),
        "example": (
            "example",
            "add_example",
            "write the example workshop into an empty log",
        ),
    }
)


_NAMES = (
    "adjust_for",
    "by",
    "column",
    "current",
    "form",
    "form_face",
    "form_type",
    "id",
    "level",
    "method",
    "piece",
    "product_line",
    "set_up",
)


class _Parser(argparse.ArgumentParser):
    """Refuses with one sentence instead of a usage dump."""

    def error(self, message: str) -> NoReturn:
        """Raise what argparse found wrong."""
        raise InputError(_sentence(message))


def main(argv: Sequence[str]) -> int:
    """Run one verb.

    Parameters
    ----------
    argv : sequence of str
        Verb and options, without the program's name.

    Returns
    -------
    int
        0 done; 2 for a bad request, with one sentence on stderr.

    Examples
    --------
    >>> main(["measure", "--help"])  # doctest: +ELLIPSIS
    usage: ...
    0
    """
    try:
        _check_names(argv)
        options = _parser(argv[0] if argv else "").parse_args(list(argv))
        _compose_names(options)
        options.run(options)
    except SystemExit as stop:
        return 0 if stop.code in {0, None} else 2
    except StruckfaceError as error:
        return _refuse(str(error))
    except OSError as error:
        return _refuse(f"{error.strerror or error}: {error.filename or 'file'}.")
    except MemoryError:
        return _refuse("There is not enough memory for this photo: measure a part.")
    except Exception as error:  # noqa: BLE001  the promise is never to raise
        return _refuse(
            f"Something went wrong inside ({type(error).__name__}: {error})."
        )
    return 0


def _compose_names(options: argparse.Namespace) -> None:
    """Write names of records as the log does; those of files stay as they are."""
    for name in _NAMES:
        given = getattr(options, name, None)
        if isinstance(given, str):
            setattr(options, name, composed(given))
        elif isinstance(given, list):
            setattr(options, name, [composed(one) for one in given])


def _check_names(argv: Sequence[str]) -> None:
    for one in argv:
        try:
            os.fsencode(one)
        except UnicodeEncodeError:
            msg = f"No file or record can be named so: {one!a}. Write the name anew."
            raise InputError(msg) from None


def _refuse(sentence: str) -> int:
    # A file's name may hold anything, even what would move the cursor.
    plain = "".join(sign if sign.isprintable() else " " for sign in sentence)
    print(" ".join(plain.split()), file=sys.stderr)  # noqa: T201  the answer
    return 2


def _sentence(message: str) -> str:
    text = message[:1].upper() + message[1:]
    return text if text.endswith(".") else f"{text}."


def _parser(asked: str) -> argparse.ArgumentParser:
    """Return the parser of one verb, of all where none of them is asked for."""
    parser = _Parser(
        prog="analysis",
        description="Struckface on the command line.",
        allow_abbrev=False,
    )
    verbs = parser.add_subparsers(required=True, metavar="VERB")
    for name in [asked] if asked in _VERBS else _VERBS:
        room, add, told = _VERBS[name]
        module = import_module(f"analysis.cli.{room}")
        getattr(module, add)(verbs.add_parser(name, help=told, allow_abbrev=False))
    return parser
