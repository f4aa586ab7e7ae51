"""Drawn hands, bare or in gloves, with a sleeve: fingers to the right, arm to the left.

Skin: linear reflectances between a very pale and a very dark one (order of magnitude as
measured on skin by spectrophotometers; values from memory), always redder than blue.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.textures import between, colour, rough

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]

HAND_PX = (220, 330)
_PALM = (150, 110)
_PALE, _DARK = np.array([0.62, 0.40, 0.30]), np.array([0.10, 0.050, 0.033])
# Bare rubber, black, blue and white gloves, cowhide.
_GLOVES = ((0.03, 0.03, 0.03), (0.1, 0.2, 0.5), (0.75, 0.75, 0.72), (0.55, 0.4, 0.2))


def hand_light(rng: np.random.Generator) -> tuple[Light, Light, tuple[float, float]]:
    """Draw a hand.

    Returns
    -------
    light : ndarray of float32, (rows, cols, 3)
    cover : ndarray of float32, (rows, cols)
        1 where the hand is.
    tip : tuple of float
        x, y of the longest finger's tip, px.

    Examples
    --------
    >>> light, cover, tip = hand_light(np.random.default_rng(1))
    >>> light.shape[:2] == cover.shape == HAND_PX, bool(tip[0] > 150)
    (True, True)
    """
    cover, sleeve, creases, nails = (np.zeros(HAND_PX, np.float32) for _ in range(4))
    wide = int(rng.integers(14, 27))
    cv2.ellipse(cover, _PALM, (int(wide * 2.6), int(wide * 2.2)), 0, 0, 360, 1, -1)
    arm = int(wide * rng.uniform(2, 3.6))
    cv2.line(cover, (0, _PALM[1]), _PALM, 1, arm)
    tip = (float(_PALM[0]), float(_PALM[1]))
    spread = rng.uniform(9, 27)
    for finger in range(int(rng.integers(1, 6))):
        lean = np.radians((finger - 2) * spread + rng.uniform(-7, 7))
        long = wide * rng.uniform(2.5, 6.5)
        way = np.array([np.cos(lean), np.sin(lean)])
        base = np.array(_PALM) + wide * 1.8 * way * (1, 0.9)
        ends = np.array([base, base + long * way]).astype(int).tolist()
        thick = int(wide * rng.uniform(0.85, 1.1))
        cv2.line(creases, ends[0], ends[1], 1, thick + 3)
        cv2.line(creases, ends[0], ends[1], 0, thick - 1)
        cv2.line(cover, ends[0], ends[1], 1, thick)
        nail = (base + long * way * 0.97).astype(int).tolist()
        cv2.ellipse(
            nails,
            nail,
            (max(2, thick // 3), max(2, thick // 4)),
            float(np.degrees(lean)),
            0,
            360,
            1,
            -1,
        )
        if ends[1][0] > tip[0]:
            tip = (float(ends[1][0]), float(ends[1][1]))
    gloved = rng.random() < 0.42
    ratio = rng.uniform(0, 1)
    skin = np.exp((1 - ratio) * np.log(_PALE) + ratio * np.log(_DARK))
    skin = skin * colour(rng, 0.08)
    if gloved:
        skin = np.array(_GLOVES[rng.integers(4)]) * between(rng, 0.5, 1.3)
        if rng.random() < 0.4:
            skin = between(rng, 0.03, 0.5) * colour(rng, 0.7)
    inner = cv2.distanceTransform(cover.astype(np.uint8), cv2.DIST_L2, 3) / wide
    tone = rng.uniform(0.35, 0.7) + 0.5 * np.sqrt(np.clip(inner * 1.6, 0, 1))
    tone *= 1 - rng.uniform(0.1, 0.6) * cv2.GaussianBlur(creases, (0, 0), 1.0)
    tone *= 1 + rng.uniform(0.02, 0.12) * rough(rng, HAND_PX, between(rng, 3, 16))
    light = (tone[..., None] * skin).astype(np.float32)
    if not gloved and rng.random() < 0.6:
        pale = rng.uniform(0.1, 0.5) * cv2.GaussianBlur(nails, (0, 0), 0.8)
        light += pale[..., None] * (np.array([0.54, 0.38, 0.32], np.float32) - light)
    if rng.random() < 0.5:
        end = int(rng.uniform(20, 110))
        cv2.line(sleeve, (0, _PALM[1]), (end, _PALM[1]), 1, arm + 14)
        cloth = between(rng, 0.01, 0.7) * colour(rng, rng.uniform(0, 0.6))
        folds = 1 + 0.3 * rough(rng, HAND_PX, between(rng, 8, 30))
        there = sleeve > 0
        light[there] = (np.maximum(folds, 0.1)[..., None] * cloth)[there]
        cover = np.maximum(cover, sleeve)
    return light, cover, tip
