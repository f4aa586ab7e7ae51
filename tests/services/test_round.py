"""A face drawn flat, wrapped round a cylinder, photographed, unrolled, measured."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from analysis.errors import FaceError, ScaleError
from analysis.flags import Flag
from analysis.imaging.pose import Lens
from analysis.model.photo import Face
from analysis.services.measuring import measure
from analysis.services.photos import reading_overlay
from analysis.services.sheets import seen, to_photo, unrolled, view_by_edges
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
    # On the edges, which lie farther off than the nearest side.
    edge = FOCAL_PX / (FAR_MM - RADIUS_MM**2 / FAR_MM)
    top, low = (PHOTO_PX[0] / 2 + sign * 0.4 * TALL_MM * edge for sign in (-1, 1))
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
    # Nobody is told to outline the strip that was tapped.
    assert Flag.WHOLE_PHOTO not in reading.flags
    assert reading_overlay(photo, reading).shape[:2] == mask.shape


def test_known_distance_gives_true_sizes(taken):
    photo, edges = taken
    view, scale = unrolled(edges, (2 * RADIUS_MM,) * 2, distance_mm=FAR_MM - RADIUS_MM)
    reading, _ = measure(photo, scale=scale, face=Face(view=view))
    strip_mm2 = np.pi / 2 * RADIUS_MM * 0.8 * TALL_MM

    assert reading.summary.face_area_mm2 == pytest.approx(strip_mm2, rel=0.01)
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


def seen_by_pinhole(
    radii, heights, far, angle, *, focal=1500.0, middle=(800.0, 1000.0)
):
    """(row, col) of places of a cone, and of its edges, by central projection."""
    slope = (radii[1] - radii[0]) / (heights[1] - heights[0])

    def place(height, angle):
        radius = radii[0] + slope * (height - heights[0])
        away = far - radius * np.cos(angle)
        row = middle[0] + focal * height / away
        return np.stack([row, middle[1] + focal * radius * np.sin(angle) / away], -1)

    # The edges are the outermost places: looked for, not computed.
    fine = np.linspace(0, np.pi / 2, 100_001)
    at_eye = (
        place(0.0, fine) if heights[0] < 0 < heights[1] else place(heights[0], fine)
    )
    edge = fine[at_eye[:, 1].argmax()]
    edges = [place(height, side * edge) for height in heights for side in (-1, 1)]
    return edges, place(angle[0], angle[1])


@pytest.mark.parametrize("distance", [200.0, 400.0, 1000.0])
@pytest.mark.parametrize(
    ("radii", "heights"),
    [((100, 100), (-100, 100)), ((100, 100), (-160, 40)), ((100, 60), (-120, 100))],
)
@pytest.mark.parametrize("is_typed", [True, False])
def test_places_are_those_of_central_projection(distance, radii, heights, is_typed):
    far = max(radii) + distance
    down, angle = np.mgrid[0:1:9j, -np.pi / 4 : np.pi / 4 : 9j]
    height = heights[0] + (heights[1] - heights[0]) * down
    edges, there = seen_by_pinhole(radii, heights, far, (height, angle))
    view, scale = unrolled(
        edges,
        (2 * radii[0], 2 * radii[1]),
        distance_mm=distance if is_typed else None,
        lens=Lens(focal_px=1500.0, middle_px=(1000.0, 800.0)),
    )
    radius = radii[0] + (radii[1] - radii[0]) * down
    col = (view.width_px - 1) / 2 + angle * radius / view.mm_per_px
    found = to_photo(
        view, np.column_stack([(down * (view.height_px - 1)).ravel(), col.ravel()])
    )

    # Of a cone the lens tells the distance nearly, of a cylinder exactly.
    off_px = np.abs(found - there.reshape(-1, 2)).max()
    assert off_px < (0.01 if is_typed else 1.0)
    side_mm = np.hypot(heights[1] - heights[0], radii[1] - radii[0])
    assert view.height_px * view.mm_per_px == pytest.approx(side_mm, rel=0.01)
    assert scale.relative_uncertainty < (0.03 if is_typed else 0.05)


@pytest.mark.parametrize("distance", [200.0, 400.0])
@pytest.mark.parametrize("how", ["typed", "by the lens"])
def test_dots_are_of_one_size_from_the_middle_to_the_sides(distance, how):
    # Dots of 8 mm every 20 mm, drawn flat, wrapped and photographed; OpenCV counts.
    radius, px_per_mm, focal = 100.0, 8.0, 1500.0
    flat = np.full((round(120 * px_per_mm), round(220 * px_per_mm), 3), 210, np.uint8)
    for x in range(-80, 81, 20):
        for y in range(-40, 41, 20):
            at = (round((x + 110) * px_per_mm), round((y + 60) * px_per_mm))
            cv2.circle(flat, at, round(4 * px_per_mm), (30, 30, 30), -1)
    shot, sides = wrapped(
        flat, px_per_mm, radius, radius + distance, focal_px=focal, photo_px=PHOTO_PX
    )
    far = radius + distance
    rim = focal / (far - radius**2 / far)
    edges = [
        (PHOTO_PX[0] / 2 + up * 50 * rim, side) for up in (-1, 1) for side in sides
    ]
    film = focal / np.hypot(*PHOTO_PX) * np.hypot(36, 24)  # as a file states it
    photo = replace(photo_of(shot), lens_35mm=None if how == "typed" else film)
    view, scale = view_by_edges(
        photo, edges, (200, 200), distance if how == "typed" else None
    )
    strip = seen(photo, view).pixels[..., 1]
    _, _, stats, _ = cv2.connectedComponentsWithStats((strip < 120).astype(np.uint8))
    inside = stats[
        (stats[:, 0] > 0)
        & (stats[:, 0] + stats[:, 2] < view.width_px)
        & (stats[:, 1] > 0)
        & (stats[:, 1] + stats[:, 3] < view.height_px)
        & (stats[:, 4] < view.height_px * view.width_px / 20)
    ]
    mm = inside * np.array([*4 * [scale.mm_per_px], scale.mm_per_px**2])

    assert len(mm) == 35
    assert mm[:, 4] == pytest.approx(np.full(35, np.pi * 16), rel=0.03)
    assert mm[:, 4].mean() == pytest.approx(np.pi * 16, rel=0.01)
    assert mm[:, 3] == pytest.approx(np.full(35, 8.0), abs=1.5 * scale.mm_per_px)


def test_a_wrong_distance_is_covered_by_what_is_stated(taken):
    _, edges = taken
    distance = FAR_MM - RADIUS_MM
    known, sure = unrolled(edges, (240, 240), distance_mm=distance)
    off, _ = unrolled(edges, (240, 240), distance_mm=1.05 * distance)

    assert 0 < abs(off.mm_per_px / known.mm_per_px - 1) < sure.relative_uncertainty


def test_widths_that_disagree_are_less_sure():
    _, even = unrolled(EDGES, (100, 100), distance_mm=500)
    _, uneven = unrolled(
        ((0, 0), (0, 200), (300, 10), (300, 190)), (100, 100), distance_mm=500
    )

    assert even.relative_uncertainty < 0.02 < uneven.relative_uncertainty


def test_a_reading_of_before_is_shown_as_it_was_measured():
    view, _ = unrolled(EDGES, (100, 100), distance_mm=200)
    older = replace(view, numbers=view.numbers[:-1])
    aside = np.array([[0.0, 5.0], [view.height_px - 1.0, 5.0]])

    # Heights of the edges all over the strip then; corrected, the rim of the middle
    # is seen beyond them.
    assert to_photo(older, aside)[:, 0] == pytest.approx([0.0, 300.0])
    assert to_photo(view, aside)[0, 0] < -1


def leaning_edges(lean_deg, away_mm, tall_mm, radius_mm, focal_px=3000.0):
    """Project the edges of a cylinder for a camera that looks down on its middle.

    Lines of sight touch the cylinder along two upright lines, whatever the lean.
    """
    cosine, sine = np.cos(np.radians(lean_deg)), np.sin(np.radians(lean_deg))
    eye = np.array([0.0, -away_mm * cosine, away_mm * sine])
    look, right = -eye / away_mm, np.array([1.0, 0.0, 0.0])
    down = np.cross(look, right)
    turn = np.arccos(radius_mm / (away_mm * cosine))
    edges = []
    for height in (tall_mm / 2, -tall_mm / 2):
        for side in (-1, 1):
            place = [side * np.sin(turn), -np.cos(turn)]
            sight = np.array([*(radius_mm * np.array(place)), height]) - eye
            edges.append(
                [
                    2000 + focal_px * (sight @ one) / (sight @ look)
                    for one in (down, right)
                ]
            )
    return edges


@pytest.mark.parametrize("away_mm", [600.0, 1000.0, 2000.0])
@pytest.mark.parametrize("lean_deg", [10.0, 20.0, 30.0])
def test_a_camera_that_looks_down_makes_the_scale_less_sure(lean_deg, away_mm):
    edges = leaning_edges(lean_deg, away_mm, 300.0, 100.0)

    view, scale = unrolled(edges, (200.0, 200.0), distance_mm=away_mm - 100.0)

    # Heights are seen shorter and are not made longer: areas are off by as much, and
    # an area goes with the square of the scale.
    area_off = abs(np.log(view.height_px * view.mm_per_px / 300.0))
    assert area_off < 2 * 2 * scale.relative_uncertainty
    _, straight = unrolled(
        leaning_edges(0.0, away_mm, 300.0, 100.0),
        (200.0, 200.0),
        distance_mm=away_mm - 100.0,
    )
    assert scale.relative_uncertainty > 1.3 * straight.relative_uncertainty
