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

# Energy of detail a few px large: below this part of the other photo's, one is blurred.
_LEAST_DETAIL = 0.22
_FINE_PX, _BROAD_PX = 1.2, 2.4
# Gain of the difference of these two smoothings for white noise, from its integral.
_NOISE_GAIN = float(
    np.sqrt(
        (1 / _FINE_PX**2 + 1 / _BROAD_PX**2 - 4 / (_FINE_PX**2 + _BROAD_PX**2))
        / (4 * np.pi)
    )
)
_NO_SLOPE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32) / 6
_MAD_TO_SD, _WORKED_PX = 1.4826, 1600
# Two shots by hand never agree to these; one photo stored twice does.
_SAME_SHIFT_PX, _SAME_NOISE = 0.1, 0.35


def refuse_blurred(first: Plane, second: Plane, inside: NDArray[np.bool_]) -> None:
    """Refuse a pair of which one photo lacks the detail of the other.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        Face in the first photo.

    Raises
    ------
    PairError
        One is blurred or moved.
    """
    here = _detail(first, inside)
    there = _detail(second, None)
    if min(here, there) < _LEAST_DETAIL * max(here, there):
        name = "first" if here < there else "second"
        msg = (
            f"The {name} photo is blurred or was moved beside the other: hold still, "
            "tap to focus on the face, and photograph it again."
        )
        raise PairError(msg)


def _detail(light: Plane, inside: NDArray[np.bool_] | None) -> float:
    """Spread of detail a few px large, less what noise makes."""
    rows, cols = light.shape
    middle = tuple(
        slice(max(0, (side - _WORKED_PX) // 2), max(0, (side - _WORKED_PX) // 2) + _WORKED_PX)
        for side in (rows, cols)
    )
    plane = levelled(np.ascontiguousarray(light[middle]))
    known = np.ones(plane.shape, bool) if inside is None else inside[middle]
    if not known.any():
        return 0.0
    fine = cv2.GaussianBlur(plane, (0, 0), _FINE_PX)
    broad = cv2.GaussianBlur(plane, (0, 0), _BROAD_PX)
    energy = float(np.mean((fine - broad)[known] ** 2))
    noise = _noise(plane, known)
    return float(np.sqrt(max(energy - (_NOISE_GAIN * noise) ** 2, 1e-10)))


def _noise(plane: Plane, known: NDArray[np.bool_]) -> float:
    """Noise of single px (Immerkaer 1996, Computer Vision and Image Understanding 64)."""
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
            f"The light comes from one side in both photos ({angle:.0f}° apart, at least "
            f"{LEAST_ANGLE_DEG:g}° are needed): hold the lamp once to the left and once "
            "to the right of the face."
        )
        raise PairError(msg)
