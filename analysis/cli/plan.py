"""``plan``: what to cast next so that a question is settled."""

from __future__ import annotations

import secrets
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.cli.files import check_apart, check_targets, path_of, say, write_json
from analysis.errors import InputError
from analysis.model.plan import PlanQuestion
from analysis.model.writing import day
from analysis.planning.next_words import step_keys, step_reason, step_sentence
from analysis.planning.plan_words import plan_keys, plan_notes, plan_sentence
from analysis.services.log import open_log
from analysis.services.next_steps import filled_in, step_of_factor
from analysis.services.planner_shop import shop_of_log
from analysis.services.plans import bench_sheet, plan_of_log
from analysis.services.records import today

if TYPE_CHECKING:
    import argparse

    from analysis.model.next_step import NextStep
    from analysis.model.plan import Plan


def add_plan(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``plan``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_plan(parser)
    >>> parser.parse_args(["--log", "finish", "--by", "mix"]).power
    0.8
    """
    parser.add_argument("--log", metavar="URL", required=True, help="folder, file, URL")
    parser.add_argument(
        "--by", metavar="FACTOR", required=True, help="what is to be told apart"
    )
    parser.add_argument(
        "--level",
        metavar="A",
        action="append",
        default=[],
        help="give two, or take them from the log",
    )
    parser.add_argument("--form-type", metavar="T", help="forms to cast in")
    parser.add_argument(
        "--ratio",
        type=float,
        help="void area of one over the other; 0.5 or as the next step asks",
    )
    parser.add_argument(
        "--no-worse-than",
        metavar="F",
        type=float,
        help="size it to show the first level no worse than so many times the second",
    )
    parser.add_argument(
        "--power", type=float, default=0.8, help="chance of finding that ratio"
    )
    parser.add_argument("--pieces-per-pour", type=int, help="at most")
    parser.add_argument("--sheet", metavar="PDF", help="a bench sheet to print")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4")
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_plan)


def _plan(options: argparse.Namespace) -> None:
    if not options.log.strip():
        msg = "The name of the log is blank: give its folder, file or URL."
        raise InputError(msg)
    targets = (options.sheet, options.json)
    files = [path_of(name) for name in targets if name not in {None, "-"}]
    check_targets(None, files)
    log = open_log(options.log, create=False)
    check_apart(log, files)
    question = PlanQuestion(
        by=options.by.strip(),
        levels=tuple(level.strip() for level in options.level),
        form_type=options.form_type,
        ratio=PlanQuestion(by="mix").ratio if options.ratio is None else options.ratio,
        power=options.power,
        pieces_per_pour=options.pieces_per_pour,
        margin=options.no_worse_than,
        seed=secrets.randbelow(2**32),
    )
    shop = shop_of_log(log)
    asked = filled_in(shop, question)
    if options.ratio is not None:
        asked = replace(asked, ratio=question.ratio)
    made = plan_of_log(log, asked, shop.table)
    step = step_of_factor(shop, replace(asked, seed=None))
    if options.sheet is not None:
        Path(options.sheet).write_bytes(
            bench_sheet(
                made,
                plan_sentence(made),
                made_on=day(today()),
                page=options.page,
            )
        )
    if options.json is not None:
        write_json(plan_keys(made) | {"next_step": step_keys(step)}, options.json)
    else:
        say(_words(made, step))


def _words(made: Plan, step: NextStep) -> str:
    rows = [
        f"Pour {one.pour}, filled {one.order}: {one.place or 'any form'}, {one.level}"
        for one in sorted(made.assignments, key=lambda one: (one.pour, one.order))
    ]
    held = [f"Keep {one.factor} at {one.level}." for one in made.hold]
    first = (
        [] if step.kind == "cast" else [f"{step_sentence(step)} {step_reason(step)}"]
    )
    return "\n".join([*first, plan_sentence(made), *held, *plan_notes(made), *rows])
