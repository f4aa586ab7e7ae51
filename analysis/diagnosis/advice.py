"""Causes and cautions as data, ranked for what was found; never a verdict alone."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.checks import one_of
from analysis.model.diagnosis import Cause, Caution

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.diagnosis import NamedPattern, Placement

_FOLDER = Path(__file__).parent
CAUTION_PLACES = ("casting", "vibrating", "lifting", "repair", "form")
COARSE_SHARE = 0.5  # of the void area in voids of 10 mm and more
FINE_SHARE = 0.9  # of the voids under 6 mm
MANY = 30
_SURE = ("likely", "possible")
PROVES_NOTHING = "A pattern is a hint, not proof: two causes can leave the same mark."
LOCAL_FIRST = "Local codes and licensed practice come first."
NOT_STRENGTH = (
    "A photo says nothing about strength. Honeycomb that runs deep or reaches steel is "
    "for an engineer."
)


@cache
def causes() -> tuple[Cause, ...]:
    """Return every cause of the list.

    Examples
    --------
    >>> causes()[0].pattern
    'joint_leak'
    """
    return tuple(Cause(**one) for one in _read("causes")["cause"])


def likely_causes(found: Placement, named: Sequence[NamedPattern]) -> tuple[Cause, ...]:
    """Rank what may lie behind the patterns, the weightiest pattern first.

    Parameters
    ----------
    found : Placement
        Where the voids sit.
    named : sequence of NamedPattern
        What stands out.

    Returns
    -------
    tuple of Cause
        Likely ones of each pattern before possible ones; by the sizes of the voids
        where nothing stands out.
    """
    patterns = list(dict.fromkeys(one.pattern for one in named))
    wanted: list[str] = list(patterns)
    if found.voids and found.coarse_share >= COARSE_SHARE:
        wanted.append("coarse")
    elif found.voids >= MANY and found.fine_share >= FINE_SHARE and not patterns:
        wanted.append("fine")
    at_joint = any(one.pattern == "honeycomb" and one.where for one in named)
    ranked = [
        cause
        for pattern in wanted
        for cause in sorted(
            (one for one in causes() if one.pattern == pattern),
            key=lambda one: _SURE.index(one.sure),
        )
    ]
    if at_joint:  # stones along a seam: the loss of mortar goes first
        ranked.sort(key=lambda one: "joint" not in one.cause)
    return tuple(ranked)


@cache
def cautions(at: str) -> tuple[Caution, ...]:
    """Return the cautions of a kind of work.

    Parameters
    ----------
    at : str
        One of `CAUTION_PLACES`.

    Raises
    ------
    InputError
        No such kind of work.

    Examples
    --------
    >>> cautions("lifting")[0].source
    'NIOSH publication 94-110, load constant; density of 2,400 kg/m³, common practice'
    """
    one_of(at, "Kind of work", CAUTION_PLACES)
    return tuple(
        Caution(**{name: text for name, text in one.items() if name != "at"})
        for one in _read("cautions")["caution"]
        if at in one["at"]
    )


def _read(name: str) -> dict[str, list[dict[str, Any]]]:
    text = (_FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
