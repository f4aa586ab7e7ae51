"""What cannot be told from the compared factor: codes with values, and their words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.level_words import first_large, level_words
from analysis.model.comparison import Alias
from analysis.model.field_words import cell_words, column_words

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

TIME = "cast_on"
SHOWN = 4  # levels named in a sentence


def alias_words(alias: Alias) -> str:
    """Say what was always cast together.

    Examples
    --------
    >>> alias_words(parted("mix", ("tape", "no tape"), ({"C25"}, {"C40"})))
    'All pieces with tape had mix C25 and all with no tape had mix C40, so the two \
cannot be told apart.'
    >>> alias_words(together(("mix", "air_c"), ("tape", "none"))[1])
    'Mix and air temperature together always went with either tape or none, so they \
cannot be told apart.'
    """
    first, second = alias.names
    if alias.kind == "parted":
        had, other = (_listed(alias.factor, side) for side in alias.sides)
        return (
            f"All pieces with {first} had {had} and all with {second} had {other}, so "
            f"the two cannot be told apart."
        )
    if alias.kind == "range":
        (least, _, most), (low, _, high) = alias.spans
        return (
            f"{first_large(column_words(alias.factor))} was {least:g} to {most:g} with "
            f"{first} and {low:g} to {high:g} with {second}, never the same, so the "
            f"two cannot be told apart."
        )
    if alias.kind == "together":
        names = first_large(" and ".join(map(column_words, alias.along)))
        return (
            f"{names} together always went with either {first} or {second}, so they "
            f"cannot be told apart."
        )
    if alias.kind == "nearly":
        return (
            f"{first_large(_named(alias))} went along with {first} against {second} "
            f"nearly always: with it taken out {100 * alias.left:.0f} % of what the "
            f"pours say is left, and that shows no difference."
        )
    before, after = _in_order(alias)
    return (
        f"All of {before} was cast before all of {after}: what else changed meanwhile "
        f"(hands, weather, mix, forms) cannot be told from it."
    )


def cure_words(alias: Alias) -> str:
    """Say the smallest casting that would tell them apart.

    Examples
    --------
    >>> cure_words(in_time(("tape", "none"), "none", "tape"))
    'Cast none again now, best together with tape in one pour.'
    """
    first, second = alias.names
    name = _named(alias)
    if alias.kind == "parted":
        one, other = (cell_words(alias.factor, min(side)) for side in alias.sides)
        return (
            f"To tell them apart, cast {first} where {name} is {other}, or {second} "
            f"where it is {one}; best both in one pour."
        )
    if alias.kind == "range":
        (_, usual, _), (_, usual_of_second, _) = alias.spans
        return (
            f"To tell them apart, cast {first} where {name} is {usual_of_second:g}, or "
            f"{second} where it is {usual:g}."
        )
    if alias.kind == "together":
        return f"Cast {first} and {second} in one pour, all else the same."
    if alias.kind == "nearly":
        if alias.factor == TIME:
            return f"Cast {first} and {second} in turn, best in one pour."
        return f"Cast both {first} and {second} in one pour with {name} alike."
    before, after = _in_order(alias)
    return f"Cast {before} again now, best together with {after} in one pour."


def _named(alias: Alias) -> str:
    return "drift over time" if alias.factor == TIME else column_words(alias.factor)


def _in_order(alias: Alias) -> tuple[str, str]:
    """Return the level cast first and the one cast later."""
    first, second = alias.names
    return (first, second) if alias.kind == "before" else (second, first)


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
    factor: str, names: tuple[str, str], sides: tuple[Collection[str], Collection[str]]
) -> Alias:
    """Return that no level of a factor met both levels.

    Examples
    --------
    >>> parted("mix", ("tape", "no tape"), ({"C25"}, {"C40"})).sides
    (('C25',), ('C40',))
    """
    first, second = (tuple(sorted(side)) for side in sides)
    return Alias(factor=factor, names=names, sides=(first, second))


def in_range(
    factor: str,
    names: tuple[str, str],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
) -> Alias:
    """Return that the values of a quantity did not overlap.

    Examples
    --------
    >>> found = in_range("air_c", ("tape", "none"), np.array([9.0]), np.array([20.0]))
    >>> alias_words(found).split(",")[0]
    'Air temperature was 9 to 9 with tape and 20 to 20 with none'
    """
    spans = tuple(
        (float(side.min()), float(np.median(side)), float(side.max()))
        for side in (first, second)
    )
    return Alias(factor=factor, names=names, kind="range", spans=spans)


def together(factors: Sequence[str], names: tuple[str, str]) -> tuple[Alias, ...]:
    """Return that several factors together settle the level.

    Examples
    --------
    >>> [one.factor for one in together(("mix", "air_c"), ("tape", "none"))]
    ['mix', 'air_c']
    """
    along = tuple(factors)
    return tuple(
        Alias(factor=factor, names=names, kind="together", along=along)
        for factor in factors
    )


def in_time(names: tuple[str, str], before: str, after: str) -> Alias:
    """Return that one level was all cast before the other.

    Examples
    --------
    >>> in_time(("tape", "none"), "none", "tape").kind
    'after'
    """
    ordered = (before, after) == names
    return Alias(factor=TIME, names=names, kind="before" if ordered else "after")


def nearly(factor: str, names: tuple[str, str], left: float) -> Alias:
    """Return a setting that went along so often that too little is left without it.

    Examples
    --------
    >>> alias_words(nearly("oil", ("tape", "none"), 0.2)).split(":")[0]
    'Oil went along with tape against none nearly always'
    """
    return Alias(factor=factor, names=names, kind="nearly", left=left)
