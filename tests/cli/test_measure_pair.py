"""`measure-pair` on the command line: keys, files, refusals."""

import json

import cv2
import numpy as np
import pytest

from analysis.cli import main
from tests.services.pair_photos import pair_of_photos


@pytest.fixture
def files(tmp_path):
    paths = [tmp_path / "a.png", tmp_path / "b.png"]
    for path, data in zip(paths, pair_of_photos(), strict=True):
        path.write_bytes(data)
    return [str(path) for path in paths]


def test_all_keys_mask_and_overlay_are_written(files, tmp_path):
    mask, overlay, told = (tmp_path / name for name in ("m.png", "o.png", "t.json"))
    options = ["--mm-per-px", "0.15", "--smallest-mm", "1"]
    options += ["--mask", str(mask), "--overlay", str(overlay), "--json", str(told)]

    assert main(["measure-pair", *files, *options]) == 0

    answer = json.loads(told.read_text())
    assert {
        "shift_px",
        "rotation_deg",
        "registration_rms_px",
        "light_angle_deg",
        "void_area_percent",
        "voids",
        "flags",
    } <= set(answer)
    assert answer["void_count"] == len(answer["voids"]) == 8
    assert (answer["width_px"], answer["height_px"]) == (480, 360)
    written = cv2.imread(str(mask), cv2.IMREAD_GRAYSCALE)
    assert written.shape == (360, 480)
    assert set(np.unique(written)) == {0, 255}
    assert cv2.imread(str(overlay)).shape == (360, 480, 3)


def test_a_sentence_without_json(files, capsys):
    assert main(["measure-pair", *files]) == 0
    assert "% void area" in capsys.readouterr().out


def test_one_sentence_when_refused(files, capsys):
    assert main(["measure-pair", files[0], files[0]]) == 2
    said = capsys.readouterr().err
    assert "same photo" in said
    assert said.count("\n") == 1


def test_a_missing_second_photo_is_refused(files, capsys):
    assert main(["measure-pair", files[0]]) == 2
    assert "PHOTO_B" in capsys.readouterr().err


def test_the_second_photo_is_never_written_over(files, capsys):
    assert main(["measure-pair", *files, "--mask", files[1]]) == 2
    assert "named twice" in capsys.readouterr().err
