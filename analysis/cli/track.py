"""``track``: follow the finish pour by pour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli.files import add_table_source, say, table_asked, write_json
from analysis.errors import InputError
from analysis.model.monitoring import TrackOptions
from analysis.monitoring.intake import follow
from analysis.monitoring.output import track_json
from analysis.monitoring.status import track_summary

if TYPE_CHECKING:
    import argparse


def add_track(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``track``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_track(parser)
    >>> parser.parse_args(["--table", "a.csv", "--form", "A"]).form
    'A'
    """
    add_table_source(parser)
    parser.add_argument("--form", help="follow this form only")
    parser.add_argument("--product-line", help="follow this product line only")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_track)


def _track(options: argparse.Namespace) -> None:
    wanted = TrackOptions(
        form=_name(options.form, "--form"),
        product_line=_name(options.product_line, "--product-line"),
    )
    result = follow(table_asked(options), wanted)
    if options.json is None:
        say(track_summary(result))
    else:
        write_json(track_json(result), options.json)


def _name(given: str | None, option: str) -> str | None:
    if given is not None and not given.strip():
        msg = f"{option} is blank: give a name, or leave the option out."
        raise InputError(msg)
    return given
