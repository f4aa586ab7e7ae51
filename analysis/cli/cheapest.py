"""``cheapest``: repair against vibration, sealing and refinishing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.cli.files import check_targets, path_of, say, write_json
from analysis.errors import InputError
from analysis.planning.cheapest_words import (
    cheapest_keys,
    cheapest_lines,
    cheapest_sentence,
)
from analysis.services.log import open_log
from analysis.services.planner_shop import shop_of_log
from analysis.services.shop_costs import Prices, cheapest_of_form, cheapest_of_type
from analysis.services.vibration_questions import usual_question

if TYPE_CHECKING:
    import argparse


def add_cheapest(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``cheapest``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_cheapest(parser)
    >>> asked = ["--log", "finish", "--form-type", "pot", "--per-hour", "30"]
    >>> parser.parse_args(asked).per_hour
    30.0
    """
    parser.add_argument("--log", metavar="URL", required=True, help="folder, file, URL")
    about = parser.add_mutually_exclusive_group(required=True)
    about.add_argument("--form-type", metavar="T", help="what is cast")
    about.add_argument("--form", metavar="F", help="a form that wears")
    parser.add_argument("--method", metavar="M", help="the one used most if left out")
    parser.add_argument(
        "--per-hour", metavar="F", type=float, required=True, help="an hour of work"
    )
    parser.add_argument(
        "--lost-per-second",
        metavar="F",
        type=float,
        default=0.0,
        help="lost when a piece is sold as a second",
    )
    parser.add_argument(
        "--refinish-minutes", metavar="F", type=float, help="work of refinishing"
    )
    parser.add_argument(
        "--refinish-material", metavar="F", type=float, default=0.0, help="its material"
    )
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_cheapest)


def _cheapest(options: argparse.Namespace) -> None:
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    if options.json not in {None, "-"}:
        check_targets(None, [path_of(options.json)])
    prices = Prices(
        per_hour=options.per_hour,
        lost_per_second=options.lost_per_second,
        refinish_minutes=options.refinish_minutes,
        refinish_material=options.refinish_material,
    )
    log = open_log(options.log, create=False)
    shop = shop_of_log(log)
    if options.form is not None:
        found = cheapest_of_form(shop, options.form.strip(), prices)
    else:
        question = usual_question(log, shop.table, options.form_type.strip())
        if options.method is not None:
            question = replace(question, method=options.method.strip())
        found = cheapest_of_type(shop, question, prices)
    if options.json is None:
        say("\n".join([cheapest_sentence(found), *cheapest_lines(found)]))
    else:
        write_json(cheapest_keys(found), options.json)
