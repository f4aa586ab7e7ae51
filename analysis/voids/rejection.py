"""Which candidates are not voids, and why, in words."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.shapes import plump

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.completion import Completed
    from analysis.voids.features import Features
    from analysis.voids.shapes import Shapes

# Longer than this for its width, a candidate is a line. Pits seen at a grazing angle
# reach 4.6 on real faces.
LINE_THINNESS = 5.5
_STRAIGHT_SOLIDITY = 0.8
_BROADER_PX, _LEAST_CONTRAST = (25.0, 70.0), (0.28, 0.38)
# Tinted more than the face's own deep pits are, and hardly darker.
_TINTED, _TINTED_CONTRAST, _DEEP = 0.008, 0.15, 0.55
_RAGGED_SOLIDITY, _FAINT_CONTRAST = 0.75, 0.42
_WINDING_THINNESS, _WINDING_PX, _CRACK_SHARPNESS = 4.0, 18.0, 0.8
_SOFTEST_FAINT, _SOFTER_BY_DEPTH, _FAINT = 1.25, 2.5, 0.3
# Counted from this probability; a mark that looks like a stain only from the second,
# one with a soft edge from the third.
_SURELY, _WITHOUT_SURE, _LEAST_SURE_PX = 0.95, 0.94, 12.0
_LIKELY, _BLACK, _MANY_LIKELY = 0.85, 0.7, 10
COUNTED_FROM, _SURE, _SURE_SOFT, _SOFT_EDGE = 0.5, 0.7, 0.9, 0.75
# A long shape has a body, or is a line, from this probability.
_PLUMP_FROM = 0.9
WORDS = {
    "unsure": "more like a mark, a grain or noise than a void",
    "crack": "long and thin: crack",
    "joint_or_fin": "long and straight: joint, fin or scratch",
    "stain": "soft edge: stain or damp",
    "grain": "flat, sharp and of another colour: grain",
    "bloom": "edge of a white bloom",
    "other": "too faint and ragged to be sure",
    "edge": "large and running out of the face: shadow",
}


def rejected_kinds(
    features: Features,
    shapes: Shapes,
    on_line: NDArray[np.bool_],
    in_patch: NDArray[np.bool_],
    whole: Completed | None,
) -> NDArray[np.str_]:
    """Name why each candidate is turned down.

    Parameters
    ----------
    features : Features
    shapes : Shapes
        Of the whole openings.
    on_line : ndarray of bool, (n,)
        Pieces of a long thin mark.
    in_patch : ndarray of bool, (n,)
        Candidates in honeycomb, where voids run together into long shapes.
    whole : Completed or None
        The openings, and how likely each is a void; without them darkness alone
        decides.

    Returns
    -------
    ndarray of str, (n,)
        One of the rejected kinds, or empty for a void.
    """
    kind = np.full(len(features.contrast), "", dtype="<U12")
    if whole is not None and whole.by_network:
        seen = evidence_of_voids(
            whole.probability, features.contrast, shapes.pixel_count
        )
        least = _WITHOUT_SURE if seen is Evidence.NONE else COUNTED_FROM
        kind[whole.probability < least] = "unsure"
        enough = np.where(features.rim_sharpness < _SOFT_EDGE, _SURE_SOFT, _SURE)
        kind[_stained(features, shapes) & (whole.probability < enough)] = "stain"
        kind[_too_soft(features) & (whole.probability < _SURE_SOFT)] = "stain"
    else:
        kind[_stained(features, shapes)] = "stain"
        ragged = shapes.solidity < _RAGGED_SOLIDITY
        kind[ragged & (features.contrast < _FAINT_CONTRAST)] = "other"
        kind[_too_soft(features)] = "stain"
    line = _line_shaped(features, shapes)
    if whole is not None and whole.by_network:
        surely = np.flatnonzero(line & (whole.probability >= _PLUMP_FROM))
        line[surely] = ~plump(whole.regions.labels, surely, shapes)
    line = (line | on_line) & ~in_patch
    straight = shapes.solidity > _STRAIGHT_SOLIDITY
    kind[line & ~straight] = "crack"
    kind[line & straight] = "joint_or_fin"
    return kind


class Evidence(IntEnum):
    """What the likeliest candidates say of the face as a whole.

    `NONE`: nothing that a stain or a cloud could not be. `MANY`: many likely voids,
    none of them without doubt. `SURE`: a void that leaves no doubt, or a likely one
    that is nearly black inside.
    """

    NONE = 0
    MANY = 1
    SURE = 2


def evidence_of_voids(
    likely: NDArray[np.float64],
    contrast: NDArray[np.float64],
    size_px: NDArray[np.float64],
) -> Evidence:
    """Tell whether the face has voids at all.

    On clean faces with stains or clouds the likeliest marks come near a void, and
    none gets there, nor are there many; faint pits in soft light are many.

    Parameters
    ----------
    likely, contrast, size_px : ndarray of float64, (n,)
        Probability, depth of the darkest part and px of the openings.

    Returns
    -------
    Evidence

    Examples
    --------
    >>> evidence_of_voids(np.array([0.99]), np.array([0.8]), np.array([90.0])).name
    'SURE'
    """
    large = size_px >= _LEAST_SURE_PX
    sure = (likely >= _SURELY) | ((likely >= _LIKELY) & (contrast >= _BLACK))
    if (sure & large).any():
        return Evidence.SURE
    many = np.count_nonzero(large & (likely >= _LIKELY)) >= _MANY_LIKELY
    return Evidence.MANY if many else Evidence.NONE


def _stained(features: Features, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell marks on the surface: broad and faint, or tinted and hardly darker.

    A pit that broad has shadow in it.
    """
    least = np.interp(shapes.pixel_count, _BROADER_PX, _LEAST_CONTRAST)
    deep = features.contrast > _DEEP
    usual = float(np.median(features.colour_shift[deep])) if deep.any() else 0.0
    tinted = (features.colour_shift > usual + _TINTED) & (
        features.contrast < least + _TINTED_CONTRAST
    )
    return np.asarray(tinted | (features.contrast < least))


def _too_soft(features: Features) -> NDArray[np.bool_]:
    """Tell edges too soft for their depth: a faint candidate must be sharp."""
    softest = _SOFTEST_FAINT + _SOFTER_BY_DEPTH * np.clip(
        features.contrast - _FAINT, 0.0, 0.5
    )
    return np.asarray(features.rim_sharpness < 1.0 / softest)


def _line_shaped(features: Features, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell long thin shapes, straight or winding."""
    winding = (
        (shapes.solidity < _RAGGED_SOLIDITY)
        & (features.thinness > _WINDING_THINNESS)
        & (shapes.feret_max_px > _WINDING_PX)
        & (features.rim_sharpness > _CRACK_SHARPNESS)
    )
    return np.asarray((features.thinness > LINE_THINNESS) | winding)
