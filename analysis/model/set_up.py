"""How a photo was taken, as far as the photo itself tells."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """How a photo was taken, as far as it tells.

    Attributes
    ----------
    shown_width_mm : float or None
        Width that the whole photo shows, so that two sizes of one camera are alike;
        None without a scale.
    brightness : float
        Median light of the face, 0..1, linear.
    light_deg : float or None
        Side the light comes from, anticlockwise from the right; None where the face
        is lit evenly.
    """

    shown_width_mm: float | None
    brightness: float
    light_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldSetUp:
    """What a photo's set-up differs in from an earlier one.

    Attributes
    ----------
    kept : bool
        It was held against what is kept with the form's face; else against the face's
        last photo.
    differs : tuple of str
        What differs, in words; empty where it is the same.
    """

    kept: bool
    differs: tuple[str, ...]
