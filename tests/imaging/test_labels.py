"""Small printed labels on a face, and what looks like one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face import polygon_mask
from analysis.imaging.face_finding.labels import labels_in

SHAPE = (500, 700)


def face(*, tone=150):
    rng = np.random.default_rng(2)
    pixels = tone + rng.normal(0, 3, (*SHAPE, 1)) + np.zeros(3)
    for _ in range(60):
        at = rng.integers(20, 480, 2).tolist()
        cv2.circle(pixels, at, int(rng.integers(1, 4)), (40, 40, 40), -1)
    return pixels


def with_label(pixels, *, turn=20.0, paper=(235, 235, 230), ink=25, long=50):
    corners = cv2.boxPoints(((350, 250), (long, 36), turn))
    cv2.fillPoly(pixels, [corners.round().astype(np.int32)], paper)
    if ink is not None:
        printed = cv2.boxPoints(((350, 250), (long / 2, 18), turn))
        cv2.fillPoly(pixels, [printed.round().astype(np.int32)], (ink, ink, ink))
    return corners


def found(pixels):
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.8).clip(0, 255).astype(np.uint8)
    return labels_in(pixels, np.ones(SHAPE, bool))


@pytest.mark.parametrize("turn", [0.0, 20.0, 45.0, 80.0])
@pytest.mark.parametrize("tone", [60, 150, 205])
def test_a_label_is_found_to_its_edges(turn, tone):
    pixels = face(tone=tone)
    corners = with_label(pixels, turn=turn)
    (line,) = found(pixels)
    ours = polygon_mask(line, SHAPE)
    true = polygon_mask(corners[:, ::-1].astype(float), SHAPE)
    assert (ours & true).sum() / (ours | true).sum() > 0.75


@pytest.mark.parametrize(
    "kind",
    [{"ink": None}, {"paper": (235, 190, 90)}, {"long": 330}, {"paper": (154,) * 3}],
    ids=["a pale patch", "a tinted one", "a long one", "one of the face's tone"],
)
def test_what_is_no_label_stays(kind):
    pixels = face()
    with_label(pixels, **kind)
    assert found(pixels) == []


def test_lime_round_voids_stays():
    pixels = face()
    cv2.ellipse(pixels, (350, 250), (40, 25), 15, 0, 360, (230, 230, 226), -1)
    cv2.circle(pixels, (350, 250), 12, (30, 30, 30), -1)
    assert found(pixels) == []
