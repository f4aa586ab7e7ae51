import math

import pytest

from analysis.errors import InputError
from analysis.synthetic import (
    Aggregate,
    Camera,
    FaceRecipe,
    Honeycomb,
    Joint,
    Lamp,
    Pit,
    PitPopulation,
    Surface,
)

SIZE = {"height_px": 100, "width_px": 100, "mm_per_px": 0.1}
AT = {"row_mm": 1, "col_mm": 1}


@pytest.mark.parametrize(
    ("kind", "given", "words"),
    [
        (FaceRecipe, {**SIZE, "height_px": 7}, "Height must be between 8 and"),
        (FaceRecipe, {**SIZE, "width_px": 20_000}, "Width must be between 8 and"),
        (FaceRecipe, {**SIZE, "height_px": 90.5}, "Height must be a whole number"),
        (FaceRecipe, {**SIZE, "mm_per_px": 0}, "Scale must be more than 0"),
        (FaceRecipe, {**SIZE, "mm_per_px": math.nan}, "Scale must be a finite"),
        (FaceRecipe, {**SIZE, "supersample": 5}, "Subdivisions of a px must be"),
        (Pit, {**AT, "diameter_mm": 0}, "Diameter of a pit must be more than 0"),
        (Pit, {**AT, "diameter_mm": 1, "depth_ratio": 2}, "Depth over diameter must"),
        (Pit, {**AT, "diameter_mm": 1, "irregularity": 1}, "Irregularity must be"),
        (Pit, {**AT, "row_mm": -1, "diameter_mm": 1}, "Row of a pit must be at least"),
        (PitPopulation, {"per_m2": -1}, "Pits per m² must be between"),
        (
            PitPopulation,
            {"per_m2": 1, "smallest_mm": 3, "largest_mm": 2},
            "Diameters must run from low to high, 3 to 2 was given",
        ),
        (
            PitPopulation,
            {"per_m2": 1, "depth_low": 0.6, "depth_high": 0.3},
            "Depths over diameter must run from low to high",
        ),
        (PitPopulation, {"per_m2": 1, "elongation": 0.5}, "Elongation must be between"),
        (Honeycomb, {**AT, "diameter_mm": -3}, "Diameter of a honeycomb patch must"),
        (Honeycomb, {**AT, "diameter_mm": 9, "fill": 2}, "Fill of a honeycomb patch"),
        (Joint, {"start_mm": (1, 1), "end_mm": (1, 1)}, "needs two different ends"),
        (
            Joint,
            {"start_mm": (0, 0), "end_mm": (1, 1), "fin_height_mm": 50},
            "Fin height must be between",
        ),
        (Surface, {"reflectance": (0.5, 0.5, 1.5)}, "Reflectance must be between"),
        (Surface, {"grain_contrast": 0.9}, "Contrast of grain must be between"),
        (Surface, {"cracks": -1}, "Number of cracks must be between"),
        (Surface, {"cracks": 1.5}, "Number of cracks must be a whole number"),
        (Aggregate, {"share": 0.95}, "Share of aggregate must be between"),
        (Lamp, {"elevation_deg": 2}, "Elevation of the lamp must be between"),
        (Lamp, {"strength": 0, "sky": 0}, "Light of lamp and sky together must"),
        (Camera, {"exposure": 0}, "Exposure must be more than 0"),
        (Camera, {"jpeg_quality": 0}, "JPEG quality must be between 1 and 100"),
    ],
)
def test_bad_settings_are_refused(kind, given, words):
    with pytest.raises(InputError, match=words):
        kind(**given)


@pytest.mark.parametrize(
    "thing",
    [
        {"placed": (Pit(row_mm=50, col_mm=1, diameter_mm=1),)},
        {"honeycomb": (Honeycomb(row_mm=1, col_mm=50, diameter_mm=5),)},
    ],
)
def test_things_outside_the_face_are_refused(thing):
    with pytest.raises(InputError, match=r"outside the face of 9\.9 x 9\.9 mm"):
        FaceRecipe(**SIZE, **thing)


def test_lamp_share_is_a_ratio():
    assert Lamp(strength=3, sky=1).lamp_share == 0.75
