"""The kind of face is the form's, and every way of measuring a piece takes it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from analysis.cli import commands
from analysis.errors import InputError
from analysis.flags import Flag
from analysis.model.face_proposal import FaceProposal
from analysis.model.reading import MeasureSettings
from analysis.model.workshop import Form, settings_of_form
from analysis.services import photo_queue, queue_opening, records
from analysis.services.folders.run import measure_folder
from analysis.services.log import (
    form,
    form_of_piece,
    list_readings,
    load_reading,
    open_log,
)
from tests.support.cast_pieces import filled
from tests.support.folder_photos import (
    folder_of,
    in_this_process,
    log_for,
    small_photo,
)
from tests.support.queue_photos import photo, piece_card

# Where no arris is found, facets are not levelled and flagged so.
KINDS = {
    "free": {Flag.SLOPES_NOT_CORRECTED},
    "faceted": {Flag.SLOPES_NOT_CORRECTED, Flag.FACETS_NOT_LEVELLED},
}


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path / "log")


def tell(log, form_id, **kind):
    return records.change(log, replace(form(log, form_id), **kind))


def test_a_form_keeps_pitch_and_depth_of_flutes_only():
    fluted = Form(name="a", face_kind="ribbed", pitch_mm=30.0, depth_mm=5.0)
    assert settings_of_form(fluted, smallest_mm=1.0) == MeasureSettings(
        smallest_mm=1.0, face_kind="ribbed", pitch_mm=30.0, depth_mm=5.0
    )
    assert settings_of_form(None) == MeasureSettings()
    for size in ({"pitch_mm": 30.0}, {"depth_mm": 5.0}):
        with pytest.raises(InputError, match="belongs to a ribbed face, the kind"):
            Form(name="a", face_kind="round", **size)
    with pytest.raises(InputError, match="Kind of face must be one of flat, round"):
        Form(name="a", face_kind="oval")
    with pytest.raises(InputError, match=r"between 1 and 1000 mm, 0\.5 was given"):
        Form(name="a", face_kind="ribbed", pitch_mm=0.5)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_waiting_photo_is_measured_as_its_form_is(log, kind, monkeypatch):
    frame = np.array([[0.0, 0.0], [0.0, 900.0], [700.0, 900.0], [700.0, 0.0]])
    found = FaceProposal(
        outline_px=frame, left_out_px=(), sure=0.9, face_share=0.8, whole=False
    )
    for room in (photo_queue, queue_opening):
        monkeypatch.setattr(room, "find_face", lambda *_: found)
    form_id, pieces = filled(log, 1)
    tell(log, form_id, face_kind=kind)
    photo_queue.give(log, photo(5, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    (waiting,) = photo_queue.list_waiting(log)
    photo_queue.confirm(log, waiting, pieces[0], None)
    assert photo_queue.measure_ready(log) == 1
    reading = load_reading(log, list_readings(log)[0].id)
    assert reading.settings.face_kind == kind
    assert KINDS[kind] & reading.flags


def test_a_folder_is_measured_as_its_forms_are_and_once(tmp_path):
    log = log_for(tmp_path / "log", 1)
    place = folder_of(tmp_path / "photos", 1)

    def run():
        done = measure_folder(log, str(place), hands=in_this_process())
        return done.measured, done.skipped

    of = form_of_piece(log, 1)
    tell(log, of.id, face_kind="ribbed", pitch_mm=30.0)
    assert run() == (1, 0)
    # Without a scale a pitch in mm says nothing.
    reading = load_reading(log, list_readings(log)[0].id)
    assert reading.settings == MeasureSettings(face_kind="ribbed")
    tell(log, of.id, face_kind="flat", pitch_mm=None)
    assert run() == (0, 1)


class TestCommandLine:
    @pytest.fixture
    def asked(self, log, tmp_path):
        place = tmp_path / "face.png"
        place.write_bytes(small_photo(0))
        fluted = Form(name="Column", face_kind="ribbed", pitch_mm=30.0, depth_mm=5.0)
        records.add(log, fluted, save_token="form")

        def run(*options, form="Column", scale=("--mm-per-px", "0.5")):
            out = tmp_path / "out.json"
            of_form = ("--log", str(log.file.parent), "--form", form)
            argv = ["measure", str(place), *scale, *of_form, *options]
            code = commands.main([*argv, "--json", str(out)])
            if code:
                return code
            found = json.loads(out.read_text("utf-8"))
            return found["face_kind"], found["pitch_mm"], found["depth_mm"]

        return run

    def test_the_form_tells_and_options_go_before(self, asked):
        assert asked() == ("ribbed", 30.0, 5.0)
        assert asked("--pitch-mm", "20") == ("ribbed", 20.0, 5.0)
        assert asked("--face-kind", "flat") == ("flat", None, None)
        assert asked(scale=()) == ("ribbed", None, None)

    def test_a_form_that_is_not_there_is_refused(self, asked, capsys):
        assert asked(form="Nothing") == 2
        assert "There is no form 'Nothing' in the log" in capsys.readouterr().err
