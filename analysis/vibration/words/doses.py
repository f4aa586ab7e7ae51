"""How seconds, strokes and passes are spoken of."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.model.vibration import DOSE_COLUMNS, Dose
from analysis.vocabulary import HAND_METHODS, THEN

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.vibration import Decision


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseWords:
    """The words for one way of counting.

    Attributes
    ----------
    amounts : str
        What is counted: 'seconds'.
    number, numbers : str
        One amount, several: 'time', 'times'.
    now : str
        The amount in use: 'the time'.
    as_is : str
        'as it is'.
    longer, shorter : str
        Held against another amount.
    alike : str
        'for the same seconds'.
    by : str
        How to keep to it.
    heads : mapping
        A decision in two or three words.
    """

    amounts: Dose
    number: str
    numbers: str
    now: str
    as_is: str
    longer: str
    shorter: str
    alike: str
    by: str
    heads: Mapping[Decision, str]


_ANY_DOSE: dict[Decision, str] = {
    "other_cause_first": "Something else first",
    "not_enough_evidence": "Not enough evidence yet",
}


def _counted(dose: Dose, more: str, same: str, less: str) -> DoseWords:
    return DoseWords(
        amounts=dose,
        number=f"number of {dose}",
        numbers=f"numbers of {dose}",
        now=f"the {dose}",
        as_is="as they are",
        longer="more",
        shorter="fewer",
        alike=f"with the same {dose}",
        by="Count aloud",
        heads=MappingProxyType({"more": more, "same": same, "less": less, **_ANY_DOSE}),
    )


WORDS: Mapping[Dose, DoseWords] = MappingProxyType(
    {
        "seconds": DoseWords(
            amounts="seconds",
            number="time",
            numbers="times",
            now="the time",
            as_is="as it is",
            longer="longer",
            shorter="shorter",
            alike="for the same seconds",
            by="Time it by a watch",
            heads=MappingProxyType(
                {
                    "more": "Vibrate longer",
                    "same": "Keep the time",
                    "less": "Vibrate for less time",
                    **_ANY_DOSE,
                }
            ),
        ),
        "strokes": _counted(
            "strokes",
            "Rod with more strokes",
            "Keep the strokes",
            "Rod with fewer strokes",
        ),
        "passes": _counted(
            "passes", "Make more passes", "Keep the passes", "Make fewer passes"
        ),
    }
)
ONE = {"strokes": "stroke", "passes": "pass"}


def amount(value: float, dose: str) -> str:
    """Write an amount with what is counted.

    Examples
    --------
    >>> amount(45.0, "seconds"), amount(25.0, "strokes"), amount(1.0, "passes")
    ('45 s', '25 strokes', '1 pass')
    """
    if dose == "seconds":
        return seconds(value)
    return f"{value:.4g} {ONE[dose] if value == 1 else dose}"


def seconds(value: float) -> str:
    """Write seconds as on a watch.

    Examples
    --------
    >>> seconds(45.0), seconds(7.5), seconds(150.0)
    ('45 s', '7.5 s', '150 s')
    """
    return f"{value:.4g} s"


def level_of(by: str, level: str, dose: Dose) -> str:
    """Name what a piece of a trial gets: an amount, or the level of a setting.

    Examples
    --------
    >>> level_of("vibration_s", "45", "seconds"), level_of("mix", "C25", "seconds")
    ('45 s', 'C25')
    """
    return amount(float(level), dose) if by in DOSE_COLUMNS.values() else level


def by_hand(method: str) -> bool:
    """Tell whether a method counts strokes rather than seconds.

    Examples
    --------
    >>> by_hand("Rodding"), by_hand("table"), by_hand("rodding then table")
    (True, False, False)
    """
    return all(step.strip() in HAND_METHODS for step in method.casefold().split(THEN))
