"""Doubts about a measured face that its voids themselves raise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag
from analysis.model.reading import BUGHOLE_FROM_MM
from analysis.voids.light_slope import glare_cells, looks_damp
from analysis.voids.rejection import Evidence
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Scale
    from analysis.voids.segmentation import Segmentation

_SET = SETTINGS.flags


def finish_flags(
    found: Segmentation,
    face: NDArray[np.bool_],
    scale: Scale | None,
    smallest_mm: float | None,
) -> frozenset[Flag]:
    """Collect the doubts about a finished segmentation.

    Parameters
    ----------
    found : Segmentation
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    scale : Scale or None
    smallest_mm : float or None
        Smallest size asked for, if any.

    Returns
    -------
    frozenset of Flag
    """
    doubts = {
        Flag.NOTHING_FOUND: len(found.voids) == 0,
        Flag.BLURRED: found.blur_px > _SET.blurred_edge_px,
        Flag.UNRELIABLE_FINISH: is_speckled(found),
        Flag.FLAT_LIGHT: found.light.towards_rad is None
        and len(found.voids) >= _SET.many_voids,
        Flag.GRAZING_LIGHT: found.light.rakes,
        Flag.GLARE: glare_cells(found.background) is not None,
        Flag.DAMP_LOOKING: looks_damp(found.background),
        Flag.HONEYCOMB_PRESENT: bool(found.honeycomb.any()),
        Flag.NO_SCALE: scale is None,
        Flag.BY_DARKNESS: not found.by_network,
    }
    if scale is not None:
        area_mm2 = float(np.count_nonzero(face)) * scale.mm_per_px**2
        doubts[Flag.SMALL_FACE] = area_mm2 < _SET.small_face_mm2
        finest = (
            BUGHOLE_FROM_MM / _SET.px_across_bughole
            if smallest_mm is None
            else smallest_mm / _SET.px_across_smallest
        )
        doubts[Flag.LOW_RESOLUTION] = scale.mm_per_px > finest
    return frozenset(flag for flag, holds in doubts.items() if holds)


def is_speckled(found: Segmentation) -> bool:
    """Tell finishes on which a photo cannot tell voids from stones or grain.

    Either the background itself varies as strongly as voids do, or not one void leaves
    no doubt, or many voids were counted, none of them shaded like a pit, and they cover
    much of the face or are mostly counted by a narrow vote, or very many are as dark as
    each other, as grains of one kind are.
    """
    if found.noise > _SET.rough_noise_share or found.evidence is Evidence.MANY:
        return True
    if _are_alike(found):
        return True
    if found.light.towards_rad is not None or len(found.voids) < _SET.many_grains:
        return False
    share, doubts = found.counted_share, found.doubts
    narrow = 1.0 - doubts.strict_px / max(float(found.voids.area_px.sum()), 1e-9)
    return share > _SET.speckled_share or (
        share > _SET.perhaps_speckled_share and narrow > _SET.narrow_share
    )


def _are_alike(found: Segmentation) -> bool:
    """Tell whether the voids may be grains of one kind by how alike they are."""
    voids = found.voids
    if len(voids) < _SET.many_alike:
        return False
    shaded = found.light.towards_rad is not None
    return bool(
        found.counted_share > _SET.perhaps_speckled_share
        and np.std(voids.contrast) < _SET.alike_depths
        and np.median(voids.contrast) < _SET.deepest_grain
        and not (shaded and np.median(voids.shading) > _SET.least_pit_shading)
    )
