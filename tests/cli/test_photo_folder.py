"""``photo-folder``: where a log keeps its photos, for all machines."""

import json

from analysis.cli import main
from analysis.storage.reading_lines import list_readings
from analysis.storage.store import open_log
from tests.support.crowd import new_log, save_one


def test_photos_move_to_a_shared_folder_and_it_is_told(tmp_path, capsys):
    log, piece_id = new_log(tmp_path / "log")
    save_one(log, piece_id, "a")
    there, folder = str(tmp_path / "log"), str(tmp_path / "photos")
    assert main(["photo-folder", "--log", there]) == 0
    assert "Photos are kept in" in capsys.readouterr().out
    answer = ["--json", "-"]
    assert main(["photo-folder", folder, "--log", there, *answer]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "copied": 1,
        "there": 0,
        "missing": 0,
        "folder": folder,
        "shared": True,
        "reached": True,
    }
    sha256 = list_readings(log)[0].photo_sha256
    assert (tmp_path / "photos" / sha256[:2] / sha256).is_file()
    assert open_log(tmp_path / "log").has_address
    (tmp_path / "photos").rename(tmp_path / "away")
    assert main(["photo-folder", "--log", there]) == 0
    assert "cannot be reached from here" in capsys.readouterr().out


def test_a_folder_that_cannot_be_is_refused_in_a_sentence(tmp_path, capsys):
    new_log(tmp_path / "log")
    code = main(["photo-folder", "photos", "--log", str(tmp_path / "log")])
    assert code == 2
    assert "must be given whole" in capsys.readouterr().err
