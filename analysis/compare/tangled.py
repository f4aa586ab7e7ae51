"""What cannot be told from the compared factor: codes with values, and their words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.answer import first_large, level_words
from analysis.model.comparison import Alias
from analysis.model.field_words import cell_words, column_words

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

TIME = "cast_on"
SHOWN = 4  # levels named in a sentence


def _listed(factor: str, levels: Collection[str]) -> str:
    """Name a factor's levels as they stand in a sentence."""
    shown = sorted(levels)
    if len(shown) == 1:
        return level_words(factor, shown[0])
    listed = ", ".join(cell_words(factor, level) for level in shown[:SHOWN])
    return f"{column_words(factor)} {listed}" + (
        " and others" if len(shown) > SHOWN else ""
    )


def parted(
    factor: str, levels: tuple[str, str], sides: tuple[Collection[str], Collection[str]]
) -> Alias:
    """Say that no level of a factor met both levels.

    Examples
    --------
    >>> parted("mix", ("tape", "no tape"), ({"C25"}, {"C40"})).words
    'All pieces with tape had mix C25 and all with no tape had mix C40, so the two \
cannot be told apart.'
    """
    first, second = (_listed(factor, side) for side in sides)
    one, other = (cell_words(factor, min(side)) for side in sides)
    name = column_words(factor)
    return Alias(
        factor=factor,
        words=(
            f"All pieces with {levels[0]} had {first} and all with {levels[1]} had "
            f"{second}, so the two cannot be told apart."
        ),
        cure=(
            f"To tell them apart, cast {levels[0]} where {name} is {other}, or "
            f"{levels[1]} where it is {one}; best both in one pour."
        ),
        sides=(tuple(sorted(sides[0])), tuple(sorted(sides[1]))),
    )


def in_range(
    factor: str,
    levels: tuple[str, str],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
) -> Alias:
    """Say that the values of a quantity did not overlap.

    Examples
    --------
    >>> found = in_range("air_c", ("tape", "none"), np.array([9.0]), np.array([20.0]))
    >>> found.words.split(",")[0]
    'Air temperature was 9 to 9 with tape and 20 to 20 with none'
    """
    name = column_words(factor)
    return Alias(
        factor=factor,
        words=(
            f"{first_large(name)} was {first.min():g} to {first.max():g} with "
            f"{levels[0]} and {second.min():g} to {second.max():g} with {levels[1]}, "
            f"never the same, so the two cannot be told apart."
        ),
        cure=(
            f"To tell them apart, cast {levels[0]} where {name} is "
            f"{np.median(second):g}, or {levels[1]} where it is {np.median(first):g}."
        ),
        kind="range",
    )


def together(factors: Sequence[str], levels: tuple[str, str]) -> tuple[Alias, ...]:
    """Say that several factors together settle the level.

    Examples
    --------
    >>> together(("mix", "air_c"), ("tape", "none"))[1].words
    'Mix and air temperature together always went with either tape or none, so they \
cannot be told apart.'
    """
    names = first_large(" and ".join(map(column_words, factors)))
    return tuple(
        Alias(
            factor=factor,
            words=(
                f"{names} together always went with either {levels[0]} or "
                f"{levels[1]}, so they cannot be told apart."
            ),
            cure=f"Cast {levels[0]} and {levels[1]} in one pour, all else the same.",
            kind="together",
        )
        for factor in factors
    )


def in_time(levels: tuple[str, str], before: str, after: str) -> Alias:
    """Say that one level was all cast before the other.

    Examples
    --------
    >>> in_time(("tape", "none"), "none", "tape").kind
    'after'
    """
    return Alias(
        factor=TIME,
        words=(
            f"All of {before} was cast before all of {after}: what else changed "
            f"meanwhile (hands, weather, mix, forms) cannot be told from it."
        ),
        cure=f"Cast {before} again now, best together with {after} in one pour.",
        kind="before" if before == levels[0] else "after",
    )


def nearly(factor: str, levels: tuple[str, str], kept: float) -> Alias:
    """Name a setting that went along so often that too little is left without it.

    Examples
    --------
    >>> nearly("oil", ("tape", "none"), 0.2).words.split(":")[0]
    'Oil went along with tape against none nearly always'
    """
    name = "drift over time" if factor == TIME else column_words(factor)
    return Alias(
        factor=factor,
        words=(
            f"{first_large(name)} went along with {levels[0]} against {levels[1]} "
            f"nearly always: with it taken out {100 * kept:.0f} % of what the pours "
            f"say is left, and that shows no difference."
        ),
        cure=(
            f"Cast both {levels[0]} and {levels[1]} in one pour with {name} alike."
            if factor != TIME
            else f"Cast {levels[0]} and {levels[1]} in turn, best in one pour."
        ),
        kind="nearly",
    )
