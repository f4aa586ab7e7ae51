"""Outlines along loose ground: straight where the form was straight."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face_finding.edges import stepped
from analysis.imaging.face_finding.stiffness import stiffened, stiffest_way

HIGH, WIDE = 840, 1120
FACE, STONE = 60.0, 150.0
TURNS = np.linspace(0, 2 * np.pi, 720, endpoint=False)
SQUARE = np.array([(200, 300), (200, 800), (640, 800), (640, 300)], float)
LEG = np.array(
    [(200, 300), (200, 500), (420, 500), (420, 800), (640, 800), (640, 300)], float
)
DISC = np.stack([420 + 220 * np.sin(TURNS), 560 + 220 * np.cos(TURNS)], 1)


def inside_of(corners):
    mask = np.zeros((HIGH, WIDE), np.uint8)
    points = np.round(np.asarray(corners)[:, ::-1] * 16).astype(np.int32)
    cv2.fillPoly(mask, [points], 1, shift=4)
    return mask > 0


def on_stones(corners):
    """CIE Lab in 8 bits: a dark face on pale stones, the gaps as dark as the face."""
    lot = np.random.default_rng(3)
    light = np.full((HIGH, WIDE), FACE - 4, np.float32)
    for _ in range(2600):
        at = (int(lot.integers(WIDE)), int(lot.integers(HIGH)))
        cv2.circle(light, at, int(lot.integers(8, 14)), STONE, -1)
    light[inside_of(corners)] = FACE
    lab = np.full((HIGH, WIDE, 3), 128, np.float32)
    lab[..., 0] = light + lot.normal(0, 2, light.shape)
    return cv2.GaussianBlur(lab, (0, 0), 1.0)


def astray(corners, far):
    """The outline, wandering to and fro by some px, one point a little beyond it."""
    line = stepped(np.asarray(corners, float))
    middle = line.mean(axis=0)
    away = (line - middle) / np.hypot(*(line - middle).T)[:, None]
    wave = far * np.maximum(np.sin(np.arange(len(line)) / 5.0), 0)
    return line + wave[:, None] * away


def wrong_px(line, corners):
    return int((inside_of(line) ^ inside_of(corners)).sum())


@pytest.mark.parametrize("corners", [SQUARE, LEG, DISC], ids=["square", "leg", "disc"])
def test_a_line_that_wanders_between_stones_is_drawn_back(corners):
    rough = astray(corners, 8.0)
    found = stiffened(rough, on_stones(corners))
    # In gaps as dark as the face nothing tells where it ends but the line itself.
    assert wrong_px(found, corners) < 0.7 * wrong_px(rough, corners)


@pytest.mark.parametrize("corners", [SQUARE, LEG, DISC], ids=["square", "leg", "disc"])
def test_a_line_on_the_edge_stays(corners):
    lab = np.full((HIGH, WIDE, 3), 128, np.float32)
    lab[..., 0] = np.where(inside_of(corners), 150, 70)
    found = stiffened(stepped(corners), cv2.GaussianBlur(lab, (0, 0), 1.0))
    # One px about: the line may lie anywhere in the soft edge.
    assert wrong_px(found, corners) < 1.2 * len(stepped(corners)) * 2


def test_at_the_frame_nothing_is_changed():
    lab = np.full((HIGH, WIDE, 3), 128, np.float32)
    frame = np.array([(0, 0), (0, WIDE - 1), (HIGH - 1, WIDE - 1), (HIGH - 1, 0)])
    line = stepped(frame.astype(float))
    found = stiffened(line, lab)
    assert wrong_px(found, frame) < 0.01 * HIGH * WIDE


def test_a_turn_is_worth_what_it_saves():
    links = np.zeros((10, 3, 3))
    links[:, 1:] = 2.0
    links[:, :, 1:] += 2.0
    # From the fourth to the sixth node the way farther in saves nine on each link.
    links[4:6] = 9.0
    links[4:6, 2, 2] = 0.0
    links[3, 0, 2] = links[6, 2, 0] = 0.0
    assert stiffest_way(links, np.zeros(10), 1.0).tolist()[4:7] == [2, 2, 2]
    assert not stiffest_way(links, np.zeros(10), 20.0).any()


def test_a_line_that_is_bent_evenly_need_not_be_straightened():
    # All places alike: the line stays where it is bent as it is.
    links = np.ones((12, 5, 5))
    for node in range(12):
        links[node, 2, 2] = 0.9
    assert stiffest_way(links, np.full(12, -1.5), 3.0).tolist() == [2] * 12
