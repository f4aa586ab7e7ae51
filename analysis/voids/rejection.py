"""Which candidates are not voids, and why, in words."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.arris_row import off_one_row
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import plump

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.completion import Completed
    from analysis.voids.features import Features
    from analysis.voids.shapes import Shapes

_SET = SETTINGS.rejection
WORDS = {
    "unsure": "more like a mark, a grain or noise than a void",
    "crack": "long and thin: crack",
    "joint_or_fin": "long and straight: joint, fin or scratch",
    "stain": "soft edge: stain or damp",
    "grain": "flat, sharp and of another colour: grain",
    "bloom": "edge of a white bloom",
    "other": "too faint and ragged to be sure",
    "sand": "bare sand of a joint that leaked",
    "arris": "broken off the arris",
    "edge": "large and running out of the face: shadow",
}


def rejected_kinds(
    features: Features,
    shapes: Shapes,
    on_line: NDArray[np.bool_],
    in_patch: NDArray[np.bool_],
    whole: Completed | None,
    evidence: Evidence,
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
    evidence : Evidence
        Whether the face has voids at all; read only beside openings of the network.

    Returns
    -------
    ndarray of str, (n,)
        One of the rejected kinds, or empty for a void.
    """
    # Reasons told later replace those told before.
    kind = np.full(len(features.contrast), "", dtype="<U12")
    if whole is not None and whole.by_network:
        unsure = _told_by_nothing(shapes, evidence)
        least = np.where(unsure, _SET.without_sure_from, _SET.counted_from)
        kind[whole.probability < least] = "unsure"
        enough = np.where(
            features.rim_sharpness < _SET.soft_edge_sharpness,
            _SET.sure_soft_from,
            _SET.sure_from,
        )
        alike = enough_beside_voids(features, shapes, whole.probability)
        stained, soft = _stained(features, shapes), _too_soft(features)
        kind[stained & (whole.probability < np.minimum(enough, alike))] = "stain"
        enough_soft = np.minimum(_SET.sure_soft_from, alike)
        kind[soft & (whole.probability < enough_soft)] = "stain"
        # Damp and stains may be broader than anything the network was shown.
        kind[stained & soft & (shapes.pixel_count > _SET.never_soft_px)] = "stain"
        kind[unsure & broad_stains(features, shapes)] = "stain"
    else:
        kind[_stained(features, shapes)] = "stain"
        ragged = shapes.solidity < _SET.ragged_solidity
        kind[ragged & (features.contrast < _SET.faint_contrast)] = "other"
        kind[_too_soft(features)] = "stain"
    line = _line_shaped(features, shapes)
    if whole is not None and whole.by_network:
        surely = np.flatnonzero(line & (whole.probability >= _SET.plump_from))
        line[surely] = ~plump(whole.regions.labels, surely, shapes)
        # A line is not round: where it seems so it has a pit on it.
        is_round = features.thinness < _SET.round_thinness
        on_line = on_line & ~(is_round & (whole.probability >= _SET.round_from))
    line = (line | on_line) & ~in_patch
    straight = shapes.solidity > _SET.straight_solidity
    kind[line & ~straight] = "crack"
    kind[line & straight] = "joint_or_fin"
    return kind


class Evidence(IntEnum):
    """What the likeliest candidates say of the face as a whole.

    `NONE`: nothing that a stain or a cloud could not be. `SEVERAL`: a few clear ones,
    which say nothing of broad marks. `MANY`: many likely voids, none of them without
    doubt. `SURE`: a void that leaves no doubt, or a likely one that is nearly black
    inside.
    """

    NONE = 0
    SEVERAL = 1
    MANY = 2
    SURE = 3


def evidence_of_voids(
    likely: NDArray[np.float64],
    contrast: NDArray[np.float64],
    size_px: NDArray[np.float64],
    *,
    several_clear: bool = False,
) -> Evidence:
    """Tell whether the face has voids at all.

    On clean faces with stains or clouds the likeliest marks come near a void, and
    none gets there, nor are there many; faint pits in soft light are many. Where the
    photo is moved or seen at a grazing angle no pit is without doubt, but several are
    clear.

    Parameters
    ----------
    likely, contrast, size_px : ndarray of float64, (n,)
        Probability, depth of the darkest part and px of the openings.
    several_clear : bool
        What `several_clear` says.

    Returns
    -------
    Evidence

    Examples
    --------
    >>> evidence_of_voids(np.array([0.99]), np.array([0.8]), np.array([90.0])).name
    'SURE'
    """
    large = size_px >= _SET.least_sure_px
    perhaps = likely >= _SET.likely_from
    sure = (likely >= _SET.surely_from) | (perhaps & (contrast >= _SET.black_depth))
    if (sure & large).any():
        return Evidence.SURE
    if np.count_nonzero(large & perhaps) >= _SET.many_likely:
        return Evidence.MANY
    return Evidence.SEVERAL if several_clear else Evidence.NONE


def _told_by_nothing(shapes: Shapes, evidence: Evidence) -> NDArray[np.bool_]:
    """Tell marks for which nothing else on the face speaks."""
    if evidence is Evidence.SEVERAL:
        return np.asarray(shapes.pixel_count >= _SET.proves_nothing_px)
    return np.full(len(shapes.pixel_count), evidence is Evidence.NONE)


def clear_marks(
    features: Features,
    shapes: Shapes,
    likely: NDArray[np.float64],
    noise: NDArray[np.float64],
    on_line: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Tell marks that are sharp, deep and far out of the noise, and no lines or stains.

    Clouds are no deeper than a few times what they make the ground vary by, and stains
    are broad, tinted or soft.

    Parameters
    ----------
    features : Features
    shapes : Shapes
    likely : ndarray of float64, (n,)
        Probability of being a void.
    noise : ndarray of float64, (n,)
        Of the background, in units of depth.
    on_line : ndarray of bool, (n,)
        Pieces of long thin marks.

    Returns
    -------
    ndarray of bool, (n,)
    """
    deep = features.contrast >= np.maximum(_SET.clear_depth, _SET.clear_sigmas * noise)
    seen = (likely >= _SET.clear_from) & (shapes.pixel_count >= _SET.least_clear_px)
    edged = features.rim_sharpness >= _SET.soft_edge_sharpness
    doubted = _stained(features, shapes) | _too_soft(features) | on_line
    short = features.thinness < _SET.longest_clear_thinness
    return np.asarray(deep & seen & edged & short & ~doubted)


def several_clear(shapes: Shapes, clear: NDArray[np.bool_]) -> bool:
    """Tell whether clear marks show a face to have small voids.

    Chips and what a joint leaves lie in one row; and where there are very many, none
    of them a void without doubt, they are grains.

    Parameters
    ----------
    shapes : Shapes
    clear : ndarray of bool, (n,)
        Those of `clear_marks`.
    """
    count = np.count_nonzero(clear)
    if not _SET.several_clear <= count <= _SET.most_clear:
        return False
    return off_one_row(shapes, clear) >= max(1, _SET.clear_off_row_share * count)


def broad_stains(features: Features, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell broad marks that are faint, tinted or soft, as stains are.

    A pit that broad has its own shadow and a sharp lip. Such a mark beside voids is
    weighed as any other; it cannot show that a face has voids, however likely it is.

    Parameters
    ----------
    features : Features
    shapes : Shapes

    Returns
    -------
    ndarray of bool, (n,)
    """
    broad = shapes.pixel_count >= _SET.proves_nothing_px
    return np.asarray(broad & (_stained(features, shapes) | _too_soft(features)))


def _stained(features: Features, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell marks on the surface: broad and faint, or tinted and hardly darker.

    A pit that broad has shadow in it.
    """
    least = np.interp(shapes.pixel_count, _SET.broader_px, _SET.least_contrasts)
    deep = features.contrast > _SET.deep_depth
    usual = float(np.median(features.colour_shift[deep])) if deep.any() else 0.0
    tinted = (features.colour_shift > usual + _SET.tinted_shift) & (
        features.contrast < least + _SET.tinted_contrast
    )
    return np.asarray(tinted | (features.contrast < least))


def enough_beside_voids(
    features: Features, shapes: Shapes, likely: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how likely a mark must be that is about as deep as the face's voids.

    Under an even sky, a flash or a broad lamp all pits of a face are faint and their
    edges soft, so that each looks like a stain; a stain beside pits is much fainter
    than they are. The nearer a mark's depth comes to theirs, the less likely it must
    be. Infinite where the face has too few likely voids to tell.
    """
    enough = np.full(len(likely), np.inf)
    large = shapes.pixel_count >= _SET.least_sure_px
    voids = large & (likely >= _SET.likely_from)
    if np.count_nonzero(voids) < _SET.many_likely:
        return enough
    depth = features.contrast / float(np.median(features.contrast[voids]))
    edged = features.rim_sharpness >= _SET.alike_sharpness
    least = np.maximum(_SET.alike_least, _SET.alike_from - depth)
    enough[edged] = least[edged]
    return enough


def _too_soft(features: Features) -> NDArray[np.bool_]:
    """Tell edges too soft for their depth: a faint candidate must be sharp."""
    softest = _SET.softest_faint_ratio + _SET.softer_by_depth * np.clip(
        features.contrast - _SET.faint_depth, 0.0, _SET.rounder_depth
    )
    # Sharpness is a sharp edge's width over the candidate's own: the bound is inverted.
    return np.asarray(features.rim_sharpness < 1.0 / softest)


def _line_shaped(features: Features, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell long thin shapes, straight or winding."""
    winding = (
        (shapes.solidity < _SET.ragged_solidity)
        & (features.thinness > _SET.winding_thinness)
        & (shapes.feret_max_px > _SET.winding_px)
        & (features.rim_sharpness > _SET.crack_sharpness)
    )
    return np.asarray((features.thinness > _SET.line_thinness) | winding)
