import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest

from analysis.synthetic import draw_face
from analysis.synthetic.sample_set import samples
from analysis.synthetic.samples import (
    draw_sample,
    entry,
    main,
    manifest,
    outline_xy,
    ruler,
)
from analysis.vocabulary import NONE, STAGES, VOCABULARIES

FOLDER = Path(__file__).resolve().parents[2] / "sample_images"
LISTED = tomllib.loads((FOLDER / "MANIFEST.toml").read_text("utf-8"))["sample"]
MOST_BYTES = 6_000_000


@pytest.fixture(scope="module", params=samples(), ids=lambda sample: sample.file)
def drawn(request):
    return request.param, draw_face(request.param.recipe, seed=request.param.seed)


def test_eight_samples_are_listed_and_there():
    files = [item["file"] for item in LISTED]
    assert files == [sample.file for sample in samples()]
    assert len(files) == 8
    assert {path.name for path in FOLDER.iterdir()} == {*files, "MANIFEST.toml"}


def test_samples_stay_small():
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < MOST_BYTES


def test_manifest_tells_the_drawn_truth(drawn):
    sample, face = drawn
    listed = dict(next(item for item in LISTED if item["file"] == sample.file))
    fresh = tomllib.loads(manifest([entry(sample, face)]))["sample"][0]
    for key in ("void_area_percent", "void_area_percent_all", "honeycomb_percent"):
        assert listed.pop(key) == pytest.approx(fresh.pop(key), rel=1e-3, abs=1e-4)
    assert listed == fresh


def test_listed_share_adds_up_from_the_coverage(drawn):
    sample, face = drawn
    listed = next(item for item in LISTED if item["file"] == sample.file)
    assert listed["void_area_percent_all"] == pytest.approx(
        100 * face.coverage.mean(), rel=1e-3
    )
    limit = max(0.5, 4 * listed["mm_per_px"])
    assert listed["smallest_counted_mm"] == pytest.approx(limit, abs=1e-4)
    counted = face.area_mm2[face.equivalent_diameter_mm >= limit]
    assert listed["void_count"] == len(counted)
    assert listed["void_area_percent"] == pytest.approx(
        100 * counted.sum() / face.recipe.face_area_mm2, rel=1e-3, abs=1e-4
    )


def test_clean_sample_has_no_void():
    clean = next(item for item in LISTED if item["file"] == "pot_clean.jpg")
    assert (clean["void_count_all"], clean["void_area_percent_all"]) == (0, 0.0)


@pytest.mark.parametrize("file", ["trough_joints_open.jpg", "pot_black.jpg"])
def test_committed_photo_is_what_the_recipe_draws(file):
    sample = next(sample for sample in samples() if sample.file == file)
    photo, _ = draw_sample(sample)
    stored = cv2.imread(str(FOLDER / file))[..., ::-1].astype(int)
    assert stored.shape == photo.shape == (1200, 1600, 3)
    # JPEG of this quality moves single pixels, hardly the mean and never much.
    off = np.abs(stored - photo)
    assert off.mean() < 3
    assert np.quantile(off, 0.999) < 30


def test_ruler_marks_are_dark_lines_at_the_stated_pixels():
    for item in LISTED:
        photo = cv2.imread(str(FOLDER / item["file"]), cv2.IMREAD_GRAYSCALE).astype(int)
        (x1, y1), (x2, y2) = item["ruler_xy"]
        assert (x2 - x1) * item["mm_per_px"] == pytest.approx(
            item["ruler_mm"], abs=0.5 * item["mm_per_px"]
        )
        for x, y in ((x1, y1), (x2, y2)):
            profile = photo[y + 28, x - 3 : x + 4]
            assert profile[3] <= profile.min() + 5
            assert profile[3] < 80
            assert profile[0] > 150


def test_ruler_lies_outside_the_outline():
    bottom = max(y for _, y in outline_xy())
    assert all(y > bottom for _, y in ruler(0.2)[0])


def test_words_are_those_of_the_log():
    for item in LISTED:
        assert item["stage"] in STAGES
        assert item["form_type"] in VOCABULARIES["form_type"]
        assert item["vibration_method"] in VOCABULARIES["vibration_method"]
        assert item["joint_sealing"] in (NONE, *VOCABULARIES["joint_sealing"])


def test_main_writes_every_file(tmp_path, monkeypatch, capsys):
    one = samples()[:1]
    monkeypatch.setattr("analysis.synthetic.samples.samples", lambda: one)
    assert main([str(tmp_path / "new")]) == 0
    names = sorted(path.name for path in (tmp_path / "new").iterdir())
    assert names == ["MANIFEST.toml", one[0].file]
    assert one[0].file in capsys.readouterr().out


def test_main_asks_for_a_folder(capsys):
    assert main([]) == 2
    assert "Name one folder" in capsys.readouterr().err
