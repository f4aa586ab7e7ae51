"""From regions with their figures to the catalogue of a reading."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.reading import (
    BUGHOLE_FROM_MM,
    LARGE_VOID_FROM_MM,
    VoidCatalog,
)
from analysis.voids.rejection import WORDS
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from analysis.flags import Flag
    from analysis.voids.candidates import Candidates
    from analysis.voids.features import Features
    from analysis.voids.shapes import Shapes


def size_kinds(diameter_mm: NDArray[np.float64]) -> NDArray[np.str_]:
    """Name voids by their equivalent diameter; without a scale (NaN) all are bugholes.

    Examples
    --------
    >>> size_kinds(np.array([1.0, 2.0, 15.0, np.nan])).tolist()
    ['pinhole', 'bughole', 'large_void', 'bughole']
    """
    kind = np.full(len(diameter_mm), "bughole", dtype="<U12")
    kind[diameter_mm < BUGHOLE_FROM_MM] = "pinhole"
    kind[diameter_mm >= LARGE_VOID_FROM_MM] = "large_void"
    return kind


def void_flags(
    told: dict[Flag, NDArray[np.bool_]],
) -> tuple[frozenset[Flag], ...]:
    """Gather the flags that hold, void by void.

    Examples
    --------
    >>> from analysis.flags import Flag
    >>> [len(flags) for flags in void_flags({Flag.SHALLOW: np.array([True, False])})]
    [1, 0]
    """
    count = min(map(len, told.values()))
    return tuple(
        frozenset(flag for flag, holds in told.items() if holds[at])
        for at in range(count)
    )


# Reasons that have words, and no kind of their own in the log.
_UNNAMED = ("edge", "unsure", "sand", "arris")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Listing:
    """All that a catalogue is made of, one figure a region.

    Attributes
    ----------
    regions : Candidates
    shapes : Shapes
    features : Features
    kind : ndarray of str, (n,)
    flags : tuple of frozenset of Flag
    lines : tuple of ndarray
        Outlines, (row, col).
    words : mapping
        Why a kind is turned down, where it is told otherwise than for one photo.
    """

    regions: Candidates
    shapes: Shapes
    features: Features
    kind: NDArray[np.str_]
    flags: tuple[frozenset[Flag], ...]
    lines: tuple[NDArray[np.float64], ...]
    words: Mapping[str, str] = field(default_factory=lambda: WORDS)

    def of(self, chosen: NDArray[np.bool_]) -> VoidCatalog:
        """List some of the regions."""
        at = np.flatnonzero(chosen)
        kind, area = self.kind[at], self.regions.area_px[at]
        features, shapes = self.features, self.shapes
        return VoidCatalog(
            row_px=shapes.row_px[at],
            col_px=shapes.col_px[at],
            area_px=area,
            area_sd_px=area_sd(area, self.regions.step[at]),
            feret_max_px=shapes.feret_max_px[at],
            kind=np.where(np.isin(kind, _UNNAMED), "other", kind),
            reason=tuple(self.words.get(str(word), "") for word in kind),
            contrast=features.contrast[at],
            rim_sharpness=features.rim_sharpness[at],
            shading=features.shading[at],
            colour_shift=features.colour_shift[at],
            elongation=shapes.elongation[at],
            solidity=shapes.solidity[at],
            flags=tuple(self.flags[i] for i in at),
            outline_px=tuple(self.lines[i] for i in at),
        )


def area_sd(
    area: NDArray[np.float64], step: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Perimeter of a disc of that area times how far its boundary may be off.

    Examples
    --------
    >>> area_sd(np.array([np.pi * 100]), np.array([1.0])).round(2)
    array([12.57])
    """
    rim = np.sqrt(4 * np.pi * area)
    off: NDArray[np.float64] = rim * SETTINGS.interval.boundary_sd_px * step
    return off
