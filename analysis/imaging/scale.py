"""Millimetres per pixel, and how sure."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.checks import number, points
from analysis.errors import ScaleError
from analysis.model.photo import Scale
from analysis.model.view import LARGEST_UNCERTAINTY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

# A tap or click on a ruler mark is good to about this (own trial on drawn rulers).
CLICK_SD_PX = 1.5
# A finger on a phone, in px of the display: what was off by 1.8 % over 1000 px of a
# photo shown at a fifth of its size (own trial; both ends alike).
TAP_SD_DISPLAY_PX = 2.5
# A typed figure is taken as rounded to about one part in a hundred.
TYPED_RELATIVE_SD = 0.01
_LARGEST_MM_PER_PX = 100.0
# A microscope's, and more pixels than any void: most often metres given for mm.
_SMALLEST_MM_PER_PX = 1e-4
_NEAREST_PX = 20.0


def scale_from_points(
    ends_px: ArrayLike, distance_mm: float, *, zooms: Sequence[float] = ()
) -> Scale:
    """Scale from two marked points a known distance apart.

    Parameters
    ----------
    ends_px : array_like of float, (2, 2)
        The two points, (row, col), in px of the upright photo.
    distance_mm : float
        Their distance, more than 0, in mm.
    zooms : sequence of float
        Display px per photo px at which each end was tapped: a tap is as good as the
        photo was large. Without them the ends were typed, or marked at full size.

    Returns
    -------
    Scale
        With the uncertainty of two clicks.

    Raises
    ------
    ScaleError
        Points too close together to carry a scale, or an impossible distance.

    Examples
    --------
    >>> scale_from_points([[0, 0], [0, 500]], 100.0).mm_per_px
    0.2
    """
    ends = points(ends_px, "Scale", least=2, error=ScaleError)
    if len(ends) > 2:  # noqa: PLR2004  two ends
        msg = f"Scale needs exactly two points, {len(ends)} were given: mark two."
        raise ScaleError(msg)
    distance = number(
        distance_mm, "Distance", above=0, high=100_000, unit="mm", error=ScaleError
    )
    length_px = math.dist(ends[0], ends[1])
    if not length_px >= _NEAREST_PX:
        msg = (
            f"The two points are {length_px:.0f} px apart, at least "
            f"{_NEAREST_PX:.0f} are needed: mark two points farther apart."
        )
        raise ScaleError(msg)
    taps_px = [TAP_SD_DISPLAY_PX / number(one, "Zoom", above=0) for one in zooms]
    # Fewer zooms than ends: the rest count as typed.
    taps_px += [0.0] * (2 - len(taps_px))
    errors = [math.hypot(CLICK_SD_PX, tap_px) for tap_px in taps_px]
    relative = math.hypot(*errors) / length_px
    return Scale(
        mm_per_px=_plausible(distance / length_px),
        relative_uncertainty=min(relative, 0.5),
        method="two_points",
    )


def scale_typed(mm_per_px: float) -> Scale:
    """Scale typed as millimetres per pixel.

    Raises
    ------
    ScaleError
        Not finite, more than 100 or less than 0.0001 mm per px.

    Examples
    --------
    >>> scale_typed(0.25).method
    'typed'
    """
    given = number(mm_per_px, "Scale", above=0, unit="mm per px", error=ScaleError)
    return Scale(
        mm_per_px=_plausible(given),
        relative_uncertainty=TYPED_RELATIVE_SD,
        method="typed",
    )


def less_sure(scale: Scale, doubt: float) -> Scale:
    """Return a scale with one more independent doubt, as a share.

    Examples
    --------
    >>> sure = Scale(mm_per_px=0.2, relative_uncertainty=0.03, method="typed")
    >>> round(less_sure(sure, 0.04).relative_uncertainty, 6)
    0.05
    """
    both = math.hypot(scale.relative_uncertainty, doubt)
    return replace(scale, relative_uncertainty=min(both, LARGEST_UNCERTAINTY))


def _plausible(mm_per_px: float) -> float:
    if mm_per_px > _LARGEST_MM_PER_PX:
        msg = (
            f"A scale of {mm_per_px:g} mm per px is too coarse for any void: "
            "check the distance and its unit."
        )
        raise ScaleError(msg)
    if mm_per_px < _SMALLEST_MM_PER_PX:
        msg = (
            f"A scale of {mm_per_px:g} mm per px is finer than any lens: "
            "check the distance and its unit."
        )
        raise ScaleError(msg)
    return mm_per_px
