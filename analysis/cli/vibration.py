"""``vibration``: more, the same, less, or something else first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli.files import add_table_source, say, source_asked, write_json
from analysis.errors import InputError
from analysis.model.vibration import DOSE_COLUMNS, VibrationQuestion
from analysis.planning.next_words import step_keys
from analysis.services.next_steps import answered
from analysis.services.planner_shop import shop_of_log
from analysis.vibration.dose_answer import vibration
from analysis.vibration.words.decision import vibration_keys, vibration_text

if TYPE_CHECKING:
    import argparse


def add_vibration(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``vibration``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_vibration(parser)
    >>> asked = ["--table", "a.csv", "--form-type", "pot", "--method", "table",
    ...          "--target-low", "0", "--target-high", "0.4"]
    >>> parser.parse_args(asked).target_high
    0.4
    """
    add_table_source(parser)
    for name, metavar, told in (
        ("--form-type", "T", "what is cast"),
        ("--method", "M", "how it is vibrated; other methods' seconds do not count"),
    ):
        parser.add_argument(name, metavar=metavar, required=True, help=told)
    for name, told in (
        ("--target-low", "least void area wanted, percent; 0 for none"),
        ("--target-high", "most void area wanted, percent"),
    ):
        parser.add_argument(name, metavar="F", type=float, required=True, help=told)
    parser.add_argument(
        "--current-s",
        metavar="F",
        type=float,
        help="seconds used now; the latest pour's if left out",
    )
    parser.add_argument(
        "--dose",
        choices=tuple(DOSE_COLUMNS),
        default="seconds",
        help="what is counted: seconds, strokes of a rod, passes",
    )
    parser.add_argument(
        "--current",
        metavar="F",
        type=float,
        help="seconds, strokes or passes used now; the latest pour's if left out",
    )
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_vibration)


def _vibration(options: argparse.Namespace) -> None:
    question = VibrationQuestion(
        form_type=options.form_type.strip(),
        method=options.method.strip(),
        target_low=options.target_low / 100,
        target_high=options.target_high / 100,
        current_s=_current(options),
        dose=options.dose,
    )
    (table, log), keys = source_asked(options), {}
    if log is None:
        answer = vibration(table, question)
    else:
        shop = shop_of_log(log, table)
        answer, step = answered(shop, question)
        keys = {"next_step": step_keys(step)}
    if options.json is None:
        say(vibration_text(answer))
    else:
        write_json(vibration_keys(answer) | keys, options.json)


def _current(options: argparse.Namespace) -> float | None:
    """Return the amount used now; seconds may be given by their own option, too."""
    if options.current_s is None:
        given: float | None = options.current
        return given
    if options.dose != "seconds" or options.current is not None:
        msg = (
            "--current-s is seconds used now: with another dose, or beside --current, "
            "leave it out and give --current."
        )
        raise InputError(msg)
    seconds: float = options.current_s
    return seconds
