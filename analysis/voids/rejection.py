"""Which spots are not voids, and why, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.evidence import Evidence
    from analysis.voids.shapes import Shapes

# Longer than this for its width, a spot is a line. Pits seen at a grazing angle
# reach 4.6 on real faces.
LINE_THINNESS = 5.5
_STRAIGHT_SOLIDITY = 0.8
_BROADER_PX, _LEAST_CONTRAST = (25.0, 70.0), (0.28, 0.38)
# Tinted more than the face's own deep pits are, and hardly darker.
_TINTED, _TINTED_CONTRAST, _DEEP = 0.008, 0.15, 0.55
_RAGGED_SOLIDITY, _FAINT_CONTRAST = 0.75, 0.42
_WINDING_THINNESS, _WINDING_PX, _CRACK_SHARPNESS = 4.0, 18.0, 0.8
_SOFTEST_FAINT, _SOFTER_BY_DEPTH, _FAINT = 1.25, 2.5, 0.3
WORDS = {
    "crack": "long and thin: crack",
    "joint_or_fin": "long and straight: joint, fin or scratch",
    "stain": "soft edge: stain or damp",
    "grain": "flat, sharp and of another colour: grain",
    "bloom": "edge of a white bloom",
    "other": "too faint and ragged to be sure",
    "edge": "large and running out of the face: shadow",
}


def rejected_kinds(
    evidence: Evidence,
    shapes: Shapes,
    on_line: NDArray[np.bool_],
    in_patch: NDArray[np.bool_],
) -> NDArray[np.str_]:
    """Name why each spot is turned down.

    Parameters
    ----------
    evidence : Evidence
    shapes : Shapes
        Of the same spots.
    on_line : ndarray of bool, (n,)
        Pieces of a long thin mark.
    in_patch : ndarray of bool, (n,)
        Spots in honeycomb, where voids run together into long shapes.

    Returns
    -------
    ndarray of str, (n,)
        One of the rejected kinds, or empty for a void.
    """
    kind = np.full(len(evidence.contrast), "", dtype="<U12")
    # Broad spots that stay faint, or tinted ones that are hardly darker, are marks
    # on the surface: a pit that broad has shadow in it.
    least = np.interp(shapes.pixel_count, _BROADER_PX, _LEAST_CONTRAST)
    deep = evidence.contrast > _DEEP
    usual = float(np.median(evidence.colour_shift[deep])) if deep.any() else 0.0
    tinted = (evidence.colour_shift > usual + _TINTED) & (
        evidence.contrast < least + _TINTED_CONTRAST
    )
    kind[tinted | (evidence.contrast < least)] = "stain"
    ragged = shapes.solidity < _RAGGED_SOLIDITY
    kind[ragged & (evidence.contrast < _FAINT_CONTRAST)] = "other"
    winding = (
        ragged
        & (evidence.thinness > _WINDING_THINNESS)
        & (shapes.feret_max_px > _WINDING_PX)
        & (evidence.rim_sharpness > _CRACK_SHARPNESS)
    )
    line = (evidence.thinness > LINE_THINNESS) | winding | on_line
    line &= ~in_patch
    straight = shapes.solidity > _STRAIGHT_SOLIDITY
    # A deep spot may have a soft edge; a faint one must be sharp to count.
    softest = _SOFTEST_FAINT + _SOFTER_BY_DEPTH * np.clip(
        evidence.contrast - _FAINT, 0.0, 0.5
    )
    kind[evidence.rim_sharpness < 1.0 / softest] = "stain"
    kind[line & ~straight] = "crack"
    kind[line & straight] = "joint_or_fin"
    return kind
