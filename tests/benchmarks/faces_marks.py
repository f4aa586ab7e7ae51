"""What is on a face beside pits: most of it looks like a void and is none."""

from __future__ import annotations

import cv2
import numpy as np

from tests.benchmarks.faces_scene import octaves


def _soft_patches(scene, rng, wavelength_mm, cut, softness):
    field = octaves(rng, scene.shape, wavelength_mm / scene.step_mm, count=4)
    return np.clip((field - cut) / softness, 0, 1)


def _tone(scene, weight, colour):
    """Blend `colour` (a factor per channel) in by `weight` (rows, cols)."""
    for channel, factor in enumerate(colour):
        scene.albedo[..., channel] *= 1 + weight * (factor - 1)


def stains(scene, rng):
    _tone(scene, _soft_patches(scene, rng, 12, 1.3, 0.8), (0.72, 0.68, 0.6))
    spots = _soft_patches(scene, rng, 4, 2.0, 0.9)
    _tone(scene, spots, (0.75, 0.74, 0.72))
    runs = octaves(rng, scene.shape, (90 / scene.step_mm, 5 / scene.step_mm), count=3)
    _tone(scene, np.clip((runs - 1.2) / 1.2, 0, 1), (0.82, 0.76, 0.66))


def mottle(scene, rng):
    """Broad soft dark patches of a smooth, tight form."""
    _tone(scene, _soft_patches(scene, rng, 30, -0.4, 1.6), (0.7, 0.71, 0.73))
    _tone(scene, _soft_patches(scene, rng, 7, 0.3, 1.5), (0.86, 0.86, 0.87))


def bloom(scene, rng):
    base = scene.albedo.mean(axis=(0, 1))
    white = np.minimum(3.0, 1 + 0.9 / np.maximum(base, 0.3))
    _tone(scene, 0.5 * _soft_patches(scene, rng, 18, 0.9, 0.5), white)
    dots = _polygons(scene, rng, count_per_cm2=0.25, median_mm=1.6, spread=0.5)
    powder = cv2.GaussianBlur(
        (dots > 0).astype(np.float32), (0, 0), 0.25 / scene.step_mm
    )
    _tone(scene, 0.6 * powder, white)


def damp(scene, rng):
    field = octaves(rng, scene.shape, 70 / scene.step_mm, count=5, fade=0.45)
    _tone(scene, np.clip((field - 0.3) / 0.25, 0, 1), (0.62, 0.62, 0.63))


def _polygons(scene, rng, *, count_per_cm2, median_mm, spread, largest_mm=12.0):
    """Number image of sharp-edged stones; later ones lie on earlier ones."""
    high, wide = scene.size_mm
    numbers = np.zeros(scene.shape, np.int32)
    for number in range(1, int(count_per_cm2 * high * wide / 100) + 1):
        radius = min(median_mm * np.exp(spread * rng.standard_normal()), largest_mm) / 2
        corners = rng.integers(5, 10)
        angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
        reach = radius * rng.uniform(0.7, 1.15, corners) / scene.step_mm
        centre = rng.uniform(0, 1, 2) * scene.shape
        points = np.stack(
            [centre[1] + reach * np.cos(angle), centre[0] + reach * np.sin(angle)], 1
        )
        cv2.fillPoly(numbers, [np.int32(points * 16)], number, shift=4)
    return numbers


def _paint_stones(scene, rng, numbers, palette, weights):
    palette = np.asarray(palette, np.float32)
    picked = palette[rng.choice(len(palette), numbers.max() + 1, p=weights)]
    picked *= np.exp(rng.normal(0, 0.12, (len(picked), 1))).astype(np.float32)
    stone = numbers > 0
    scene.albedo[stone] = (picked * scene.albedo.mean(axis=(0, 1)))[numbers[stone]]
    grit = octaves(rng, scene.shape, max(2.0, 0.6 / scene.step_mm), count=2)
    scene.albedo[stone] *= (1 + 0.05 * grit[stone])[:, None]


def grain(scene, rng):
    """Dark grains ground flush with the face."""
    numbers = _polygons(scene, rng, count_per_cm2=2.2, median_mm=1.1, spread=0.45)
    _paint_stones(
        scene, rng, numbers, [(0.35, 0.35, 0.37), (0.55, 0.5, 0.45)], (0.7, 0.3)
    )


def fine_grain(scene, rng):
    numbers = _polygons(scene, rng, count_per_cm2=14.0, median_mm=0.55, spread=0.35)
    _paint_stones(
        scene, rng, numbers, [(0.45, 0.45, 0.45), (1.3, 1.3, 1.28)], (0.75, 0.25)
    )


def terrazzo(scene, rng):
    numbers = _polygons(scene, rng, count_per_cm2=4.0, median_mm=3.2, spread=0.6)
    palette = [(0.3, 0.3, 0.32), (0.6, 0.55, 0.5), (1.3, 1.28, 1.2), (0.9, 0.75, 0.65)]
    _paint_stones(scene, rng, numbers, palette, (0.25, 0.3, 0.3, 0.15))


def _distance_to(scene, points_mm):
    """Distance of each sample to a polyline of (row, col) points, mm."""
    canvas = np.full(scene.shape, 255, np.uint8)
    points = np.int32(np.asarray(points_mm)[:, ::-1] / scene.step_mm * 16)
    cv2.polylines(canvas, [points], isClosed=False, color=0, shift=4)
    return cv2.distanceTransform(canvas, cv2.DIST_L2, 5) * scene.step_mm


def _walk(rng, start_mm, heading, length_mm, *, stride_mm=1.2, sway=0.35):
    steps = int(length_mm / stride_mm)
    turns = heading + np.cumsum(rng.normal(0, sway * 0.4, steps))
    turns += rng.normal(0, sway, steps)
    moves = stride_mm * np.stack([np.sin(turns), np.cos(turns)], 1)
    return np.vstack([start_mm, start_mm + np.cumsum(moves, axis=0)])


def _groove(scene, distance, width_mm, depth_mm):
    cut = distance < np.maximum(width_mm, 1.2 * scene.step_mm) / 2
    scene.height_mm[cut] = np.minimum(scene.height_mm[cut], -depth_mm)
    scene.gloom[cut] = 0.6
    scene.lines |= cut


def cracks(scene, rng):
    high, wide = scene.size_mm
    for _ in range(2):
        start = np.array([rng.uniform(0.1, 0.9) * high, -2.0])
        path = _walk(rng, start, rng.normal(0, 0.3), 1.2 * wide)
        paths = [(path, rng.uniform(0.25, 0.6))]
        knot = path[rng.integers(len(path) // 4, len(path) * 3 // 4)]
        branch = _walk(rng, knot, rng.choice([-1, 1]) * 0.9, 0.3 * wide)
        paths.append((branch, 0.2))
        for points, width in paths:
            swell = 1 + 0.45 * octaves(rng, scene.shape, 5 / scene.step_mm, count=3)
            swell = np.clip(swell, 0.25, 2.2)
            _groove(scene, _distance_to(scene, points), width * swell, 1.5)


def open_joint(scene, rng):
    high, wide = scene.size_mm
    row = rng.uniform(0.25, 0.75) * high
    tilt = rng.normal(0, 0.03) * wide
    distance = _distance_to(scene, [(row, -1.0), (row + tilt, wide + 1)])
    swell = 1 + 0.2 * octaves(rng, scene.shape, 8 / scene.step_mm, count=3)
    _groove(scene, distance, rng.uniform(0.8, 1.5) * swell, 2.5)
    # paste lost beside an open joint: darker, rougher skin
    beside = np.exp(-((distance / 4) ** 2))
    _tone(scene, 0.5 * beside, (0.8, 0.79, 0.77))
    scene.height_mm += (
        0.015 * beside * octaves(rng, scene.shape, 0.8 / scene.step_mm, count=2)
    )


def fins(scene, rng):
    high, wide = scene.size_mm
    for _ in range(2):
        row = rng.uniform(0.15, 0.85) * high
        distance = _distance_to(
            scene, [(row, -1.0), (row + rng.normal(0, 0.02) * wide, wide + 1)]
        )
        torn = 0.7 + 0.5 * octaves(
            rng, scene.shape, (40 / scene.step_mm, 4 / scene.step_mm), count=3
        )
        ridge = np.clip(1 - (distance / rng.uniform(0.45, 0.8)) ** 2, 0, 1)
        scene.height_mm += rng.uniform(0.35, 0.8) * ridge * np.clip(torn, 0, 1.5)
        scene.lines |= ridge > 0


def scratches(scene, rng):
    high, wide = scene.size_mm
    for _ in range(18):
        start = rng.uniform(0, 1, 2) * (high, wide)
        turn, length = rng.normal(0.5, 0.6), rng.uniform(8, 45)
        end = start + length * np.array([np.sin(turn), np.cos(turn)])
        width = max(rng.uniform(0.1, 0.3), 1.2 * scene.step_mm)
        cut = _distance_to(scene, [start, end]) < width / 2
        scene.height_mm[cut] -= rng.uniform(0.03, 0.1)
        scene.albedo[cut] *= rng.choice([0.7, 1.18])
        scene.lines |= cut


def board_grain(scene, rng):
    step = scene.step_mm
    veins = octaves(rng, scene.shape, (1.6 / step, 70 / step), count=3, fade=0.6)
    bend = octaves(rng, scene.shape, (12 / step, 120 / step), count=2)
    scene.height_mm += 0.035 * veins + 0.03 * bend
    _tone(scene, 0.12 * np.clip(veins, -2, 2), (0.4, 0.4, 0.38))
    high, wide = scene.size_mm
    for row in np.arange(rng.uniform(10, 35), high, 45.0):
        distance = _distance_to(scene, [(row, -1.0), (row, wide + 1)])
        ridge = np.clip(1 - (distance / 0.6) ** 2, 0, 1)
        scene.height_mm += 0.35 * ridge
        scene.lines |= ridge > 0


def fibre_shadows(scene, rng):
    high, wide = scene.size_mm
    ghost = np.zeros(scene.shape, np.float32)
    for _ in range(int(high * wide / 220)):
        start = rng.uniform(0, 1, 2) * (high, wide)
        path = _walk(rng, start, rng.uniform(0, 7), rng.uniform(6, 18), sway=0.12)
        points = np.int32(path[:, ::-1] / scene.step_mm * 16)
        width = max(1, round(0.3 / scene.step_mm))
        strength = float(rng.uniform(0.3, 1))
        cv2.polylines(ghost, [points], False, strength, width, cv2.LINE_8, 4)
    _tone(scene, cv2.GaussianBlur(ghost, (0, 0), 0.12 / scene.step_mm), [0.68] * 3)


def mould_ribs(scene, rng):
    columns = np.arange(scene.shape[1]) * scene.step_mm
    pitch = rng.uniform(0.7, 1.1)
    scene.height_mm += 0.02 * np.sin(2 * np.pi * columns / pitch)[None, :].astype("f4")


def honeycomb(scene, rng):
    """A patch where paste is missing: gaps between coarse, half bare stones."""
    high, wide = scene.size_mm
    step = scene.step_mm
    centre = (rng.uniform(0.3, 0.7) * high, rng.uniform(0.3, 0.7) * wide)
    rows, cols = np.ogrid[: scene.shape[0], : scene.shape[1]]
    away = np.hypot(
        (rows * step - centre[0]) / (0.17 * high),
        (cols * step - centre[1]) / (0.22 * wide),
    )
    patch = away + 0.25 * octaves(rng, scene.shape, 15 / step, count=3) < 1
    lumps = octaves(rng, scene.shape, 7 / step, count=3, fade=0.55)
    gaps = (patch & (lumps < -0.25)).astype(np.uint8)
    count, numbers, stats, _ = cv2.connectedComponentsWithStats(gaps, connectivity=4)
    keep = stats[:, cv2.CC_STAT_AREA] * step**2 > 0.8
    keep[0] = False
    gap = keep[numbers]
    into = cv2.distanceTransform(gap.astype(np.uint8), cv2.DIST_L2, 5) * step
    scene.height_mm[gap] -= np.clip(0.5 + 2.2 * into[gap], 0, 5)
    stones = patch & ~gap
    rough = octaves(rng, scene.shape, 2 / step, count=3)
    scene.height_mm[stones] += 0.06 * rough[stones] - 0.05
    names = np.zeros(count, np.int32)
    names[keep] = scene.count + 1 + np.arange(keep.sum())
    scene.count += int(keep.sum())
    scene.labels[gap] = names[numbers[gap]]
    scene.honeycomb |= patch


MARKS = {
    mark.__name__: mark
    for mark in (
        stains, mottle, bloom, damp, grain, fine_grain, terrazzo, cracks, open_joint,
        fins, scratches, board_grain, fibre_shadows, mould_ribs, honeycomb,
    )
}  # fmt: skip
