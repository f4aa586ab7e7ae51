"""Doubts about a measured face that its voids themselves raise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag
from analysis.voids.rejection import Evidence

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Scale
    from analysis.voids.background import Background
    from analysis.voids.segmentation import Segmentation

_BLURRED_EDGE_PX = 3.2
# Noise of the background beyond which grain, stone or boards outshine voids.
_ROUGH = 0.2
# Voids in number and share beyond which, all unshaded, they may be grains: by share
# alone, or by a smaller share of which so much was counted by a narrow vote.
_MANY_SPOTS, _SPECKLED, _PERHAPS_SPECKLED, _NARROW = 40, 0.02, 0.012, 0.5
_MANY = 10
# Damp: so much of the face lies so far (log of light) below the light's own slope
# over the face, while most of it does not.
_DAMP_SHARE, _DAMP_LOG, _DRY_LOG = 0.08, -0.3, -0.1
_FIT_ROUNDS, _DARK_WEIGHT, _DARK_LOG = 8, 0.15, -0.05
_SMALL_FACE_MM2 = 2500.0
_BUGHOLE_MM = 2.0


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
        Flag.BLURRED: found.blur_px > _BLURRED_EDGE_PX,
        Flag.UNRELIABLE_FINISH: is_speckled(found),
        Flag.FLAT_LIGHT: found.light.towards_rad is None and len(found.voids) >= _MANY,
        Flag.GRAZING_LIGHT: found.light.rakes,
        Flag.DAMP_LOOKING: _looks_damp(found.background),
        Flag.HONEYCOMB_PRESENT: bool(found.honeycomb.any()),
        Flag.NO_SCALE: scale is None,
        Flag.BY_DARKNESS: not found.by_network,
    }
    if scale is not None:
        area_mm2 = float(np.count_nonzero(face)) * scale.mm_per_px**2
        doubts[Flag.SMALL_FACE] = area_mm2 < _SMALL_FACE_MM2
        # Eight px across the smallest bughole, four across anything asked for.
        finest = _BUGHOLE_MM / 8 if smallest_mm is None else smallest_mm / 4
        doubts[Flag.LOW_RESOLUTION] = scale.mm_per_px > finest
    return frozenset(flag for flag, holds in doubts.items() if holds)


def is_speckled(found: Segmentation) -> bool:
    """Tell finishes on which a photo cannot tell voids from stones or grain.

    Either the background itself varies as strongly as voids do, or not one void leaves
    no doubt, or many voids were counted, none of them shaded like a pit, and they cover
    much of the face or are mostly counted by a narrow vote.
    """
    if found.noise > _ROUGH or found.evidence is Evidence.MANY:
        return True
    if found.light.towards_rad is not None or len(found.voids) < _MANY_SPOTS:
        return False
    share, doubts = found.counted_share, found.doubts
    narrow = 1.0 - doubts.strict_px / max(float(found.voids.area_px.sum()), 1e-9)
    return share > _SPECKLED or (share > _PERHAPS_SPECKLED and narrow > _NARROW)


def _looks_damp(background: Background) -> bool:
    """Tell broad dark patches from a lamp's falling off, which is smooth."""
    level = np.log(background.cells.astype(np.float64))
    down, across = np.mgrid[-1 : 1 : level.shape[0] * 1j, -1 : 1 : level.shape[1] * 1j]
    terms = [np.ones_like(down), down, across, down * across, down**2, across**2]
    slope = np.stack([term.ravel() for term in terms], axis=1)
    weight = np.ones(level.size)
    off = np.zeros(level.size)
    for _ in range(_FIT_ROUNDS):
        fit = np.linalg.lstsq(slope * weight[:, None], level.ravel() * weight)[0]
        off = level.ravel() - slope @ fit
        weight = np.where(off < _DARK_LOG, _DARK_WEIGHT, 1.0)
    dark = float(np.mean(off < _DAMP_LOG))
    return dark > _DAMP_SHARE and float(np.median(off)) > _DRY_LOG
