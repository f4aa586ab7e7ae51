"""``example``: the invented workshop, written into a log of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli.files import say
from analysis.errors import InputError
from analysis.services.example import build_example
from analysis.services.log import list_castings, open_log, pours

if TYPE_CHECKING:
    import argparse


def add_example(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``example``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_example(parser)
    >>> parser.parse_args(["--log", "workshop"]).log
    'workshop'
    """
    parser.add_argument(
        "--log", metavar="URL", required=True, help="an empty log: folder, file or URL"
    )
    parser.set_defaults(run=_example)


def _example(options: argparse.Namespace) -> None:
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    log = open_log(options.log)
    build_example(log)
    say(
        f"The example workshop is in {options.log}: {len(pours(log))} pours, "
        f"{len(list_castings(log))} pieces."
    )
