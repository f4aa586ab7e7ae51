"""A judgement in words, alike on every screen and sheet."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from analysis.grading.counts import MM2_PER_M2
from analysis.grading.grade import LEAST_CHANCE
from analysis.model.grading import QUANTITIES
from analysis.model.notes import say
from analysis.model.sizes import rounded

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.model.grading import Criterion, JudgedValue, Judgement

TAG_WORDS = MappingProxyType(
    {
        "confirmed": "limits confirmed by the source",
        "one_source": "one copy seen: check against the document",
        "from_memory": "from memory: check against the document",
        "own": "the workshop's own target",
    }
)
BY_EYE = "Shown, not judged: this is for the eye."
_CERTAIN = 0.995
_MM2_PER_CM2 = 100.0


def grade_sentence(judgement: Judgement) -> str:
    """Say the grade in one or two sentences.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> from analysis.grading.grade import judge
    >>> grade_sentence(judge(criterion("aci_301_voids"), ()))
    'Not judged: no ordinary part was measured.'
    """
    if not judgement.criterion.classes:
        return BY_EYE
    if not judgement.grade:
        why = undecided_words(judgement) or _missing(judgement)
        return f"Not judged: {why}."
    told = f"{judgement.grade}.{_chances(judgement)}"
    if judgement.undecided:
        why = undecided_words(judgement)
        told = f"A photo cannot decide this: {why}. As far as it goes: {told}"
    if judgement.other is None:
        return told
    other = judgement.other
    return f"{told} {other.criterion.title}: {grade_sentence(other)}"


def undecided_words(judgement: Judgement) -> str:
    """Say why a photo cannot decide; empty where it can.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> from analysis.grading.grade import judge
    >>> undecided_words(judge(criterion("aci_301_voids"), ()))
    'no ordinary part was measured'
    """
    return "; ".join(say(one, DOUBT_WORDS) for one in judgement.undecided)


def _too_few_areas(enough: int, areas: int, asked_mm2: float) -> str:
    size = rounded(asked_mm2 / MM2_PER_M2, 2)
    return (
        f"{enough} of the {areas} areas of {size} m² it asks for "
        f"{'was' if enough == 1 else 'were'} measured"
    )


def _too_small(measured_mm2: float, asked_mm2: float) -> str:
    return (
        f"{rounded(measured_mm2 / MM2_PER_M2, 2)} m² was measured and "
        f"{rounded(asked_mm2 / MM2_PER_M2, 2)} m² is asked for"
    )


def _honeycomb_not_seen(largest_mm2: float) -> str:
    about = rounded(largest_mm2 / _MM2_PER_CM2, 2)
    size = f" of about {about} cm²" if largest_mm2 else ""
    return (
        f"there is a rough patch{size}: look whether it is honeycomb, and if so note "
        "it among the marks seen"
    )


DOUBT_WORDS: Final[Mapping[str, str | Callable[..., str]]] = MappingProxyType(
    {
        "not_measured": "no ordinary part was measured",
        "no_scale": "the photo has no scale",
        "too_few_areas": _too_few_areas,
        "too_small": _too_small,
        "too_coarse": (
            "voids are counted from {counted_mm:.2g} mm and the limits from "
            "{limits_mm:g} mm"
        ),
        "finish_hides": "a photo cannot tell voids from this finish",
        "later_stage": (
            "it judges the piece as struck, and the photo is of a later stage"
        ),
        "honeycomb_not_shown": "you saw honeycomb, and no photo shows how large it is",
        "honeycomb_not_seen": _honeycomb_not_seen,
    }
)


def grade_lines(judgement: Judgement) -> tuple[str, ...]:
    """Say what was judged, what was not, and how the areas spread.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> from analysis.grading.grade import judge
    >>> from analysis.model.grading import ByHand
    >>> leak = ByHand(figures={"leak_width_mm": 12.0})
    >>> grade_lines(judge(criterion("oenorm_b2211_joints"), (), leak))[0]
    'Width of the joint leak: 12 mm.'
    """
    found = [f"{_upper(_value_words(one))}." for one in judgement.values]
    if judgement.not_judged:
        found.append(f"Not judged: {_missing(judgement)}.")
    if judgement.areas:
        found.append(_spread(judgement))
    return tuple(found)


def criterion_lines(criterion: Criterion) -> tuple[str, ...]:
    """Say what a criterion counts, where it comes from and how sure its limits are.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> criterion_lines(criterion("gost_13015"))[0]
    'GOST 13015, surface categories (2003 and 2012). From memory: check against the \
document.'
    """
    head = f"{criterion.title} ({criterion.edition}). {_upper(tag_words(criterion))}."
    clause = f"{criterion.clause}; " if criterion.clause else ""
    found = [head, criterion.counts]
    if criterion.classes:
        found.append(f"Limits: {_limits(criterion)}.")
    if criterion.note:
        found.append(criterion.note)
    found.append(f"Source: {clause}{criterion.source}.")
    if criterion.other_text is not None:
        found += criterion_lines(criterion.other_text)
    return tuple(found)


def tag_words(criterion: Criterion) -> str:
    """Say how sure the limits are.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> tag_words(criterion("gost_13015"))
    'from memory: check against the document'
    >>> tag_words(criterion("dbv_porosity")).partition("; ")[2]
    'P1: limits confirmed by the source'
    """
    found = [TAG_WORDS[criterion.tag]]
    if criterion.tag == "confirmed" and not criterion.classes:
        found = ["read in two copies"]
    found += [
        f"{one.name}: {TAG_WORDS[one.tag]}" for one in criterion.classes if one.tag
    ]
    return "; ".join(found)


def _chances(judgement: Judgement) -> str:
    named = [one for one in judgement.chances if one[1] >= LEAST_CHANCE]
    if len(named) < 2:  # noqa: PLR2004  one class needs no chance
        only = named[0][1] if named else 1.0
        return "" if only >= _CERTAIN else f" Chance {_percent(only)}."
    told = ", ".join(f"{name} {_percent(chance)}" for name, chance in named)
    return f" Chances: {told}."


def _percent(chance: float) -> str:
    return f"{min(99, max(1, round(100 * chance)))} %"


def _missing(judgement: Judgement) -> str:
    return ", ".join(QUANTITIES[name][0] for name in judgement.not_judged)


def _value_words(one: JudgedValue) -> str:
    words, unit = QUANTITIES[one.quantity]
    part = 100.0 if unit == "%" else 1.0
    value, low, high = (
        rounded(figure * part, 3) for figure in (one.value, one.low, one.high)
    )
    told = f"{words}: {value} {unit}"
    if low != high:
        told += f" (95 %: {low} to {high} {unit})"
    if one.counted is not None:
        told += f", {one.counted} counted"
    return told


def _limits(criterion: Criterion) -> str:
    found = []
    for one in criterion.classes:
        parts = [
            f"{QUANTITIES[name][0]} {sign} {_limit(name, limit)}"
            for limits, sign in (
                (one.at_least, "from"),
                (one.at_most, "up to"),
                (one.below, "under"),
            )
            for name, limit in limits.items()
        ]
        found.append(f"{one.name}: {', '.join(parts) or 'none set'}")
    return "; ".join(found)


def _limit(name: str, limit: float) -> str:
    unit = QUANTITIES[name][1]
    return f"{limit * (100.0 if unit == '%' else 1.0):.5g} {unit}"


def _spread(judgement: Judgement) -> str:
    shares = [share for _, _, share in judgement.areas if share is not None]
    grades = dict.fromkeys(grade for _, grade, _ in judgement.areas)
    told = f"{len(judgement.areas)} areas, each by itself: {', '.join(grades)}"
    if shares:
        told += f"; {100 * min(shares):.2g} to {100 * max(shares):.2g} % void area"
    return f"{told}."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
