"""Tabs of ground past an inward corner: cut off; corners of the piece: left."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from analysis.imaging.face_finding.edges import stepped
from analysis.imaging.face_finding.tabs import without_tabs

HIGH, WIDE = 840, 1120
TAB = [(172, 300), (170, 342), (198, 346)]
SQUARE = [(200, 800), (700, 800), (700, 300)]
FACE, MOUTH = 140.0, 80.0
NO_THING = np.zeros((9, 9), bool)


def lab(light):
    picture = np.full((HIGH, WIDE, 3), 128, np.float32)
    picture[..., 0] = light
    return cv2.GaussianBlur(picture, (0, 0), 1.0)


def pot(tab=MOUTH):
    """A face, its mouth above it, the ground farther out; the tab of any colour."""
    light = np.full((HIGH, WIDE), 190, np.float32)
    light[150:200, 300:800] = MOUTH
    light[150:200, 300:346] = tab
    light[200:700, 300:800] = FACE
    return lab(light)


def line(*points):
    return stepped(np.array(points, float))


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_end_of_a_mouth_is_cut_off(way, mirrored):
    rough, picture = line(*TAB, (200, 352), *SQUARE), pot()
    if mirrored:
        rough, picture = rough * (1, -1) + (0, WIDE - 1), picture[:, ::-1]
    found = without_tabs(rough[::way], picture, NO_THING)
    assert rough[:, 0].min() < 175
    assert found[:, 0].min() > 196


def test_along_a_bent_rim_the_tab_is_cut_along_the_bend():
    turns = np.linspace(0, np.pi, 80)[1:-1]
    rim = np.stack([200 + 60 * np.sin(turns), 550 - 250 * np.cos(turns)], 1)
    light = np.full((HIGH, WIDE), 190, np.float32)
    light[150:300, 300:801] = MOUTH
    face = [(200, 300), *rim, (200, 800), (700, 800), (700, 300)]
    mask = np.zeros((HIGH, WIDE), np.uint8)
    cv2.fillPoly(mask, [np.round(face).astype(np.int32)[:, ::-1]], 1)
    light[mask > 0] = FACE
    cut = rim[rim[:, 1] > 350]
    rough = line((180, 300), (176, 350), *cut, (200, 800), (700, 800), (700, 300))
    found = without_tabs(rough, lab(light), NO_THING)
    drawn = np.zeros((HIGH, WIDE), np.uint8)
    cv2.fillPoly(drawn, [np.round(found).astype(np.int32)[:, ::-1]], 1)
    assert ((drawn > 0) & (mask == 0))[:, 300:360].sum() < 300


def test_a_tab_of_the_faces_own_colour_stays():
    rough = line(*TAB, (200, 352), *SQUARE)
    assert without_tabs(rough, pot(tab=FACE), NO_THING) is rough


def test_where_face_and_ground_are_alike_nothing_is_told():
    rough = line(*TAB, (200, 352), *SQUARE)
    assert without_tabs(rough, lab(np.full((HIGH, WIDE), FACE)), NO_THING) is rough


def test_a_leg_is_no_tab():
    light = np.full((HIGH, WIDE), MOUTH, np.float32)
    light[200:700, 300:500] = FACE
    light[500:700, 300:800] = FACE
    leg = line((200, 300), (200, 500), (500, 500), (500, 800), (700, 800), (700, 300))
    assert without_tabs(leg, lab(light), NO_THING) is leg


def test_without_an_inward_corner_nothing_is_looked_at():
    square = line((200, 300), *SQUARE)
    assert without_tabs(square, pot(), NO_THING) is square


def test_beside_a_thing_nothing_is_cut_off():
    rough = line(*TAB, (200, 352), *SQUARE)
    assert without_tabs(rough, pot(), np.ones((9, 9), bool)) is rough


def test_loose_ground_of_many_colours_tells_nothing():
    rough, picture = line(*TAB, (200, 352), *SQUARE), pot()
    lot = np.random.default_rng(5).uniform(40, 200, (10, 100)).astype(np.float32)
    ground = cv2.resize(lot, (WIDE, 100), interpolation=cv2.INTER_NEAREST)
    picture[99:199, :, 0] = ground
    assert without_tabs(rough, picture, NO_THING) is rough
