"""Random fields: self-affine roughness and clouds by their spectrum, and specks."""

from __future__ import annotations

import cv2
import numpy as np
from scipy import fft

COARSEST = 8


def field(rng, shape, longest_px, shortest_px, *, hurst=0.7, stretch=(1.0, 1.0)):
    """Zero mean, unit spread field with a self-affine spectrum.

    Power falls with (1 / longest^2 + q^2)^-(1 + hurst) and ends at 1 / shortest,
    as profiles of moulded and ground surfaces do.

    Parameters
    ----------
    rng : numpy.random.Generator
    shape : tuple of int
    longest_px, shortest_px : float
        Wavelengths.
    hurst : float
        0 is rough at every scale, 1 smooth.
    stretch : tuple of float
        Factors of the wavelengths along rows and columns.

    Returns
    -------
    ndarray of float32, shape
    """
    coarse = int(np.clip(shortest_px * min(stretch) / 3, 1, COARSEST))
    small = tuple(-(-side // coarse) for side in shape)
    # drawn larger than asked for: the transform's ends meet
    padded = tuple(fft.next_fast_len(side + side // 8, real=True) for side in small)
    down = np.fft.fftfreq(padded[0]).astype(np.float32) * (stretch[0] / coarse)
    right = np.fft.rfftfreq(padded[1]).astype(np.float32) * (stretch[1] / coarse)
    q2 = down[:, None] ** 2 + right[None] ** 2
    power = (1 / longest_px**2 + q2) ** np.float32(-(1 + hurst))
    power *= np.exp(-((q2 * shortest_px**2) ** 2))
    white = rng.standard_normal(padded, dtype=np.float32)
    values = fft.irfft2(fft.rfft2(white) * np.sqrt(power), s=padded)
    values = np.ascontiguousarray(values[: small[0], : small[1]], np.float32)
    values -= values.mean()
    values /= max(float(values.std()), 1e-12)
    if coarse == 1:
        return values
    return cv2.resize(values, shape[::-1], interpolation=cv2.INTER_CUBIC)


def specks(rng, shape, size_px, cover, softness=0.3):
    """Blobs about `size_px` across that cover a share of the plane; 0..1, float32."""
    grit = field(rng, shape, size_px, 0.55 * size_px, hurst=1.5)
    sample = grit[::3, ::3]
    cut = np.quantile(sample, 1 - cover)
    return np.clip((grit - cut) / softness + 0.5, 0, 1)


def soft_patches(rng, shape, size_px, cover, softness=0.8):
    """Soft-edged patches, 0..1, float32."""
    clouds = field(rng, shape, size_px, size_px / 12, hurst=0.6)
    cut = np.quantile(clouds[::5, ::5], 1 - cover)
    return np.clip((clouds - cut) / softness, 0, 1)
