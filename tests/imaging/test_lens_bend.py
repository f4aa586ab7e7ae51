"""Bent lines: against OpenCV's camera model, and on drawn sheets and rulers."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from analysis.imaging.lens_bend import (
    Bend,
    bend_by_plane,
    bent,
    scale_doubt,
    straight,
    usual_bend,
)
from analysis.imaging.viewing import seen as shown_by
from analysis.imaging.viewing import to_photo, to_view
from analysis.model.photo import Scale
from analysis.model.sheet import SHEET_MARKERS, WHITE_EDGE_MM, corners_mm
from analysis.services.sheets import view_by_sheet, with_lens_doubt
from tests.support.cameras import face_to_photo, moved, paper_sheet, pasted, seen
from tests.support.drawn_faces import photo_of

SHAPE = (1500, 2000)
PRINTED = np.concatenate([np.array(corners_mm(*at)) for at in SHEET_MARKERS.values()])
FACE_MM = (360.0, 260.0)


def lens(share, shape=SHAPE):
    rows, cols = shape
    return Bend(
        bend=share,
        sd=0.0,
        middle_px=((cols - 1) / 2, (rows - 1) / 2),
        reach_px=np.hypot(rows, cols) / 2,
    )


def photographed(share, *, at=(90.0, 60.0)):
    """A face with a sheet on it seen askew through a lens, and where its places lie."""
    px_per_mm = 6.0
    face = np.full(
        (round(FACE_MM[1] * px_per_mm), round(FACE_MM[0] * px_per_mm), 3), 165, np.uint8
    )
    corner = [round((place - WHITE_EDGE_MM) * px_per_mm) for place in at]
    face = pasted(face, paper_sheet(px_per_mm), corner[1], corner[0])
    to_px = face_to_photo(FACE_MM, tilt_deg=8, turn_deg=-6, far_mm=330.0)
    flat = seen(face, px_per_mm, to_px)
    grid = np.stack(np.meshgrid(np.arange(2000.0), np.arange(1500.0)), -1)
    from_ = straight(lens(share), grid.reshape(-1, 2)).reshape(*SHAPE, 2)
    maps = from_.astype(np.float32)
    pixels = cv2.remap(flat, maps[..., 0], maps[..., 1], cv2.INTER_CUBIC)
    return photo_of(pixels), lambda mm: bent(lens(share), moved(to_px, mm))


def test_model_is_that_of_opencv():
    rng = np.random.default_rng(3)
    places = rng.uniform([0, 0], [2000, 1500], (50, 2))
    one = lens(-0.03)
    # With the reach as focal length, radii are shares of the reach.
    camera = np.array(
        [
            [one.reach_px, 0, one.middle_px[0]],
            [0, one.reach_px, one.middle_px[1]],
            [0, 0, 1.0],
        ]
    )
    rays = np.column_stack([(places - one.middle_px) / one.reach_px, np.ones(50)])
    theirs, _ = cv2.projectPoints(
        rays, np.zeros(3), np.zeros(3), camera, np.array([-0.03, 0, 0, 0])
    )

    assert bent(one, places) == pytest.approx(theirs.reshape(-1, 2), abs=1e-6)
    assert straight(one, bent(one, places)) == pytest.approx(places, abs=1e-4)
    assert bent(lens(0.0), places) is places


@pytest.mark.parametrize(
    ("film", "wanted"), [(13.0, 0.03), (26.0, 0.01), (None, 0.015)]
)
def test_a_wide_lens_bends_more(film, wanted):
    assert usual_bend(SHAPE, film).sd == wanted
    assert usual_bend(SHAPE, film).bend == 0.0


def test_bend_lies_within_what_is_stated():
    # Sheets that fill half of the photo's width or more; lenses as wide as usual.
    rng = np.random.default_rng(11)
    usual = usual_bend(SHAPE, 13.0)
    off = []
    for _ in range(60):
        true = rng.normal(0, usual.sd)
        to_px = face_to_photo(
            FACE_MM,
            tilt_deg=rng.uniform(-15, 15),
            turn_deg=rng.uniform(-15, 15),
            far_mm=rng.uniform(160, 260),
        )
        corners = bent(lens(true), moved(to_px, PRINTED + np.array([95.0, 80.0])))
        corners += rng.normal(0, 0.25, corners.shape)
        found = bend_by_plane(corners, PRINTED, usual)
        off.append(abs(found.bend - true) / found.sd)
    off = np.array(off)

    assert np.mean(off < 2) > 0.9
    assert np.mean(off < 1) > 0.5


def test_a_straight_lens_is_left_alone():
    rng = np.random.default_rng(12)
    usual = usual_bend(SHAPE, 26.0)
    to_px = face_to_photo(FACE_MM, tilt_deg=8, far_mm=230.0)
    corners = moved(to_px, PRINTED + np.array([95.0, 80.0]))
    found = [
        bend_by_plane(corners + rng.normal(0, 0.25, corners.shape), PRINTED, usual)
        for _ in range(40)
    ]

    assert sum(one.bend != 0 for one in found) <= 2
    assert all(one.sd <= 2.3 * usual.sd for one in found)


@pytest.mark.parametrize("share", [-0.05, 0.04])
def test_sheet_straightens_what_the_lens_bent(share):
    photo, place = photographed(share)
    view, scale, papers = view_by_sheet(photo)
    grid = np.stack(np.meshgrid([30.0, 180, 330], [30.0, 130, 230]), -1).reshape(-1, 2)
    there = to_view(view, place(grid)[:, ::-1])
    first, second = np.triu_indices(len(grid), 1)
    lengths = np.hypot(*(there[first] - there[second]).T) * scale.mm_per_px
    true = np.hypot(*(grid[first] - grid[second]).T)

    assert len(view.numbers) == 13
    assert view.numbers[9] == pytest.approx(share, abs=0.012)
    assert lengths == pytest.approx(true, rel=0.012)
    assert abs(lengths / true - 1).max() < 3 * scale.relative_uncertainty
    # The paper lies where it was laid, and points go there and back.
    middle = np.mean(papers[-1], axis=0)[::-1]
    sheet = to_view(view, place(np.array([[175.0, 121.0]]))[:, ::-1])[0]
    assert np.hypot(*(middle - sheet)) * scale.mm_per_px < 12
    assert to_photo(view, there)[:, ::-1] == pytest.approx(place(grid), abs=0.01)
    strip = shown_by(photo, view)
    assert strip.pixels.shape[:2] == (view.height_px, view.width_px)
    row, col = to_view(view, place(np.array([[110.0, 80.0]]))[:, ::-1])[0].astype(int)
    assert strip.pixels[row, col].max() < 80 or strip.pixels[row, col].min() > 200


def test_a_straight_photo_keeps_its_plain_view():
    photo, _ = photographed(0.0)
    view, scale, _ = view_by_sheet(photo)

    assert len(view.numbers) == 9
    assert scale.relative_uncertainty < 0.02


@pytest.mark.parametrize(
    ("marks", "face"),
    [
        ([[800.0, 750.0], [1200.0, 750.0]], None),
        ([[100.0, 1400.0], [1900.0, 1400.0]], None),
        (
            [[200.0, 150.0], [1800.0, 150.0], [1800.0, 1350.0], [200.0, 1350.0]],
            [[200.0, 150.0], [1800.0, 150.0], [1800.0, 1350.0], [200.0, 1350.0]],
        ),
    ],
)
def test_doubt_of_a_scale_is_what_the_bend_does_to_it(marks, face):
    usual = usual_bend(SHAPE, 13.0)
    doubt = scale_doubt(
        usual, np.array(marks), None if face is None else np.array(face)
    )
    # The share of area that a photo of a flat grid gains, cell by cell.
    cols, rows = np.meshgrid(np.linspace(0, 1999, 200), np.linspace(0, 1499, 150))
    if face is not None:
        cols, rows = np.meshgrid(
            np.linspace(200, 1800, 200), np.linspace(150, 1350, 150)
        )
    at = bent(lens(usual.sd), np.column_stack([cols.ravel(), rows.ravel()]))
    x, y = at[:, 0].reshape(cols.shape), at[:, 1].reshape(cols.shape)
    cross = np.gradient(x, axis=1) * np.gradient(y, axis=0) - np.gradient(
        x, axis=0
    ) * np.gradient(y, axis=1)
    flat = (cols[0, 1] - cols[0, 0]) * (rows[1, 0] - rows[0, 0])
    seen_at = bent(lens(usual.sd), np.array(marks))
    length = np.hypot(*(seen_at[1] - seen_at[0])) / np.hypot(
        *(np.array(marks[1]) - marks[0])
    )
    if face is not None:
        length = 1 + usual.sd * (800**2 + 600**2) / 1250**2  # all six distances alike
    error = abs(np.sqrt(cross.mean() / flat) / length - 1)

    assert doubt == pytest.approx(error, abs=0.0006)


def test_a_ruler_in_the_middle_is_less_sure_under_a_wide_lens():
    photo = photo_of(np.full((*SHAPE, 3), 150, np.uint8))
    ruler = Scale(mm_per_px=0.2, relative_uncertainty=0.002, method="two_points")
    ends = [[750, 800], [750, 1200]]
    told = [
        with_lens_doubt(
            replace(photo, lens_35mm=film), ruler, ends
        ).relative_uncertainty
        for film in (26.0, None, 13.0)
    ]

    assert 0.002 < told[0] < told[1] < told[2] < 0.03
