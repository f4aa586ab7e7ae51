"""A face drawn flat, wrapped round a cylinder, photographed, unrolled, measured."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import FaceError, ScaleError
from analysis.model.photo import Face
from analysis.services.measuring import measure
from analysis.services.photos import reading_overlay
from analysis.services.sheets import seen, to_photo, unrolled
from analysis.synthetic import Camera, FaceRecipe, PitPopulation, draw_face
from tests.support.cameras import wrapped
from tests.support.drawn_faces import photo_of

PX_PER_MM = 6.0
RADIUS_MM, FAR_MM, TALL_MM = 120.0, 700.0, 180.0
PHOTO_PX = (1200, 1600)
FOCAL_PX = 2400.0
PITS = PitPopulation(
    per_m2=2_500,
    median_mm=4.0,
    spread=0.25,
    smallest_mm=2.5,
    largest_mm=8.0,
    touching_share=0.0,
)
EDGES = ((0, 0), (0, 200), (300, 0), (300, 200))


@pytest.fixture(scope="module")
def face():
    recipe = FaceRecipe(
        height_px=round(TALL_MM * PX_PER_MM),
        width_px=round(2.4 * RADIUS_MM * PX_PER_MM),
        mm_per_px=1 / PX_PER_MM,
        pits=(PITS,),
        camera=Camera(blur_px=0.5),
    )
    return draw_face(recipe, seed=21)


@pytest.fixture(scope="module")
def taken(face):
    pixels, sides = wrapped(
        np.array(face.pixels),
        PX_PER_MM,
        RADIUS_MM,
        FAR_MM,
        focal_px=FOCAL_PX,
        photo_px=PHOTO_PX,
    )
    # The rims of the nearest side, where the maker taps the edges' height.
    near = FOCAL_PX / (FAR_MM - RADIUS_MM)
    top, low = (PHOTO_PX[0] / 2 + sign * 0.4 * TALL_MM * near for sign in (-1, 1))
    edges = [[row, col] for row in (top, low) for col in sides]
    return photo_of(pixels), edges


def truth(face, tall_part=0.8):
    """The share of the strip of 90 degrees that is seen between the taps."""
    rows, cols = face.coverage.shape
    half = np.pi / 4 * RADIUS_MM * PX_PER_MM
    high = tall_part / 2 * rows
    strip = face.coverage[
        round(rows / 2 - high) : round(rows / 2 + high),
        round(cols / 2 - half) : round(cols / 2 + half),
    ]
    return strip.mean()


@pytest.mark.parametrize("distance", [FAR_MM - RADIUS_MM, None])
def test_unrolled_share_is_that_of_the_flat_face(face, taken, distance):
    photo, edges = taken
    view, scale = unrolled(edges, (2 * RADIUS_MM,) * 2, distance_mm=distance)
    reading, mask = measure(photo, scale=scale, face=Face(view=view))

    assert reading.summary.void_share.value == pytest.approx(truth(face), rel=0.07)
    assert mask.shape == (view.height_px, view.width_px)
    assert reading_overlay(photo, reading).shape[:2] == mask.shape


def test_known_distance_gives_true_sizes(taken):
    photo, edges = taken
    view, scale = unrolled(edges, (2 * RADIUS_MM,) * 2, distance_mm=FAR_MM - RADIUS_MM)
    reading, _ = measure(photo, scale=scale, face=Face(view=view))
    strip_mm2 = np.pi / 2 * RADIUS_MM * 0.8 * TALL_MM

    assert reading.summary.face_area_mm2 == pytest.approx(strip_mm2, rel=0.07)
    assert scale.relative_uncertainty < 0.02


def test_unknown_distance_is_less_sure(taken):
    _, edges = taken
    _, known = unrolled(edges, (240, 240), distance_mm=580)
    _, unknown = unrolled(edges, (240, 240))

    assert unknown.relative_uncertainty >= 0.1
    # The true scale lies within what is said.
    assert abs(unknown.mm_per_px / known.mm_per_px - 1) < (
        2 * unknown.relative_uncertainty
    )


def test_cone_narrows_and_points_go_back():
    view, _ = unrolled(((0, 0), (0, 200), (300, 50), (300, 150)), (100, 50))
    photo = photo_of(np.full((320, 220, 3), 150, np.uint8))
    strip = seen(photo, view)
    middle = (view.width_px - 1) / 2

    assert strip.opaque[0].sum() > 1.8 * strip.opaque[-1].sum()
    assert to_photo(view, np.array([[view.height_px - 1.0, middle]])) == pytest.approx(
        np.array([[300.0, 100.0]]), abs=0.5
    )


@pytest.mark.parametrize(
    ("edges", "diameters", "distance", "error", "said"),
    [
        (EDGES[:3], (100, 100), None, FaceError, "Edges"),
        (
            (*EDGES, (1, 1)),
            (100, 100),
            None,
            FaceError,
            "four edges here, 5 were given",
        ),
        (((0, 0), (0, 5), (300, 0), (300, 5)), (100, 100), None, FaceError, "px apart"),
        (EDGES, (0, 100), None, ScaleError, "Diameter at the top"),
        (EDGES, (100, float("nan")), None, ScaleError, "Diameter at the bottom"),
        (EDGES, (100, 100), -1, ScaleError, "Distance of the camera"),
    ],
)
def test_what_is_no_round_piece_is_refused(edges, diameters, distance, error, said):
    with pytest.raises(error, match=said):
        unrolled(edges, diameters, distance_mm=distance)


@pytest.mark.parametrize("distance", [200.0, 400.0, 1000.0])
def test_stated_uncertainty_covers_what_the_sides_lose(distance):
    # A pinhole camera before a cylinder: how large small patches come out, over the
    # strip, against how large they are.
    radius, focal, centre, half_mm = 100.0, 1500.0, 1000.0, 100.0
    axis = radius + distance
    depth = axis - radius**2 / axis  # of the edges that are seen
    aside = focal * radius * np.sqrt(1 - (radius / axis) ** 2) / depth
    rim = focal * half_mm / depth
    edges = [
        (centre + up * rim, centre + side * aside) for up in (-1, 1) for side in (-1, 1)
    ]
    view, scale = unrolled(edges, (2 * radius,) * 2, distance_mm=distance)

    angle = np.linspace(-np.pi / 4, np.pi / 4, 41)
    middle = (view.height_px - 1) / 2
    col = (view.width_px - 1) / 2 + angle * radius / view.mm_per_px
    at = [
        to_photo(view, np.column_stack([np.full_like(col, middle) + down, col]))
        for down in (-1, 1)
    ]
    photo_px = (at[1] - at[0])[:, 0] / 2  # of one row of the view
    true_mm = photo_px * (axis - radius * np.cos(angle)) / focal
    lost = view.mm_per_px / true_mm  # heights as they come out, over true ones
    assert lost.mean() < 1
    assert 1 - lost.mean() < 4 * scale.relative_uncertainty
    widths = np.diff(at[0][:, 1]) / focal * (axis - radius * np.cos(angle[1:]))
    assert np.all(widths > 0)
