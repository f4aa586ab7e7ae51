"""What is on a face and is no void, and the honeycomb nest, which is many.

Only a nest's gaps, and the chips of a torn arris, open the face; all else is tone,
shallow relief or a line.
"""

from __future__ import annotations

import cv2
import numpy as np

from tests.benchmarks.shop import noise


def _across(surface, rng, along_rows=True):
    """Distance in mm from a line right across the face, and the line's own side."""
    high, wide = surface.size_mm
    rows = (np.arange(surface.shape[0], dtype=np.float32) + 0.5) * surface.step_mm
    cols = (np.arange(surface.shape[1], dtype=np.float32) + 0.5) * surface.step_mm
    lean = rng.normal(0, 0.08)
    if along_rows:
        return rows[:, None] - rng.uniform(0.25, 0.75) * high - lean * cols[None]
    return cols[None] - rng.uniform(0.25, 0.75) * wide - lean * rows[:, None]


def stains(surface, rng):
    spots = noise.soft_patches(rng, surface.shape, surface.px(14), 0.07)
    surface.tint(spots, (0.74, 0.7, 0.62))
    drops = noise.soft_patches(rng, surface.shape, surface.px(4), 0.03, softness=1.2)
    surface.tint(drops, (0.8, 0.79, 0.76))


def damp(surface, rng):
    wet = noise.soft_patches(rng, surface.shape, surface.px(70), 0.35, softness=0.3)
    surface.tint(wet, (0.66, 0.66, 0.67))
    surface.polish += 0.15 * wet


def efflorescence(surface, rng):
    bloom = noise.soft_patches(rng, surface.shape, surface.px(18), 0.2, softness=1.0)
    dust = noise.specks(rng, surface.shape, max(3.0, surface.px(1.0)), 0.06)
    cover = np.clip(0.5 * bloom + 0.4 * bloom * dust, 0, 0.8)[..., None]
    surface.albedo += cover * (0.72 - surface.albedo)


def release_streaks(surface, rng):
    """The agent ran down the form: long soft streaks, dark and bright."""
    runs = noise.field(
        rng, surface.shape, surface.px(60), surface.px(3), stretch=(1, 0.1), hurst=0.5
    )
    surface.tint(np.clip(0.045 * runs, -0.12, 0.15), (0, 0, 0.05))


def rust(surface, rng):
    spots = noise.soft_patches(rng, surface.shape, surface.px(6), 0.03, softness=1.0)
    surface.tint(spots, (0.85, 0.62, 0.42))


def grooves(surface, rng):
    """Dents that fibres or scratches of the form left: short, thin, shallow."""
    high, wide = surface.size_mm
    dent = np.zeros(surface.shape, np.float32)
    for _ in range(int(high * wide / 500)):
        start = rng.uniform(0, 1, 2) * (high, wide)
        turn, length = rng.normal(0.8, 0.5), rng.uniform(4, 18)
        bend = rng.normal(0, 0.08, 8).cumsum()
        steps = np.stack([np.sin(turn + bend), np.cos(turn + bend)], 1) * length / 8
        path = start + np.concatenate([np.zeros((1, 2)), steps.cumsum(axis=0)])
        points = np.int32(path[:, ::-1] / surface.step_mm * 16)
        deep = float(rng.uniform(0.3, 1))
        cv2.polylines(dent, [points], False, deep, max(1, round(surface.px(0.3))), 8, 4)
    dent = cv2.GaussianBlur(dent, (0, 0), max(0.8, surface.px(0.12)))
    surface.height -= 0.12 * dent
    surface.active |= dent > 0.1
    surface.lines |= dent > 0.2


def cracks(surface, rng):
    high, wide = surface.size_mm
    cut = np.zeros(surface.shape, np.uint8)
    for _ in range(2):
        at, turn = rng.uniform(0.1, 0.9, 2) * (high, wide), rng.uniform(0, 2 * np.pi)
        path = [at]
        for _ in range(int(rng.uniform(40, 90))):
            turn += rng.normal(0, 0.32)
            path.append(path[-1] + 1.1 * np.array([np.sin(turn), np.cos(turn)]))
        points = np.int32(np.array(path)[:, ::-1] / surface.step_mm * 16)
        thick = max(1, round(surface.px(rng.uniform(0.12, 0.3))))
        cv2.polylines(cut, [points], False, 1, thick, 8, 4)
    open_crack = cut > 0
    surface.height[open_crack] -= 0.6
    surface.active |= cv2.dilate(cut, np.ones((5, 5), np.uint8)) > 0
    surface.lines |= open_crack


def joint(surface, rng):
    """A joint of the form: a ridge (fin), a small step, a darker band."""
    away = _across(surface, rng, along_rows=bool(rng.random() < 0.5))
    torn = noise.field(rng, surface.shape, surface.px(6), surface.px(0.6), hurst=0.4)
    wide = rng.uniform(0.35, 0.7)
    ridge = np.clip(1 - (away / wide) ** 2, 0, 1) * np.clip(0.7 + 0.5 * torn, 0, 1.6)
    surface.height += np.float32(rng.uniform(0.2, 0.6)) * ridge
    surface.height += np.where(away > 0, np.float32(rng.uniform(0, 0.15)), 0)
    surface.tint(0.6 * np.exp(-((away / 3) ** 2)), (0.8, 0.79, 0.77))
    surface.active |= np.abs(away) < 2 * wide
    surface.lines |= np.abs(away) < wide + 0.2


def leak(surface, rng):
    """Paste ran out at a joint: a band of bare sand, rough, without one void."""
    away = _across(surface, rng)
    ragged = noise.field(rng, surface.shape, surface.px(12), surface.px(1), hurst=0.5)
    reach = rng.uniform(2.5, 5)
    band = np.clip(1.2 - (np.abs(away) / (reach * (1 + 0.35 * ragged))) ** 2, 0, 1)
    grit = noise.field(rng, surface.shape, surface.px(1.4), surface.px(0.35), hurst=0.4)
    surface.height += (0.09 * grit - 0.12) * band
    surface.tint(band, (0.8, 0.77, 0.72))
    grains = noise.specks(rng, surface.shape, max(3.0, surface.px(0.7)), 0.3)
    surface.tint(0.5 * band * grains, (0.6, 0.58, 0.55))
    surface.active |= band > 0.2
    surface.lines |= np.abs(away) < 0.5


def arris(surface, rng):
    """An edge between two faces: the other face leans away, the edge is chipped."""
    away = _across(surface, rng, along_rows=bool(rng.random() < 0.5))
    slope = np.float32(np.tan(np.radians(rng.uniform(14, 30))))
    soft = 0.5  # radius of the arris
    surface.height -= slope * soft * np.logaddexp(0, away / soft).astype(np.float32)
    chips = noise.field(rng, surface.shape, surface.px(5), surface.px(0.8), hurst=0.6)
    torn = np.clip(0.9 * chips - 0.6 - (away / 0.9) ** 2, 0, 0.5)
    surface.height -= torn
    surface.tint(np.float32(torn > 0.05), (1.12, 1.1, 1.06))
    surface.active |= np.abs(away) < 2.5
    surface.lines |= np.abs(away) < 1.6


def grain(surface, rng):
    """Ground face: flush aggregate cut through, dark and light, sharp-edged."""
    for size, cover in ((3.5, 0.1), (1.2, 0.12), (0.6, 0.08)):
        stones = noise.specks(rng, surface.shape, surface.px(size), cover, 0.12)
        tone = noise.field(rng, surface.shape, surface.px(4), surface.px(2), hurst=0.4)
        factor = np.exp(np.clip(0.38 * tone - 0.15, -1, 0.5))
        surface.albedo *= (1 + stones * (factor - 1))[..., None]
    surface.polish += 0.3


def nest(surface, rng):
    """Honeycomb: stones without paste between them, sand where paste just held."""
    high, wide = surface.size_mm
    centre = rng.uniform(0.3, 0.7, 2) * (high, wide)
    rows = (np.arange(surface.shape[0], dtype=np.float32) * surface.step_mm)[:, None]
    cols = (np.arange(surface.shape[1], dtype=np.float32) * surface.step_mm)[None]
    reach = rng.uniform(0.1, 0.16) * max(high, wide)
    away = np.hypot((rows - centre[0]) / reach, (cols - centre[1]) / (1.5 * reach))
    ragged = noise.field(rng, surface.shape, surface.px(14), surface.px(1.5), hurst=0.5)
    patch = away + 0.3 * ragged < 1
    tops = _stones(surface, rng, centre, 1.9 * reach)
    sunk = np.minimum(tops, 0) - 0.15
    gap = patch & (sunk < -1.7)
    edge = cv2.GaussianBlur(np.float32(patch), (0, 0), surface.px(0.4))
    surface.height += edge * (np.maximum(sunk, -5) - surface.height)
    sandy = noise.field(rng, surface.shape, surface.px(1.5), surface.px(0.3), hurst=0.3)
    surface.height += 0.06 * edge * sandy
    surface.tint(edge, (0.92, 0.88, 0.82))
    surface.active |= edge > 0.02
    surface.honeycomb |= patch
    _number_gaps(surface, gap)


def _stones(surface, rng, centre, reach_mm):
    """Height of the upper side of stones heaped in a pocket, mm."""
    top = np.full(surface.shape, -5.0, np.float32)
    for _ in range(int(1.7 * reach_mm**2 / 9)):
        radius = rng.uniform(2.0, 4.5)
        at = centre + rng.uniform(-1, 1, 2) * (reach_mm * 0.7, reach_mm)
        low = np.maximum(((at - radius) / surface.step_mm).astype(int), 0)
        high = np.minimum(((at + radius) / surface.step_mm).astype(int), surface.shape)
        if np.any(high - low < 3):
            continue
        yy, xx = np.mgrid[low[0] : high[0], low[1] : high[1]].astype(np.float32)
        y, x = yy * surface.step_mm - at[0], xx * surface.step_mm - at[1]
        turn, flat = rng.uniform(0, np.pi), rng.uniform(0.7, 1.3)
        u2 = ((x * np.cos(turn) + y * np.sin(turn)) * flat) ** 2
        u2 += ((y * np.cos(turn) - x * np.sin(turn)) / flat) ** 2
        bump = np.sqrt(np.maximum(radius**2 - u2, 0)) - radius + rng.uniform(-1.0, 0.3)
        here = top[low[0] : high[0], low[1] : high[1]]
        np.maximum(here, np.where(u2 < radius**2, bump, -5.0), out=here)
    return top


def _number_gaps(surface, gap):
    count, numbers, stats, _ = cv2.connectedComponentsWithStats(
        np.uint8(gap), connectivity=4
    )
    keep = stats[:, cv2.CC_STAT_AREA] * surface.step_mm**2 > 0.6
    keep[0] = False
    names = np.zeros(count, np.int32)
    names[keep] = len(surface.caves) + np.arange(keep.sum())
    surface.caves += [1.0] * int(keep.sum())
    sharp = np.repeat(np.repeat(names[numbers], 2, axis=0), 2, axis=1)
    np.copyto(surface.canvas, sharp, where=(sharp > 0) & (surface.canvas == 0))


MARKS = {
    mark.__name__: mark
    for mark in (
        stains, damp, efflorescence, release_streaks, rust, grooves, cracks, joint,
        leak, arris, grain, nest,
    )
}  # fmt: skip
