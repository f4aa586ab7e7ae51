"""Real photos with outlines drawn by hand; they are not part of the project."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks import real_crops, real_faces, scoring
from tests.benchmarks.measuring import measure

PLACE = real_faces.folder()
pytestmark = pytest.mark.skipif(
    PLACE is None,
    reason="The real photos are not here: name their folder in STRUCKFACE_REAL_FACES.",
)


@pytest.mark.parametrize("name", ["T2", "T3", "T4"])
def test_outlined_crop(name):
    crop = real_crops.read_crop(PLACE, name)
    found = measure(crop.png, suffix=".png")
    score = real_crops.score_crop(
        real_crops.outline_labels(crop.outlines, found.mask.shape),
        crop.ignore,
        scoring.label(found.mask, found.centres),
        crop.rule,
        crop.diameters_px,
    )
    assert score.hits.f1 >= 0.90


def test_wall_shows_its_major_voids():
    photo = real_crops.only(PLACE, f"{real_faces.WALL}_*.jpg").read_bytes()
    found = measure(photo, real_faces.WALL_MM_PER_PX)
    outlines = real_crops.only(PLACE, f"{real_faces.WALL_OUTLINES}.json")
    voids = json.loads(outlines.read_text(encoding="utf-8"))["voids"]
    mask = real_crops.only(PLACE, f"{real_faces.WALL_OUTLINES}_ignore.png")
    ignore = real_crops.read_mask(mask)
    wall = real_faces.score_wall(
        voids, ignore, scoring.label(found.mask, found.centres)
    )
    assert wall["found"] == wall["majors"] == 5


@pytest.mark.parametrize("name", ["A03", "B01", "B03"])
def test_cracks_are_not_counted(name):
    text = Path(real_faces.__file__).with_name("real_outlines.toml").read_text("utf-8")
    known = tomllib.loads(text)[name]
    found = measure(next(PLACE.glob(f"{name}_*.jpg")).read_bytes())
    band = real_faces.crack_band(known["cracks"], known["pits"], found.mask.shape)
    assert np.count_nonzero(found.mask & band) == 0
