"""Pairs that cannot be measured: the same photo twice, one blurred, lights alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import PairError
from analysis.imaging.registration import levelled
from analysis.pairs.lights import LEAST_ANGLE_DEG

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.pairs.lights import Lights
    from analysis.pairs.planes import Planes

    Plane = NDArray[np.float32]

# Slopes weaker than this part of the other photo's, in any direction, are blurred.
_LEAST_DETAIL, _FINE_PX, _MOST_LOG = 0.68, 1.2, 0.7
_NO_SLOPE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32) / 6
_MAD_TO_SD, _WORKED_PX = 1.4826, 1600
# Mottling over some px, as a part of the light, that nothing can be lined up by: noise
# and the blocks of a JPEG leave 0.01, the faintest drawn faces have 0.025.
_BARE_LOG, _BARE_PX = 0.013, 2.0
# Two shots by hand never agree to these; one photo stored twice does.
_SAME_SHIFT_PX, _SAME_NOISE = 0.1, 0.35


def refuse_blurred(
    first: Plane, second: Plane, inside: NDArray[np.bool_] | None = None
) -> None:
    """Refuse a pair of which one photo lacks the detail of the other.

    A blurred photo has weaker slopes all round, a moved one along its movement.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light, best of the second as it lies on the first.
    inside : ndarray of bool, (rows, cols), optional
        What both show; without it, all of each.

    Raises
    ------
    PairError
        One is blurred or moved.
    """
    here, there = _slopes(first, inside), _slopes(second, inside)
    second_lacks, first_lacks = _weakest(there, here), _weakest(here, there)
    if min(first_lacks, second_lacks) < _LEAST_DETAIL:
        name = "first" if first_lacks < second_lacks else "second"
        msg = (
            f"The {name} photo is blurred or was moved beside the other: hold still, "
            "tap to focus on the face, and photograph it again."
        )
        raise PairError(msg)


def is_bare(light: Plane, inside: NDArray[np.bool_]) -> bool:
    """Tell a face without texture, on which nothing shows how two photos lie.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        The face.

    Examples
    --------
    >>> flat = np.full((90, 120), 0.3, np.float32)
    >>> is_bare(flat, np.ones(flat.shape, bool))
    True
    """
    calm = cv2.GaussianBlur(levelled(light), (0, 0), _BARE_PX)[inside]
    if not calm.size:
        return True
    spread = _MAD_TO_SD * float(np.median(np.abs(calm - np.median(calm))))
    return spread < _BARE_LOG


def _slopes(light: Plane, inside: NDArray[np.bool_] | None) -> NDArray[np.float64]:
    """Mean products of the slopes over details of few px, (2, 2), less their noise."""
    middle = tuple(
        slice(max(0, (side - _WORKED_PX) // 2), (side + _WORKED_PX + 1) // 2)
        for side in light.shape
    )
    plane = np.clip(
        levelled(np.ascontiguousarray(light[middle])), -_MOST_LOG, _MOST_LOG
    )
    known = np.ones(plane.shape, bool) if inside is None else inside[middle]
    if not known.any():
        return np.zeros((2, 2))
    calm = cv2.GaussianBlur(plane, (0, 0), _FINE_PX)
    across = cv2.Sobel(calm, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)[known]
    down = cv2.Sobel(calm, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)[known]
    products = np.cov(np.stack([across, down]), bias=True)
    # White noise of spread s, smoothed so, has slopes of this variance.
    noise = _noise(plane, known) ** 2 / (8 * np.pi * _FINE_PX**4)
    return np.asarray(products - noise * np.eye(2), dtype=np.float64)


def _weakest(of: NDArray[np.float64], beside: NDArray[np.float64]) -> float:
    """Least ratio of the slopes of two photos over all directions."""
    spread, turn = np.linalg.eigh(beside)
    if not spread.max() > 0:
        return 1.0
    whiten = turn / np.sqrt(np.maximum(spread, 1e-3 * spread.max()))
    return float(np.sqrt(max(np.linalg.eigvalsh(whiten.T @ of @ whiten)[0], 0.0)))


def _noise(plane: Plane, known: NDArray[np.bool_]) -> float:
    """Noise of single px.

    After Immerkaer 1996, Computer Vision and Image Understanding 64.
    """
    rough = cv2.filter2D(plane, cv2.CV_32F, _NO_SLOPE)
    return float(_MAD_TO_SD * np.median(np.abs(rough[known])))


def refuse_same_photo(planes: Planes, lying: Registration) -> None:
    """Refuse one photo given twice, even stored anew.

    Raises
    ------
    PairError
        Both photos are one shot.
    """
    still = lying.shift_px < _SAME_SHIFT_PX and abs(lying.scale - 1) < 1e-3  # noqa: PLR2004
    if not still or not planes.inside.any():
        return
    alone = min(_noise(plane, planes.inside) for plane in (planes.first, planes.second))
    if _noise(planes.relief, planes.inside) < _SAME_NOISE * alone or alone == 0.0:
        msg = (
            "Both files are the same photo: photograph the face again with the lamp "
            "on its other side."
        )
        raise PairError(msg)


def refuse_same_light(lights: Lights) -> None:
    """Refuse a pair whose lamps stand on one side.

    Raises
    ------
    PairError
        Less than 25 degrees between the lights.
    """
    angle = lights.angle_deg
    if lights.sure and angle is not None and angle < LEAST_ANGLE_DEG:
        msg = (
            f"The light comes from one side in both photos ({angle:.0f}° apart, at "
            f"least {LEAST_ANGLE_DEG:g}° are needed): hold the lamp once to the left "
            "and once to the right of the face."
        )
        raise PairError(msg)
