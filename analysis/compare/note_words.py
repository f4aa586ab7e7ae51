"""What goes with a comparison: its notes, their codes turned into sentences."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.compare.level_words import OUTCOME_WORDS
from analysis.compare.permutation import REFINE_FROM
from analysis.compare.tangled import alias_words, cure_words
from analysis.fields import column_field
from analysis.model.field_words import cell_words, column_words
from analysis.model.notes import say
from analysis.model.sizes import rounded
from analysis.model.writing import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from analysis.compare.looking import Advice, TrialLook
    from analysis.model.comparison import PairResult
    from analysis.model.notes import Note

TIME_WORDS = "drift over time"


def note_words(note: Note) -> str:
    """Say a note of a comparison.

    Examples
    --------
    >>> from analysis.model.notes import note
    >>> note_words(note("within_like", name="smallest_counted_mm"))
    'Compared only between pieces of the same smallest counted size.'
    """
    return say(note, NOTE_WORDS)


def pair_notes(pair: PairResult) -> tuple[str, ...]:
    """Say all that goes with two levels compared, each sentence once."""
    said = (
        *map(note_words, pair.why),
        *(f"{alias_words(alias)} {cure_words(alias)}" for alias in pair.aliases),
        *map(note_words, (*pair.rests_on, *pair.misleading)),
        *([] if pair.needed is None else [note_words(pair.needed)]),
    )
    return tuple(dict.fromkeys(said))


def _names(names: Iterable[str]) -> str:
    """Name what is taken out; the casting date stands for a drift over time."""
    return ", ".join(
        TIME_WORDS if name == "cast_on" else column_words(name) for name in names
    )


def _other_stage(left_out: tuple[tuple[str, int, tuple[str, ...]], ...]) -> str:
    parts = []
    for name, pieces, levels in left_out:
        names = sorted({cell_words(name, level) or "not known" for level in levels})
        words = f"another {column_words(name)} ({', '.join(names)})"
        again = "; measure the photos again to count them" if name != "stage" else ""
        parts.append(f"{counted(pieces, 'piece')} of {words}{again}")
    return f"Left out: {'; '.join(parts)}."


def _zeros(pieces: int, value: float, outcome: str) -> str:
    found = column_field(outcome)
    unit = "" if found is None else found.unit
    void = "void" in OUTCOME_WORDS[outcome]
    return (
        f"{counted(pieces, 'piece')} had {'no voids' if void else 'none'}; "
        f"{value:.2g} {unit} stands in for zero {OUTCOME_WORDS[outcome]}."
    )


def _too_few(
    names: tuple[str, str], first: int, second: int, both: int, unit: str
) -> str:
    return (
        f"Only {counted(first, unit)} with {names[0]} and {second} with {names[1]}. It "
        f"takes 4 against 4, or 3 that have both ({both} so far). Cast both in each "
        f"{unit}: that needs far fewer."
    )


def _under_way(look: TrialLook, advice: Advice) -> str:
    if advice == "done":
        return (
            f"All {look.planned} planned pours are cast; looks on the way are paid "
            f"for: p up to {look.level:.2g} is clear."
        )
    return (
        f"{look.cast} of {look.planned} planned pours are cast: "
        + {
            "stop_clear": "stop, it is clear.",
            "stop_forlorn": "stop, it is not worth going on.",
            "go_on": f"go on; so early only a p of {look.level:.2g} would be clear.",
        }[advice]
    )


def _needed(
    pours: int, pieces: int, ratio: float, power: float, *, mixed: bool, supposed: bool
) -> str:
    start = f"To see {_difference(ratio)} in {10 * power:g} of 10 trials, cast "
    cast = f"{pours} pours of each, {counted(pieces, 'piece')} a pour."
    if mixed:
        cast = f"{pours} pours that hold {pieces} of each."
    spread = "(How much pours differ is not known yet, so a usual spread is assumed.)"
    return f"{start}{cast}{f' {spread}' if supposed else ''}"


def _difference(ratio: float) -> str:
    if ratio in {0.5, 2.0}:
        return "half as much" if ratio < 1 else "twice as much"
    if ratio > 1:
        return f"{rounded(100 * (ratio - 1), 3)} % more"
    return f"{100 * (1 - ratio):.3g} % less"


def _method(
    kind: str,
    arrangements: int,
    p_exact: float | None,
    unit: str,
    outcome: str,
    *,
    exact: bool,
    adjusted: bool,
) -> str:
    start = (
        f"ratio of area-weighted means of {OUTCOME_WORDS[outcome]}; test by {unit} on "
        f"logarithms, "
    )
    if adjusted:
        start = f"adjusted {start}"
    if kind == "t":
        return f"{start}t test, the limit of the permutation test for many units"
    how = f"{'all' if exact else 'random'} {arrangements} arrangements of the levels"
    if kind == "refined":
        return (
            f"{start}the larger p of the t test on {unit} means and the permutation "
            f"test (ties aside), {how}; interval holds both; plain permutation p "
            f"{p_exact or 0.0:.3f}"
        )
    name = "exact" if exact else "Monte Carlo"
    interval = "by inverting the test"
    if exact and arrangements < REFINE_FROM:
        interval = f"by t on {unit} means"
    return f"{start}{name} permutation test, {how}; interval {interval}"


NOTE_WORDS: Mapping[str, str | Callable[..., str]] = MappingProxyType(
    {
        # what it rests on
        "unknown": lambda pieces, name: (
            f"Left out: {counted(pieces, 'piece')} with "
            f"{OUTCOME_WORDS.get(name) or column_words(name)} not known."
        ),
        "both_sealings": lambda pieces: (
            f"Left out: {counted(pieces, 'piece')} with both sealed and open joints; "
            f"compare the joints inside the piece."
        ),
        "photos_joined": "{photos} photos were joined into {pieces} pieces, by area.",
        "other_stage": _other_stage,
        "within_like": lambda name: (
            f"Compared only between pieces of the same {column_words(name)}."
        ),
        "within_own": lambda name: (
            f"Compared within each {column_words(name)}, because it makes a difference."
        ),
        "taken_out": lambda names: f"Taken out: {_names(names)}.",
        "under_way": _under_way,
        "holm": "p is adjusted for {pairs} pairs (Holm); intervals are not.",
        "holm_factors": "p is adjusted for {settings} settings asked about (Holm).",
        # why there is no other verdict
        "nothing_to_compare": (
            "There is nothing to compare yet: no pour has both, and no two pours that "
            "are otherwise the same have one each. Cast both in one pour."
        ),
        "too_few": _too_few,
        "too_few_ways": "Too few pours to rule out luck: cast one more.",
        "all_alike": (
            "All values of a kind are exactly the same, and measured values never are: "
            "check that they were measured, not copied."
        ),
        "one_alike": (
            "All values of {level} are exactly the same, and measured values never "
            "are: check that they were measured, not copied."
        ),
        "rounding": (
            "The difference is no larger than the rounding of the values, {step:g}."
        ),
        "no_clear_difference": (
            "No clear difference does not mean no difference: look at the interval."
        ),
        "taken_away": lambda names: (
            f"Before {_names(names)} was taken out there seemed to be a difference; "
            f"with it taken out none is clear."
        ),
        # what could mislead
        "turns_round": lambda name, over_all, inside: (
            f"Beware of {column_words(name)}: over all pieces the ratio is "
            f"{over_all:.2f}, but where it is the same it is {inside:.2f}."
        ),
        "zeros": _zeros,
        "without_partner": lambda pieces: (
            "1 piece left out: nothing to pair it with."
            if pieces == 1
            else f"{pieces} pieces left out: nothing to pair them with."
        ),
        "forms_differ": (
            "No form was cast both ways ({first} forms against {second}), so "
            "differences between forms are part of the answer."
        ),
        "one_day": (
            "All of it was cast on one day: another day may turn out differently."
        ),
        "many_questions": (
            "{settings} settings differ here: where each is asked about, chance alone "
            "finds something in {chance} of 100 logs. Ask about one, and deal it by "
            "lot."
        ),
        # what it would take, and how it was got
        "needed": _needed,
        "next_step": "{step} {reason}",  # by the planner, a floor above
        "no_method": "none: nothing to compare",
        "method": _method,
        "counted": lambda dispersion, rest: (
            f"ratio of voids per area from Poisson regression of the pours' totals, "
            f"dispersion {dispersion:.2f}, interval by t; p from: {note_words(rest)}"
        ),
    }
)
