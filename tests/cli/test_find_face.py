"""`find-face`: outline and left-out areas of a photo, before any figure."""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.cli import main
from analysis.imaging.face import polygon_mask
from tests.benchmarks.face_scenes import draw
from tests.support.pictures import file_of

BASE = 71


@pytest.fixture(scope="module")
def drawn():
    return draw(0, BASE)


@pytest.fixture(scope="module")
def photo(drawn, tmp_path_factory):
    path = tmp_path_factory.mktemp("found") / "piece.png"
    path.write_bytes(file_of(drawn.pixels))
    return path


def measured(answer, shape):
    def mask(line):
        return polygon_mask(np.array(line)[:, ::-1], shape)

    found = mask(answer["outline"])
    for area in answer["left_out"]:
        found &= ~mask(area)
    return found


def test_the_face_is_found(drawn, photo, capsys):
    assert main(["find-face", str(photo), "--json", "-"]) == 0
    answer = json.loads(capsys.readouterr().out)

    found = measured(answer, drawn.face.shape)
    assert set(answer) == {"outline", "left_out", "sure", "face_share"}
    assert (found & drawn.face).sum() / (found | drawn.face).sum() > 0.93
    assert answer["face_share"] == pytest.approx(found.mean(), abs=0.01)
    assert 0 <= answer["sure"] <= 1


def test_the_overlay_has_the_photos_size_and_shows_the_outline(drawn, photo, tmp_path):
    target = tmp_path / "seen.png"

    assert main(["find-face", str(photo), "--overlay", str(target)]) == 0

    shown = cv2.imread(str(target))[..., ::-1]
    assert shown.shape == drawn.pixels.shape
    changed = (shown != drawn.pixels).any(axis=2)
    edge = cv2.morphologyEx(np.uint8(drawn.face), cv2.MORPH_GRADIENT, np.ones((9, 9)))
    assert changed.any()
    assert (edge[changed] > 0).mean() > 0.5


def test_the_answer_is_said_in_a_sentence(photo, capsys):
    assert main(["find-face", str(photo)]) == 0
    assert "of the photo" in capsys.readouterr().out


@pytest.mark.parametrize("size", [(16, 16), (16, 900), (700, 20)])
@pytest.mark.parametrize("level", [0, 128, 255])
def test_a_readable_photo_is_never_refused(tmp_path, capsys, size, level):
    path = tmp_path / "plain.png"
    Image.new("RGB", size, (level,) * 3).save(path)

    assert main(["find-face", str(path), "--json", "-"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["outline"]) >= 3


@pytest.mark.parametrize("content", [b"", b"hello"])
def test_what_is_no_photo_is_refused_in_one_sentence(tmp_path, capsys, content):
    path = tmp_path / "bad.jpg"
    path.write_bytes(content)

    assert main(["find-face", str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1


def test_a_target_that_is_the_photo_is_refused(photo, capsys):
    assert main(["find-face", str(photo), "--overlay", str(photo)]) == 2
    assert "named twice" in capsys.readouterr().err
