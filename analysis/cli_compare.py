"""``compare``: what improves the finish."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli_files import add_table_source, say, table_asked, write_json
from analysis.desk.comparing import compare, comparison_keys, sentence
from analysis.errors import InputError
from analysis.model.trials import CompareOptions

if TYPE_CHECKING:
    import argparse


def add_compare(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``compare``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_compare(parser)
    >>> parser.parse_args(["--table", "a.csv", "--by", "form"]).by
    'form'
    """
    add_table_source(parser)
    parser.add_argument("--by", metavar="FACTOR", required=True)
    parser.add_argument("--level", action="append", default=[], help="twice: A and B")
    parser.add_argument("--within", metavar="FACTOR", action="append", default=[])
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_compare)


def _compare(options: argparse.Namespace) -> None:
    if len(options.level) not in {0, 2}:
        msg = (
            f"--level was given {len(options.level)} times: give it twice, "
            "or leave it out to compare all."
        )
        raise InputError(msg)
    wanted = CompareOptions(
        by=options.by, levels=tuple(options.level), within=tuple(options.within)
    )
    result = compare(table_asked(options), wanted)
    if options.json is None:
        say(sentence(result))
    else:
        write_json(comparison_keys(result), options.json)
