"""Light on a drawn face and the camera that looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np

from tests.benchmarks.faces_scene import octaves

UNCODED = "The drawn face could not be coded as JPEG."
TILE = 200  # samples; small enough to stay in the cache
LEVEL_MM = 0.12
# lamp height above the face, degrees, and the lamp's part of all light
LIGHTS = {
    "flat": ((62, 80), (0.1, 0.25)),
    "mid": ((38, 55), (0.45, 0.6)),
    "raking": ((16, 26), (0.6, 0.78)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """What the lens, the sensor and the file do."""

    blur_px: float = 0.65
    noise: float = 1.6  # counts of 255 at mid grey
    quality: int = 92
    sharpen: float = 0.3
    uneven: float = 0.08  # fall of light over the face, share
    level: int = 165  # sRGB value of the ground
    tilt_degrees: float = 0.0


def _unit_normals(height, step):
    down = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=1, scale=0.5 / step)
    right = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=1, scale=0.5 / step)
    return right, down, 1 / np.sqrt(1 + right * right + down * down)


def sky_seen(height, step, *, directions=8, reach=(1, 2, 4, 7, 12, 20, 34)):
    """Part of an even sky each point sees, from its horizon all round.

    Worked in tiles; a tile with no relief to speak of sees all of it.
    """
    margin, (high, wide) = max(reach), height.shape
    padded = np.pad(height, margin, mode="edge")
    total = np.ones_like(height)
    for top, left in product(range(0, high, TILE), range(0, wide, TILE)):
        rows, cols = min(TILE, high - top), min(TILE, wide - left)
        around = padded[top : top + rows + 2 * margin, left : left + cols + 2 * margin]
        if np.ptp(around) > LEVEL_MM:
            total[top : top + rows, left : left + cols] = _tile_sky(
                around, margin, step, directions, reach
            )
    return total


def _tile_sky(around, margin, step, directions, reach):
    rows, cols = np.array(around.shape) - 2 * margin
    here = around[margin : margin + rows, margin : margin + cols]
    total = np.zeros_like(here)
    for turn in np.arange(directions) * 2 * np.pi / directions + 0.2:
        slope = np.zeros_like(here)
        for length in reach:
            down, right = round(length * np.sin(turn)), round(length * np.cos(turn))
            top, left = margin + down, margin + right
            rise = around[top : top + rows, left : left + cols] - here
            rise /= step * max(np.hypot(down, right), 1)
            np.maximum(slope, rise, out=slope)
        total += 1 / (1 + slope * slope)
    return total / directions


def lamp_seen(height, step, azimuth, elevation, penumbra_mm):
    """1 where the lamp reaches, 0 in cast shadow; marched along the lamp's rays.

    The relief is turned so that rays run along rows; the shadow's upper edge is
    then the running maximum of height plus the ray's drop.
    """
    high, wide = height.shape
    side = int(np.ceil(np.hypot(high, wide))) + 2
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), np.degrees(azimuth) + 180, 1)
    turn[:, 2] += (side - wide) / 2, (side - high) / 2
    turned = cv2.warpAffine(
        height,
        turn,
        (side, side),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    drop = (np.arange(side) * step * np.tan(elevation)).astype(np.float32)
    turned += drop
    edge = np.maximum.accumulate(turned, axis=1)
    edge -= turned
    lit = 1 - np.clip(edge / penumbra_mm, 0, 1)
    back = cv2.invertAffineTransform(turn)
    return cv2.warpAffine(lit, back, (wide, high), flags=cv2.INTER_LINEAR)


def shade(scene, rng, light):
    """Radiance per channel, the bare ground at about 1."""
    (low, high), (least, most) = LIGHTS[light]
    elevation, lamp = np.radians(rng.uniform(low, high)), rng.uniform(least, most)
    azimuth = rng.uniform(0, 2 * np.pi)
    light_on = lit(scene, azimuth, elevation, lamp, flat=light == "flat")
    warm = np.array([1.0, 0.985, 0.96], np.float32) ** rng.uniform(-1, 1)
    return scene.albedo * light_on[..., None] * warm


def lit(scene, azimuth, elevation, lamp, *, flat=False, sky=None):
    """Light that reaches each point and comes back, the bare ground at about 1.

    `lamp` is the lamp's part of all light; `sky` what `sky_seen` told, if known.
    """
    step, height = scene.step_mm, scene.height_mm
    right, down, up = _unit_normals(height, step)
    # rows run down, so the lamp's row direction is +sin(azimuth) towards the lamp
    facing = up * (
        np.sin(elevation)
        - np.cos(elevation) * (right * np.cos(azimuth) + down * np.sin(azimuth))
    )
    facing = np.clip(facing, 0, None) / np.sin(elevation)
    penumbra = 0.02 + 0.12 * flat
    seen = lamp_seen(height, step, azimuth, elevation, penumbra)
    sky = (sky_seen(height, step) if sky is None else sky) * scene.gloom
    bounce = 0.17 * (1 - sky) * scene.albedo.mean()
    light_on = lamp * np.minimum(facing, 3) * seen
    light_on += (1 - lamp) * sky * (0.35 + 0.65 * up) + bounce
    return light_on


def look_slanted(image, height, step, degrees):
    """What a camera tilted about the row axis sees of each face-plane point."""
    lean = np.tan(np.radians(degrees))
    high, wide = height.shape
    cols, rows = np.meshgrid(
        np.arange(wide, dtype=np.float32), np.arange(high, dtype=np.float32)
    )
    hit_rows, open_ray = rows.copy(), np.ones(height.shape, bool)
    for depth in np.linspace(0, 4, 33):
        shift = depth * lean / step
        below = cv2.remap(
            -height, cols, rows + np.float32(shift), 1, borderMode=cv2.BORDER_REPLICATE
        )
        ends = open_ray & (below <= depth)
        hit_rows[ends] += shift
        open_ray &= ~ends
    hit_rows[open_ray] += 4 * lean / step
    return cv2.remap(image, cols, hit_rows, 1, borderMode=cv2.BORDER_REPLICATE)


def _sensor_noise(rng, image, counts):
    """Shot and read noise with the colour speckle left by interpolation."""
    shape = image.shape[:2]
    gain = counts / 255 * 1.9  # slope of the tone curve at mid grey is about 1/1.9
    spread = gain * np.sqrt(0.25 + 0.75 * np.clip(image, 0, 1) / 0.22)
    grey = rng.standard_normal((*shape, 1), dtype=np.float32)
    half = (shape[0] // 2 + 1, shape[1] // 2 + 1, 3)
    speckle = rng.standard_normal(half, dtype=np.float32)
    speckle = cv2.resize(speckle, (2 * half[1], 2 * half[0]))[: shape[0], : shape[1]]
    return image + spread * 0.5 * (0.85 * grey + 0.6 * speckle)


def _to_srgb(linear):
    linear = np.clip(linear, 0, 1)
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055
    )


def expose(radiance, rng, camera, fine):
    """JPEG bytes of the radiance given on a grid `fine` times the sensor's."""
    high, wide = radiance.shape[0] // fine, radiance.shape[1] // fine
    squeeze = np.cos(np.radians(camera.tilt_degrees))
    image = cv2.resize(
        radiance.astype(np.float32),
        (wide, round(high * squeeze)),
        interpolation=cv2.INTER_AREA,
    )
    image = cv2.GaussianBlur(image, (0, 0), camera.blur_px)
    ground = ((camera.level / 255 + 0.055) / 1.055) ** 2.4
    image *= ground / np.median(image[..., 1])
    rows, cols = np.mgrid[-1 : 1 : image.shape[0] * 1j, -1 : 1 : image.shape[1] * 1j]
    turn = rng.uniform(0, 2 * np.pi)
    slope = rows * np.sin(turn) + cols * np.cos(turn)
    fall = camera.uneven * slope + 0.05 * octaves(rng, image.shape[:2], 700, count=1)
    image *= np.exp(fall - 0.05 * (rows**2 + cols**2))[..., None].astype(np.float32)
    image = _to_srgb(_sensor_noise(rng, image, camera.noise)).astype(np.float32)
    if camera.sharpen:
        image += camera.sharpen * (image - cv2.GaussianBlur(image, (0, 0), 1.2))
    pixels = np.uint8(np.clip(image * 255 + 0.5, 0, 255))
    done, data = cv2.imencode(
        ".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, camera.quality]
    )
    if not done:
        raise RuntimeError(UNCODED)
    return data.tobytes()
