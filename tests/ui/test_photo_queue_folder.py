"""A folder that is measured, seen on the page of the photo queue."""

from __future__ import annotations

import pytest

from analysis.services.folders.run import measure_folder
from analysis.services.log import list_readings
from analysis.storage.folder_runs import begin_run, count_photos
from analysis.storage.photo_store import path_of
from tests.support.folder_photos import folder_of, in_this_process, log_for
from tests.support.screens import start, texts


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path / "data"))
    return log_for(tmp_path / "data", 2)


def test_a_measured_folder_is_shown_with_its_photos(log, tmp_path):
    place = folder_of(tmp_path / "May", 3)
    measure_folder(log, str(place), hands=in_this_process())
    lost = list_readings(log)[0].photo_sha256
    path_of(log, lost).unlink()
    said = texts(start("photo_queue"))
    assert "Folder May" in said
    assert "3 of 3 photos, 1 not measured" in said
    # One picture is drawn; the other photo's original is gone.
    assert said.replace("\\", "").count("face.png") == 1


def test_a_folder_on_its_way_says_how_far_it_is(log):
    count_photos(log, begin_run(log, "/photos/June"), 7)
    said = texts(start("photo_queue"))
    assert "Folder June" in said
    assert "0 of 7 photos" in said
