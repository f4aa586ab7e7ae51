"""``track``: follow the finish pour by pour."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.cli.files import add_table_source, say, table_asked, write_json
from analysis.errors import InputError
from analysis.model.monitoring import TrackOptions
from analysis.monitoring.intake import follow
from analysis.monitoring.output import track_json
from analysis.monitoring.status import track_summary
from analysis.services.batches import lines_of

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
    table = table_asked(options)
    lines = lines_of(table, wanted)
    results = {
        line: follow(table, replace(wanted, product_line=line)) for line in lines
    }
    first = next(iter(results.values())) if results else follow(table, wanted)
    if options.json is None:
        several = (f"{line}: {track_summary(one)}" for line, one in results.items())
        say("\n\n".join(several) if results else track_summary(first))
        return
    keys = track_json(first)
    if results:
        keys["lines"] = [
            {"product_line": line, **track_json(one)} for line, one in results.items()
        ]
    write_json(keys, options.json)


def _name(given: str | None, option: str) -> str | None:
    if given is not None and not given.strip():
        msg = f"{option} is blank: give a name, or leave the option out."
        raise InputError(msg)
    return given
