"""From light on the face to 8-bit pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.synthetic.filters import softened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.scene import Camera

# Where sRGB is steepest, in the dark, a step is still a fifth of a code value.
LEVELS = 1 << 14
TOE = 0.0031308


def _srgb_table() -> NDArray[np.uint8]:
    """Return sRGB code values for linear light in equal steps (IEC 61966-2-1)."""
    linear = np.arange(LEVELS + 1) / LEVELS
    bright = 1.055 * np.power(linear, 1 / 2.4) - 0.055
    coded = np.where(linear <= TOE, 12.92 * linear, bright)
    table: NDArray[np.uint8] = np.rint(255 * coded).astype(np.uint8)
    return table


SRGB = _srgb_table()


def coded(light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return 8-bit sRGB of linear light, clipped at 0 and 1.

    Examples
    --------
    >>> coded(np.array([0.0, 0.2140, 1.0], np.float32))
    array([  0, 127, 255], dtype=uint8)
    """
    # Looked up: a power for each px would take far longer. Half a step rounds.
    steps = np.clip(light, 0, 1) * np.float32(LEVELS) + np.float32(0.5)
    return SRGB[steps.astype(np.uint16)]


def photographed(
    light: NDArray[np.float32], camera: Camera, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Return the picture of `light`: uneven, blurred, noisy, coded.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols, 3)
        Linear, 1 is a white face.
    camera : Camera
        What it does.
    rng : Generator
        Source of noise.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
        sRGB.

    Examples
    --------
    >>> from analysis.synthetic.scene import Camera
    >>> flat = np.full((9, 9, 3), 0.5, np.float32)
    >>> int(photographed(flat, Camera(), np.random.default_rng(1)).mean())
    184
    """
    picture = light * (_falloff(light.shape, camera)[..., None])
    picture = softened(picture.astype(np.float32), camera.blur_px)
    # Shot noise: n electrons vary by n, and light of 1 fills the well. The readout's
    # adds in squares. The lens blurs light before the sensor makes any noise.
    well = np.float32(camera.full_well)
    variance = (
        np.maximum(picture, 0) / well + (np.float32(camera.read_noise) / well) ** 2
    )
    picture = picture + np.sqrt(variance) * rng.standard_normal(
        picture.shape, dtype=np.float32
    )
    pixels = coded(np.asarray(picture, np.float32))
    if camera.jpeg_quality is None:
        return pixels
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(camera.jpeg_quality)]
    _, packed = cv2.imencode(".jpg", pixels[..., ::-1], quality)
    decoded = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)
    return np.ascontiguousarray(decoded[..., ::-1])


def _falloff(shape: tuple[int, ...], camera: Camera) -> NDArray[np.float32]:
    """Return exposure with vignette (1 - v r², r = 1 in the corners) and tilt."""
    down = np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None]
    right = np.linspace(-1, 1, shape[1], dtype=np.float32)[None, :]
    field = 1 - np.float32(camera.vignette / 2) * (down**2 + right**2)
    if camera.uneven:
        angle = np.radians(camera.uneven_deg)
        along = right * np.float32(np.cos(angle)) + down * np.float32(np.sin(angle))
        field = field * (1 - np.float32(camera.uneven / 2) * (along + 1))
    return field * np.float32(camera.exposure)
