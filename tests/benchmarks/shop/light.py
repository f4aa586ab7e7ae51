"""Light on a relief: horizons, skies, windows, lamps, light inside pits, gloss.

Where the relief is all but flat, shading follows from the normals. In and around
voids each point is followed to its horizon, lamp by lamp and along twelve directions
of the sky; what the walls pass on to each other is added from the mean light in the
void (one diffuse cavity: rho (1 - V) / (1 - rho (1 - V)), V the part of the sky seen).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

DIRECTIONS = 12
ANGLES = np.radians(np.arange(0.5, 90))  # heights over the horizon, a degree each
SKY_STEPS = 1.6 ** np.arange(0, 13)
LAMP_STEPS = 1.25 ** np.arange(0, 26)
COARSE = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """A lamp or the sun: place in mm (row, col, height), half width in mm."""

    place_mm: tuple[float, float, float]
    half_width_mm: float
    power: float
    colour: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A bright part of the surroundings, far away: angles in degrees."""

    azimuth: float
    elevation: float
    half_wide: float
    half_high: float
    power: float
    colour: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """All light on a face: an even or overcast dome, windows, lamps.

    `power` of each is its part of the light on a level, open face.
    """

    dome: float
    overcast: bool = False
    windows: tuple[Window, ...] = ()
    lamps: tuple[Lamp, ...] = ()


# -- the lights of a yard


def _aim(rng, low, high):
    return rng.uniform(0, 360), rng.uniform(low, high)


def _far(azimuth, elevation, far_mm, size_mm):
    turn, up = np.radians(azimuth), np.radians(elevation)
    flat = far_mm * np.cos(up)
    return (
        size_mm[0] / 2 + flat * np.sin(turn),
        size_mm[1] / 2 + flat * np.cos(turn),
        far_mm * np.sin(up),
    )


def overcast(rng, size_mm):
    del size_mm
    azimuth, elevation = _aim(rng, 30, 60)
    brighter = rng.uniform(0.05, 0.25)
    open_side = Window(
        azimuth=azimuth, elevation=elevation, half_wide=70, half_high=30, power=brighter
    )
    return Light(dome=1 - brighter, overcast=True, windows=(open_side,))


def open_shade(rng, size_mm):
    """In the shade of a wall: half of the sky, and it is blue."""
    del size_mm
    azimuth, elevation = _aim(rng, 40, 55)
    half = Window(
        azimuth=azimuth,
        elevation=elevation,
        half_wide=85,
        half_high=38,
        power=0.75,
        colour=(0.94, 0.99, 1.07),
    )
    return Light(dome=0.25, windows=(half,))


def window(rng, size_mm):
    del size_mm
    azimuth, elevation = _aim(rng, 22, 48)
    pane = Window(
        azimuth=azimuth, elevation=elevation, half_wide=24, half_high=13, power=0.68
    )
    return Light(dome=0.32, windows=(pane,))


def soft_box(rng, size_mm):
    """Broad soft light from two sides: pale floors, faint shadows."""
    del size_mm
    azimuth, elevation = _aim(rng, 45, 65)
    sides = tuple(
        Window(azimuth=a, elevation=elevation, half_wide=50, half_high=25, power=p)
        for a, p in ((azimuth, 0.4), (azimuth + rng.uniform(130, 200), 0.25))
    )
    return Light(dome=0.35, windows=sides)


def near_lamp(rng, size_mm):
    azimuth, elevation = _aim(rng, 25, 50)
    place = _far(azimuth, elevation, 2.2 * max(size_mm), size_mm)
    warm = (1.12, 1.0, 0.8)
    lamp = Lamp(place_mm=place, half_width_mm=18, power=0.72, colour=warm)
    return Light(dome=0.28, lamps=(lamp,))


def two_lamps(rng, size_mm):
    azimuth, elevation = _aim(rng, 30, 55)
    lamps = tuple(
        Lamp(place_mm=_far(a, e, 5 * max(size_mm), size_mm), half_width_mm=25, power=p)
        for a, e, p in (
            (azimuth, elevation, 0.42),
            (azimuth + rng.uniform(90, 220), rng.uniform(30, 60), 0.28),
        )
    )
    return Light(dome=0.3, lamps=lamps)


def low_sun(rng, size_mm):
    azimuth, elevation = _aim(rng, 18, 34)
    far = 1e6
    sun = Lamp(
        place_mm=_far(azimuth, elevation, far, size_mm),
        half_width_mm=far * np.radians(0.27),
        power=0.68,
        colour=(1.08, 1.0, 0.86),
    )
    return Light(dome=0.32, lamps=(sun,))


def high_sun(rng, size_mm):
    azimuth, elevation = _aim(rng, 50, 66)
    far = 1e6
    sun = Lamp(
        place_mm=_far(azimuth, elevation, far, size_mm),
        half_width_mm=far * np.radians(0.27),
        power=0.76,
    )
    return Light(dome=0.24, lamps=(sun,))


def flash(rng, size_mm):
    """Beside the lens: hardly a shadow, and the corners fall off."""
    away = rng.normal(0, 0.12, 2) * max(size_mm)
    place = (
        size_mm[0] / 2 + away[0],
        size_mm[1] / 2 + away[1],
        rng.uniform(1.6, 2.6) * max(size_mm),
    )
    return Light(dome=0.15, lamps=(Lamp(place_mm=place, half_width_mm=5, power=0.85),))


LIGHTS = {
    light.__name__: light
    for light in (
        overcast, open_shade, window, soft_box, near_lamp, two_lamps, low_sun, high_sun,
        flash,
    )
}  # fmt: skip


# -- how much of it reaches each point


def horizon(height, step_mm, rows, cols, towards, steps):
    """Tangent of the horizon's height from points along one direction each.

    Parameters
    ----------
    height : ndarray of float32, (rows, cols)
        Level outside the picture.
    step_mm : float
    rows, cols : ndarray of int, (n,)
    towards : tuple of float or of ndarray, (n,)
        (down, right) of unit length.
    steps : ndarray
        Distances looked at, in samples.

    Returns
    -------
    ndarray of float32, (n,)
    """
    high, wide = height.shape
    here = height[rows, cols]
    flat = height.ravel()
    steepest = np.zeros(len(rows), np.float32)
    for length in steps:
        down = np.rint(rows + length * towards[0]).astype(np.int32)
        right = np.rint(cols + length * towards[1]).astype(np.int32)
        np.clip(down, 0, high - 1, out=down)
        np.clip(right, 0, wide - 1, out=right)
        rise = flat[down * wide + right] - here
        rise /= np.float32(step_mm * length)
        np.maximum(steepest, rise, out=steepest)
    return steepest


def normals(height, step_mm, bow=(0.0, 0.0, 0.0)):
    """Slopes along (down, right) and the upright part of the unit normal."""
    down = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=1, scale=0.5 / step_mm)
    right = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=1, scale=0.5 / step_mm)
    if bow[2]:
        rows = (np.arange(height.shape[0], dtype=np.float32) + 0.5) * step_mm - bow[0]
        cols = (np.arange(height.shape[1], dtype=np.float32) + 0.5) * step_mm - bow[1]
        down += np.float32(bow[2]) * rows[:, None]
        right += np.float32(bow[2]) * cols[None]
    return down, right, 1 / np.sqrt(1 + down * down + right * right)


def _sky_parts(light):
    """Radiance over (direction, height) of the surroundings, per channel."""
    turns = (np.arange(DIRECTIONS) + 0.37) * 360 / DIRECTIONS
    up = np.degrees(ANGLES)
    even = 1 + 2 * np.sin(ANGLES) if light.overcast else np.ones_like(ANGLES)
    parts = [(np.tile(even, (DIRECTIONS, 1)), light.dome, np.ones(3))]
    for pane in light.windows:
        away = np.abs((turns - pane.azimuth + 180) % 360 - 180)
        # the pane's edge softened to the spacing of the directions
        wide = np.clip((pane.half_wide + 15 - away) / 30, 0, 1)
        tall = np.clip((pane.half_high + 2 - np.abs(up - pane.elevation)) / 4, 0, 1)
        parts.append((wide[:, None] * tall, pane.power, np.array(pane.colour)))
    total = np.zeros((DIRECTIONS, len(ANGLES), 3))
    weight = np.sin(ANGLES) * np.cos(ANGLES)
    for shape, power, colour in parts:
        total += (power / (shape * weight).sum() * shape)[..., None] * colour
    return np.radians(turns), total


def _tails(radiance, weight):
    """Sum of radiance times weight above each height; one more entry than heights."""
    tail = np.cumsum((radiance * weight[:, None])[::-1], axis=0)[::-1]
    return np.concatenate([tail, np.zeros((1, 3))]).astype(np.float32)


def from_sky(light, height, step_mm, slopes, at):
    """Light of dome and windows: everywhere as if open, and at points as seen.

    Returns
    -------
    open_light : ndarray, (rows, cols, 3)
    seen : ndarray, (n, 3)
    sky : ndarray, (n,)
        Part of an even sky seen.
    """
    down, right, up = slopes
    turns, radiance = _sky_parts(light)
    rows, cols = at
    seen = np.zeros((len(rows), 3), np.float32)
    sky = np.zeros(len(rows), np.float32)
    lean = np.zeros((2, 3), np.float32)
    level = np.zeros(3, np.float32)
    n_down, n_right, n_up = -down[at] * up[at], -right[at] * up[at], up[at]
    for turn, part in zip(turns, radiance, strict=True):
        towards = np.sin(turn), np.cos(turn)
        upright = _tails(part, np.sin(ANGLES) * np.cos(ANGLES))
        sideways = _tails(part, np.cos(ANGLES) ** 2)
        level += upright[0]
        lean += np.outer(towards, sideways[0]).astype(np.float32)
        tangent = horizon(height, step_mm, rows, cols, towards, SKY_STEPS)
        angle = np.degrees(np.arctan(tangent))
        low = angle.astype(np.int32)
        part_of = (angle - low)[:, None]
        facing = (n_down * towards[0] + n_right * towards[1])[:, None]
        upper = upright[low] * (1 - part_of) + upright[low + 1] * part_of
        side = sideways[low] * (1 - part_of) + sideways[low + 1] * part_of
        seen += np.maximum(n_up[:, None] * upper + facing * side, 0)
        sky += 1 / (1 + tangent * tangent)
    tilt = [-down * up, -right * up]
    open_light = np.stack(
        [up * level[c] + tilt[0] * lean[0, c] + tilt[1] * lean[1, c] for c in range(3)],
        axis=-1,
    )
    return np.maximum(open_light, 0), seen, sky / DIRECTIONS


def _lamp_field(lamp, shape, step_mm):
    """Unit direction to a lamp (down, right, up) and its strength, each a map."""
    small = tuple(-(-side // COARSE) for side in shape)
    rows = (np.arange(small[0]) + 0.5) * shape[0] / small[0] * step_mm
    cols = (np.arange(small[1]) + 0.5) * shape[1] / small[1] * step_mm
    away = np.stack(
        np.broadcast_arrays(
            lamp.place_mm[0] - rows[:, None],
            lamp.place_mm[1] - cols[None],
            lamp.place_mm[2],
        ),
        axis=-1,
    )
    far = np.linalg.norm(away, axis=-1, keepdims=True)
    unit = away / far
    strength = 1 / far[..., 0] ** 2
    middle = (strength * unit[..., 2])[small[0] // 2, small[1] // 2]
    packed = np.dstack([unit, lamp.power * strength / middle]).astype(np.float32)
    return cv2.resize(packed, shape[::-1], interpolation=cv2.INTER_LINEAR)


def from_lamp(lamp, height, step_mm, slopes, at):
    """Light of one lamp: everywhere as if no relief cast a shadow, and at points."""
    down, right, up = slopes
    field = _lamp_field(lamp, height.shape, step_mm)
    facing = up * (field[..., 2] - down * field[..., 0] - right * field[..., 1])
    open_light = np.maximum(facing, 0) * field[..., 3]
    aim = field[at]
    flat = np.maximum(np.hypot(aim[:, 0], aim[:, 1]), 1e-6)
    towards = aim[:, 0] / flat, aim[:, 1] / flat
    tangent = horizon(height, step_mm, *at, towards, LAMP_STEPS)
    lamp_up = np.arctan2(aim[:, 2], flat)
    far = np.linalg.norm(lamp.place_mm)
    half = max(np.arctan(lamp.half_width_mm / far), 0.004)
    lit = np.clip((lamp_up - np.arctan(tangent)) / (2 * half) + 0.5, 0, 1)
    return open_light, open_light[at] * lit


def shade(surface, light):
    """Radiance of every sample, (rows, cols, 3); a level open face has its albedo."""
    height, step = surface.height, surface.step_mm
    slopes = normals(height, step, surface.bow)
    at = np.nonzero(surface.active)
    light_on, seen, sky = from_sky(light, height, step, slopes, at)
    for lamp in light.lamps:
        everywhere, there = from_lamp(lamp, height, step, slopes, at)
        for channel in range(3):
            light_on[..., channel] += everywhere * np.float32(lamp.colour[channel])
        seen += there[:, None] * np.float32(lamp.colour)
    number = surface.canvas[::2, ::2][at]
    seen += _passed_on(seen, sky, number, surface.albedo[at], np.array(surface.caves))
    light_on[at] = seen
    return light_on * surface.albedo


def _passed_on(seen, sky, number, albedo, caves):
    """Light that walls and floor of a void pass on to each other."""
    count = len(caves)
    inside = np.maximum(np.bincount(number, minlength=count), 1)
    closed = np.bincount(number, 1 - sky, minlength=count) / inside
    passed = np.empty_like(seen)
    for channel in range(3):
        mean = np.bincount(number, seen[:, channel], minlength=count) / inside * caves
        tone = np.bincount(number, albedo[:, channel], minlength=count) / inside
        around = tone * mean / (1 - tone * closed)
        around[0] = tone[0] * mean[0]  # outside voids: what a level face gives back
        passed[:, channel] = around[number] * (1 - sky)
    return passed


def gloss(surface, light, camera_mm):
    """Light that a polished face mirrors: broad highlights of lamps and windows."""
    shape, step = surface.shape, surface.step_mm
    shiny = np.zeros((*shape, 3), np.float32)
    if not surface.polish.any():
        return shiny
    calm = cv2.GaussianBlur(surface.height, (0, 0), surface.px(1.2))
    down, right, _ = normals(calm, step, surface.bow)
    view = _lamp_field(Lamp(place_mm=camera_mm, half_width_mm=0, power=1), shape, step)
    sources = [(lamp, 0.14, lamp.colour) for lamp in light.lamps]
    far = 1e5
    sources += [
        (
            Lamp(
                place_mm=_far(pane.azimuth, pane.elevation, far, (0, 0)),
                half_width_mm=0,
                power=pane.power,
            ),
            0.14 + np.radians(pane.half_wide) / 3,
            pane.colour,
        )
        for pane in light.windows
    ]
    for lamp, rough, colour in sources:
        half = _lamp_field(lamp, shape, step)
        strength = half[..., 3]
        half = half[..., :3] + view[..., :3]
        lean = ((half[..., 0] / half[..., 2] + down) / rough) ** 2
        lean += ((half[..., 1] / half[..., 2] + right) / rough) ** 2
        spot = np.exp(-lean) * strength * np.float32(0.012 / rough**2)
        shiny += spot[..., None] * np.float32(colour)
    shiny += np.float32(0.04 * light.dome)
    return shiny * surface.polish[..., None]
