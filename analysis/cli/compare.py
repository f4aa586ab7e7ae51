"""``compare``: what improves the finish."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.cli.files import add_table_source, say, source_asked, write_json
from analysis.compare.compare import compare, compare_factors
from analysis.compare.equivalence import is_no_worse, no_worse_words
from analysis.compare.headline import answer_lines, comparison_words
from analysis.compare.output import comparison_keys
from analysis.compare.within_piece import compare_joints, holds_joints
from analysis.errors import InputError
from analysis.model.comparison import CompareOptions
from analysis.services.next_steps import with_step
from analysis.services.planner_shop import shop_of_log

if TYPE_CHECKING:
    import argparse

    from analysis.model.comparison import Comparison


def add_compare(parser: argparse.ArgumentParser) -> None:
    """Give a parser the options of ``compare``.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_compare(parser)
    >>> parser.parse_args(["--table", "a.csv", "--by", "mix"]).by
    ['mix']
    """
    add_table_source(parser)
    parser.add_argument(
        "--by",
        metavar="FACTOR",
        action="append",
        required=True,
        help="the column to compare by; several are many questions at once (Holm)",
    )
    parser.add_argument(
        "--level",
        metavar="A",
        action="append",
        default=[],
        help="give two: the verdict is about the first",
    )
    parser.add_argument(
        "--within",
        metavar="FACTOR",
        action="append",
        default=[],
        help="compare inside each of its levels, then join",
    )
    parser.add_argument(
        "--adjust-for",
        metavar="FACTOR",
        nargs="+",
        action="extend",
        help="take these out of the answer; chosen by themselves if left out, "
        "'none' takes out nothing",
    )
    parser.add_argument(
        "--no-worse-than",
        metavar="F",
        type=float,
        help="tell whether the first level has at most so many times the second's",
    )
    parser.add_argument("--json", metavar="FILE", help="- is stdout")
    parser.set_defaults(run=_compare)


def _compare(options: argparse.Namespace) -> None:
    factors = tuple(dict.fromkeys(_named(name, "--by") for name in options.by))
    wanted = CompareOptions(
        by=factors[0],
        levels=tuple(_named(level, "--level") for level in options.level),
        within=tuple(_named(name, "--within") for name in options.within),
        adjust_for=_adjusted(options.adjust_for),
    )
    if len(factors) > 1 and (wanted.levels or options.no_worse_than is not None):
        msg = (
            "--level and --no-worse-than are about one factor: give --by once, or "
            "leave them out."
        )
        raise InputError(msg)
    table, log = source_asked(options)
    if len(factors) > 1:
        _several(compare_factors(table, factors, wanted), options)
        return
    of_joints = wanted.by in {"joint_sealing", "joints_sealed"} and holds_joints(table)
    found = compare_joints(table, wanted) if of_joints else compare(table, wanted)
    if log is not None and not (of_joints or wanted.within):
        found = with_step(shop_of_log(log, table), found)
    words, keys = comparison_words(found), _keys(found)
    margin = options.no_worse_than
    if margin is not None:
        keys["no_worse"] = is_no_worse(found.head, margin)
        words += "\n" + no_worse_words(found.head, margin, wanted.by)
    _hand_out(words, keys, options)


def _keys(found: Comparison) -> dict[str, object]:
    """Return the keys, the headline and its cause first among the notes."""
    keys = comparison_keys(found)
    said = answer_lines(found)[:-1]
    noted = keys["notes"]
    return keys | {"notes": [*said, *(noted if isinstance(noted, list) else [])]}


def _several(found: dict[str, Comparison], options: argparse.Namespace) -> None:
    """Answer several questions at once; each p is adjusted for all of them."""
    told = f"{len(found)} questions at once: p is adjusted for them (Holm)."
    words = "\n".join([told, *map(comparison_words, found.values())])
    keys = {
        "questions": [{"factor": factor} | _keys(one) for factor, one in found.items()],
        "notes": [told],
    }
    _hand_out(words, keys, options)


def _hand_out(words: str, keys: dict[str, object], options: argparse.Namespace) -> None:
    if options.json is None:
        say(words)
    else:
        write_json(keys, options.json)


def _adjusted(given: list[str] | None) -> tuple[str, ...] | None:
    if given is None:
        return None
    names = tuple(_named(name, "--adjust-for") for name in given)
    return () if names == ("none",) else names


def _named(given: str, option: str) -> str:
    if not given.strip():
        msg = f"{option} is blank: give a name, or leave the option out."
        raise InputError(msg)
    return given.strip()
