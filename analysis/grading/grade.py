"""Judge a piece by a criterion: the class, or the classes it may be, with chances."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.grading.evidence import counted, doubts, draws_of
from analysis.model.grading import (
    BY_HAND,
    SIZES_MM,
    ByHand,
    Criterion,
    GradeClass,
    JudgedArea,
    JudgedValue,
    Judgement,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

TO_MEASURE = "depth to be measured"
# A class less likely than this is not named.
LEAST_CHANCE = 0.025
_NOTHING = ByHand()


def class_of(criterion: Criterion, figures: Mapping[str, float]) -> str:
    """Return the class of exact figures; those not given are not judged.

    Parameters
    ----------
    criterion : Criterion
        The limits.
    figures : mapping of str to float
        By quantity; shares are 0..1.

    Returns
    -------
    str
        A class, several parted by ``/`` where what is not given would part them, or
        what is beyond all.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> class_of(criterion("oenorm_b2211_pores"), {"void_share": 0.003})
    'P'
    >>> class_of(criterion("oenorm_b2211_pores"), {"void_share": 0.0031})
    '2P'
    """
    draws = {name: np.array([value]) for name, value in figures.items()}
    return str(_names(criterion, draws)[0])


def judge(
    criterion: Criterion,
    areas: tuple[JudgedArea, ...],
    by_hand: ByHand = _NOTHING,
) -> Judgement:
    """Judge the measured areas of one piece.

    Parameters
    ----------
    criterion : Criterion
        Published, or from `own_criterion`.
    areas : tuple of JudgedArea
        Representative readings of the piece, none twice.
    by_hand : ByHand
        Figures measured on the piece.

    Returns
    -------
    Judgement
        Grade, chances and what stands against it. A criterion without classes has
        neither: its figures are shown.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> leak = ByHand(figures={"leak_width_mm": 2.0, "step_mm": 1.0, "fin_mm": 0.0})
    >>> judge(criterion("oenorm_b2211_joints"), (), leak).grade
    'S3'
    """
    every, estimates = draws_of(criterion, areas, by_hand)
    draws = {name: one for name, one in every.items() if name in criterion.limited}
    unknown = criterion.limited - set(draws)
    names = _names(criterion, draws) if draws else np.array([], dtype=str)
    chances = _chances(criterion, names)
    likely = [name for name, chance in chances if chance >= LEAST_CHANCE]
    hand = set(BY_HAND)
    hand_only = criterion.limited <= hand | {"honeycomb_patch_mm2"}
    from_photos = set(draws) - set(by_hand.figures)
    against = doubts(criterion, areas, by_hand)
    if hand_only and not from_photos:
        against = ()
    if hand_only and criterion.classes and not hand & set(draws):
        against, chances, likely = (), (), []
    grade = " or ".join(likely)
    return Judgement(
        criterion=criterion,
        grade=grade,
        chances=chances,
        values=tuple(
            _value(name, value, every[name], areas) for name, value in estimates.items()
        ),
        undecided=against,
        not_judged=tuple(sorted(unknown)),
        areas=_each(criterion, areas, by_hand) if len(areas) > 1 else (),
        other=_by_other_text(criterion, areas, by_hand, grade),
    )


def _by_other_text(
    criterion: Criterion,
    areas: tuple[JudgedArea, ...],
    by_hand: ByHand,
    grade: str,
) -> Judgement | None:
    """Judge by the document's other text; None where it says the same."""
    if criterion.other_text is None or not grade:
        return None
    other = judge(criterion.other_text, areas, by_hand)
    both = {one.name for one in criterion.classes} & {
        one.name for one in criterion.other_text.classes
    }

    def told(names: str) -> set[str]:
        """Keep the classes both texts have; what only one has is one and the same."""
        return {name if name in both else "" for name in names.split(" or ")}

    return None if told(other.grade) == told(grade) else other


def _each(
    criterion: Criterion, areas: tuple[JudgedArea, ...], by_hand: ByHand
) -> tuple[tuple[str, str, float | None], ...]:
    """Judge each area by itself, to show their spread."""
    # The test area is asked of all together; each is judged as far as it goes.
    alone = replace(criterion, test_area_mm2=None, other_text=None)
    found = []
    for area in areas:
        one = judge(alone, (area,), by_hand)
        shares = [item.value for item in one.values if item.quantity == "void_share"]
        found.append((area.name, one.grade, shares[0] if shares else None))
    return tuple(found)


def _names(
    criterion: Criterion, draws: Mapping[str, NDArray[np.float64]]
) -> NDArray[np.str_]:
    """Name the class of each draw."""
    count = len(next(iter(draws.values()))) if draws else 1
    labels = _labels(criterion, frozenset(draws))
    chosen = np.full(count, criterion.beyond, dtype=object)
    open_still = np.ones(count, dtype=bool)
    for one in criterion.classes:
        inside, unknown = _inside(one, draws, count)
        # Best class first: a draw is settled by the first class whose limits it keeps,
        # or where that cannot be told.
        chosen[open_still & inside] = labels[one.name]
        undecided = open_still & ~inside & unknown
        chosen[undecided] = TO_MEASURE
        open_still &= ~inside & ~unknown
    return chosen.astype(str)


def _inside(
    one: GradeClass, draws: Mapping[str, NDArray[np.float64]], count: int
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell which draws keep all limits, and which cannot be told."""
    inside, unknown = np.ones(count, dtype=bool), np.zeros(count, dtype=bool)
    fails = np.zeros(count, dtype=bool)
    for limits, keeps in (
        (one.at_most, np.less_equal),
        (one.at_least, np.greater_equal),
        (one.below, np.less),
    ):
        for name, limit in limits.items():
            if name in draws:
                kept = keeps(draws[name], limit)
                blank = np.isnan(draws[name])
                inside &= kept
                unknown |= blank
                fails |= ~kept & ~blank
    return inside, unknown & ~fails


def _labels(criterion: Criterion, known: frozenset[str]) -> dict[str, str]:
    """Join the names of classes that only what is not known would part."""
    groups: dict[tuple[object, ...], list[str]] = {}
    keys: dict[str, tuple[object, ...]] = {}
    for one in criterion.classes:
        key = tuple(
            tuple(sorted((n, v) for n, v in limits.items() if n in known))
            for limits in (one.at_most, one.at_least, one.below)
        )
        keys[one.name] = key
        groups.setdefault(key, []).append(one.name)
    return {name: "/".join(groups[key]) for name, key in keys.items()}


def _chances(
    criterion: Criterion, names: NDArray[np.str_]
) -> tuple[tuple[str, float], ...]:
    if not names.size:
        return ()
    found, counts = np.unique(names, return_counts=True)
    share = dict(zip(found.tolist(), (counts / names.size).tolist(), strict=True))
    order = [one.name for one in criterion.classes]

    def place(label: str) -> int:
        first = label.split("/", maxsplit=1)[0]
        return order.index(first) if first in order else len(order)

    return tuple((name, share[name]) for name in sorted(share, key=place))


def _value(
    name: str,
    value: float,
    draws: NDArray[np.float64],
    areas: tuple[JudgedArea, ...],
) -> JudgedValue:
    known = draws[~np.isnan(draws)]
    low, high = np.quantile(known, (0.025, 0.975)) if known.size else (value, value)
    number = None
    if name in SIZES_MM:
        number = counted(name, [area.reading for area in areas])
    return JudgedValue(
        quantity=name, value=value, low=float(low), high=float(high), counted=number
    )
