"""Smooth faces that only a card or their own edges line up."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.errors import PairError
from analysis.imaging.markers import marker_cells
from analysis.model.photo import Face
from analysis.services.pairing import measure_pair
from analysis.services.photos import read_photo, scale_typed

SCALE = scale_typed(0.15)
SIZE = (420, 600)
FACE = np.array([[60.0, 150.0], [60, 470], [360, 470], [360, 150]])
PITS = ((130, 230, 10), (220, 380, 9), (300, 260, 11))
TURN = np.array([[0.9998, -0.018, 13.0], [0.018, 0.9998, -8.0], [0, 0, 1]])


def shot(side, *, markers=(0, 1), ground=0.5, pits=PITS, motion=None, blur=0.8):
    """A face without texture, lit from one side; a pit is dark towards the lamp."""
    row, col = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float32)
    light = np.full(SIZE, ground, np.float32)
    cv2.fillPoly(light, [FACE[:, ::-1].astype(np.int32)], 0.5)
    light = cv2.GaussianBlur(light, (0, 0), blur) if ground != 0.5 else light
    for place, marker in zip((30, 500), markers, strict=False):
        cells = np.where(marker_cells(marker), 0.03, 0.8).astype(np.float32)
        light[150:270, place - 10 : place + 80] = 0.8
        light[175:245, place : place + 70] = np.kron(cells, np.ones((10, 10)))
    for at, to, radius in pits:
        across = side * (col - to) / radius
        pit = np.hypot(row - at, col - to) < radius
        light[pit] = (0.26 - 0.22 * across)[pit]
    light *= 1 + side * 0.04 * (col / SIZE[1] - 0.5)
    if motion is not None:
        light = cv2.warpPerspective(
            light, motion, SIZE[::-1], borderMode=cv2.BORDER_REPLICATE
        )
    light = cv2.GaussianBlur(light, (0, 0), 0.7)
    rng = np.random.default_rng(int(side) + 5)
    codes = 255 * light.clip(0, 1) ** (1 / 2.2) + rng.normal(0, 0.8, SIZE)
    file = io.BytesIO()
    grey = np.clip(codes, 0, 255).astype(np.uint8)
    Image.fromarray(np.repeat(grey[..., None], 3, axis=2)).save(file, "PNG")
    return read_photo(file.getvalue())


def measured(first, second):
    return measure_pair(first, second, scale=SCALE, face=Face(outline_px=FACE))[0]


def lies_right(second_light):
    matrix = np.array(second_light.to_second).reshape(3, 3)
    corners = np.column_stack([FACE[:, ::-1], np.ones(4)]).T
    found, true = matrix @ corners, TURN @ corners
    return np.abs(found[:2] / found[2] - true[:2] / true[2]).max()


@pytest.mark.parametrize("by", ["card", "edges"])
def test_a_smooth_face_is_lined_up_by_what_no_lamp_changes(by):
    drawn = {"markers": (0, 1)} if by == "card" else {"markers": (), "ground": 0.1}
    first, second = shot(1.0, **drawn), shot(-1.0, **drawn, motion=TURN)

    reading = measured(first, second)

    assert reading.summary.void_count == 3
    assert lies_right(reading.second_light) < 1.0
    assert 0 < reading.second_light.registration_rms_px <= 1.0
    assert reading.second_light.light_angle_deg == pytest.approx(180, abs=25)
    area = sum(np.pi * radius**2 for *_, radius in PITS)
    assert reading.summary.void_area_px == pytest.approx(area, rel=0.15)


def test_soft_edges_line_up_nothing():
    soft = {"markers": (), "ground": 0.1, "blur": 12.0}
    with pytest.raises(PairError, match="no marks in common"):
        measured(shot(1.0, **soft), shot(-1.0, **soft, motion=TURN))


def test_a_card_does_not_make_one_face_of_two():
    other = ((100, 400, 10), (330, 190, 9), (180, 300, 11))
    with pytest.raises(PairError, match="its dark spots differ"):
        measured(shot(1.0), shot(-1.0, pits=other, motion=TURN))


def test_a_small_card_far_from_the_face_is_no_more_than_a_guess():
    with pytest.raises(PairError, match="no marks in common"):
        measured(shot(1.0, markers=(0,)), shot(-1.0, markers=(0,), motion=TURN))
