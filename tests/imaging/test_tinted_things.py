"""Hands and other things of a hue of their own, drawn to their edges."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face_finding.network import BESIDE, FACE, THING
from analysis.imaging.face_finding.tinted_things import sharpened

SHAPE = (300, 400)
# sRGB of skin in the middle of a light and a dark range, and a blue glove.
PALE, DARK, GLOVE = (224, 172, 140), (110, 66, 45), (50, 90, 160)


def scene(tint):
    """Three fingers over grey concrete, the network's blot over them."""
    rng = np.random.default_rng(3)
    fingers = np.zeros(SHAPE, np.uint8)
    for row in (110, 150, 190):
        cv2.line(fingers, (0, 150), (60, 150), 1, 90)
        cv2.line(fingers, (40, row), (200, row), 1, 22)
    pixels = np.full((*SHAPE, 3), 128.0)
    pixels[fingers > 0] = tint
    # A shadow over all of it, and the grain of a photo.
    pixels *= np.linspace(1.1, 0.6, SHAPE[1])[None, :, None]
    pixels += rng.normal(0, 2, pixels.shape)
    blot = cv2.dilate(fingers, np.ones((17, 17), np.uint8)) > 0
    return pixels.clip(0, 255).astype(np.uint8), fingers > 0, blot


def answer(blot):
    likely = np.zeros((*SHAPE, 3), np.float32)
    likely[..., FACE] = 1
    likely[:, :20] = (1, 0, 0)
    likely[blot] = (0, 0.1, 0.9)
    return likely


@pytest.mark.parametrize("tint", [PALE, DARK, GLOVE])
def test_the_face_between_fingers_comes_back(tint):
    pixels, fingers, blot = scene(tint)
    found = sharpened(answer(blot), pixels).argmax(axis=2)
    thing = found == THING
    assert (thing & fingers).sum() / (thing | fingers).sum() > 0.95
    between = blot & ~fingers
    between[:, :40] = False
    assert (found[between] == FACE).mean() > 0.85


def test_what_is_freed_beside_the_piece_is_ground():
    pixels, _, blot = scene(PALE)
    found = sharpened(answer(blot), pixels).argmax(axis=2)
    assert (found[60:95, 2:15] == BESIDE).all()


@pytest.mark.parametrize("tint", [(150, 150, 150), (128, 126, 122)])
def test_grey_things_are_left_as_they_are(tint):
    pixels, _, blot = scene(tint)
    likely = answer(blot)
    assert sharpened(likely, pixels) is likely


def test_a_face_of_skins_hue_is_left_as_it_is():
    pixels, fingers, blot = scene(PALE)
    pixels[~fingers] = (pixels[~fingers] * np.array([1.3, 1.0, 0.82])).astype(np.uint8)
    likely = answer(blot)
    assert sharpened(likely, pixels) is likely
