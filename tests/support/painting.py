"""Painted faces with few marks on them, and the segmenting of them."""

import cv2
import numpy as np

from analysis.imaging.face import continue_outside
from analysis.imaging.photo import luminance
from analysis.voids.segmentation import segment

GROUND, FLOOR = 0.35, 0.03  # linear light


def painted(light):
    """sRGB pixels of linear light, (rows, cols, 3) uint8 (IEC 61966-2-1)."""
    light = np.clip(light, 0, 1)
    code = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )
    code = np.uint8(np.rint(255 * code))
    return code if code.ndim == 3 else np.stack([code] * 3, axis=-1)


def grey(codes):
    """Pixels of one grey code each, (rows, cols, 3) uint8."""
    return np.repeat(np.uint8(np.clip(np.rint(codes), 0, 255))[..., None], 3, axis=2)


def disc(shape, row, col, radius):
    """Share of each pixel inside a disc, 0..1, from 8 x 8 points in each."""
    cover = np.zeros(shape)
    top, left = (max(0, int(np.floor(at - radius)) - 1) for at in (row, col))
    bottom, right = (int(at + radius) + 3 for at in (row, col))
    rows, cols = min(bottom, shape[0]) - top, min(right, shape[1]) - left
    fine_rows = top + (np.arange(8 * rows) + 0.5) / 8 - 0.5
    fine_cols = left + (np.arange(8 * cols) + 0.5) / 8 - 0.5
    inside = np.hypot(fine_rows[:, None] - row, fine_cols - col) <= radius
    part = inside.reshape(rows, 8, cols, 8).mean(axis=(1, 3))
    cover[top : top + rows, left : left + cols] = part
    return cover


def ellipse(shape, row, col, long, short, angle_rad=0.0):
    """Pixels whose centre is inside an ellipse of these half axes."""
    rows, cols = np.ogrid[: shape[0], : shape[1]]
    along = (cols - col) * np.cos(angle_rad) + (rows - row) * np.sin(angle_rad)
    across = (rows - row) * np.cos(angle_rad) - (cols - col) * np.sin(angle_rad)
    return (along / long) ** 2 + (across / short) ** 2 <= 1


def pitted(shape, pits, *, background=GROUND, floor=FLOOR, blur_px=0.7):
    """Linear light of a face with flat dark pits, each (row, col, radius)."""
    cover = np.zeros(shape)
    for pit in pits:
        cover = np.maximum(cover, disc(shape, *pit))
    light = background * (1 - cover) + floor * cover
    return cv2.GaussianBlur(light, (0, 0), blur_px) if blur_px else light


def noisy(pixels, sd=2.0, seed=0):
    """Pixels with a camera's noise, in sRGB codes."""
    noise = np.random.default_rng(seed).normal(0, sd, pixels.shape[:2])
    return np.uint8(np.clip(np.rint(pixels + noise[..., None]), 0, 255))


def scattered(shape, count, radii, rng, apart_px=6.0):
    """Places of pits that keep apart and inside, rows of (row, col, radius)."""
    pits = []
    while len(pits) < count:
        radius = rng.uniform(*radii)
        edge = radius + apart_px
        row, col = rng.uniform(edge, np.array(shape) - 1 - edge)
        if all(np.hypot(row - r, col - c) > radius + s + apart_px for r, c, s in pits):
            pits.append((row, col, radius))
    return np.array(pits)


def segmented(pixels, *, face=None, smallest_px2=4.0, mm_per_px=None):
    """Voids of sRGB pixels, as the desk finds them."""
    face = np.ones(pixels.shape[:2], bool) if face is None else face
    light = luminance(pixels)
    continue_outside(light, face)
    return segment(pixels, light, face, smallest_px2=smallest_px2, mm_per_px=mm_per_px)


def percent(found, face=None):
    """Counted void area over the face."""
    size = found.mask.size if face is None else np.count_nonzero(face)
    return 100 * found.voids.area_px.sum() / size
