"""`measure-folder`: processes, resuming after a kill, following, words and codes."""

import contextlib
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import pytest

from analysis.cli import main
from analysis.model.workshop import PhotoRecipe
from analysis.services.folders.hands import Hands, processes, worked_through
from analysis.services.folders.run import measure_folder
from analysis.services.log import form_of_piece, list_readings, open_log
from analysis.services.set_up import keep_recipe
from analysis.storage.folder_runs import told_outcomes
from tests.support.crowd import faults
from tests.support.falling import fall, fall_once
from tests.support.folder_photos import (
    copy_of,
    folder_of,
    in_this_process,
    kill_during_run,
    log_for,
    measured_into,
    readings_by_photo,
    small_photo,
)

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A log to copy; making one takes half a second."""
    return log_for(tmp_path_factory.mktemp("made"), 6).file.parent


@pytest.fixture
def log(tmp_path, made):
    return copy_of(made, tmp_path / "log")


@pytest.fixture
def place(tmp_path):
    return folder_of(tmp_path / "photos", 3)


@pytest.fixture
def run(capsys, log, monkeypatch):
    """Run `measure-folder` on this process, for those that need no other."""
    monkeypatch.setattr(
        "analysis.cli.folder.processes", lambda _workers: in_this_process()
    )

    def command(*words):
        code = main([*map(str, ("measure-folder", *words)), "--log", str(log.file)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


def test_it_answers_with_the_keys_that_are_promised(run, place):
    code, out, err = run(place, "--mm-per-px", 0.5, "--json", "-")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert answer | {"seconds": 0, "photos_per_s": 0} == {
        "photos": 3,
        "measured": 3,
        "failed": 0,
        "skipped": 0,
        "seconds": 0,
        "photos_per_s": 0,
        "failures": [],
        "unlike_kept": [],
        "notes": [],
    }
    assert answer["photos_per_s"] == pytest.approx(3 / answer["seconds"], rel=0.05)


def test_failed_files_are_named_one_a_line_and_the_code_tells(run, place, tmp_path):
    (place / "000" / "a.jpg").write_bytes(b"no")
    (place / "000" / "b\n.jpg").write_bytes(b"no")
    target = tmp_path / "answer.json"
    code, out, err = run(place, "--json", target)
    assert code == 2
    assert err == (
        "2 of 5 photos could not be measured: each is named with its cause; the others "
        "are in the log.\n"
    )
    lines = out.splitlines()
    assert [one.partition(": ")[0] for one in lines[:2]] == ["000/a.jpg", "000/b .jpg"]
    assert lines[-1].startswith("5 photos: 3 measured, 0 skipped, 2 failed, in ")
    assert len(json.loads(target.read_text())["failures"]) == 2


def test_photos_not_taken_as_kept_with_their_form_are_told(run, place, log, tmp_path):
    form = form_of_piece(log, 1)
    recipe = PhotoRecipe(form_id=form.id, brightness_share=0.05, shown_width_mm=60.0)
    keep_recipe(log, recipe, save_token="kept")
    target = tmp_path / "answer.json"
    code, out, _ = run(place, "--mm-per-px", 0.5, "--json", target)
    assert code == 0
    assert "000/face.png: Not the set-up kept with the form: brighter.\n" in out
    told = json.loads(target.read_text())["unlike_kept"]
    assert [one["photo"] for one in told] == [f"{n:03}/face.png" for n in range(3)]


def test_a_side_car_in_the_folder_is_found(run, place, log):
    (place / "photos.csv").write_text("photo,piece\n000/face.png,005\n")
    assert run(place)[0] == 0
    assert len({line.piece_id for line in list_readings(log)}) == 3


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["gone"], "There is no folder gone that can be read"),
        ([__file__], "is no folder: name the folder"),
        ([".", "--sheet", "gone.csv"], "There is no file gone.csv"),
        ([".", "--names", "{who}"], "The pattern of names '{who}' cannot be read"),
        ([".", "--mm-per-px", "0"], "Scale must be more than 0"),
        ([".", "--stage", "wild"], "must be one of as_struck"),
        ([".", "--json", "/gone/a.json"], "cannot be written"),
    ],
)
def test_bad_requests_are_refused_in_a_sentence(run, log, words, told):
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert told in err
    assert err.count("\n") == 1
    assert list_readings(log) == ()


@pytest.mark.parametrize("workers", ["0", "65"])
def test_an_impossible_number_of_workers_is_refused(capsys, place, workers):
    code = main(["measure-folder", str(place), "--log", "x", "--workers", workers])
    assert code == 2
    assert "number of workers must be between 1 and 64" in capsys.readouterr().err


@pytest.mark.parametrize("table", ["piece\n000\n", "photo,scale,mm_per_px\na,1,1\n"])
def test_a_side_car_that_is_none_is_refused(run, place, table):
    (place / "photos.csv").write_text(table)
    code, _, err = run(place)
    assert code == 2
    assert "The side-car has" in err


@pytest.mark.slow
def test_two_processes_measure_to_the_same_bytes_as_one(place, log, made, tmp_path):
    alone = copy_of(made, tmp_path / "alone")
    measure_folder(alone, str(place), hands=in_this_process())
    measure_folder(log, str(place), hands=processes(2))
    assert readings_by_photo(log) == readings_by_photo(alone)
    assert len(readings_by_photo(log)) == 3


@pytest.mark.slow
def test_after_a_kill_at_any_moment_it_goes_on_without_a_double_or_a_loss(
    tmp_path, made
):
    place = folder_of(tmp_path / "photos", 4)
    for seed in range(2):
        log = copy_of(made, tmp_path / f"log{seed}")
        kill_during_run(place, log.file.parent, seed=seed, longest_s=1.5)
        log = open_log(log.file.parent)
        measured_into(place, log.file.parent)
        assert len(readings_by_photo(log)) == 4
        assert [one for one in faults(log) if "lacks voids" not in one] == []


@pytest.mark.slow
def test_a_killed_worker_costs_nothing_and_a_deadly_photo_only_itself(
    tmp_path, monkeypatch
):
    from analysis.services.folders import hands as room  # noqa: PLC0415

    def handed(executor, job):
        if job.name == "deadly":
            return executor.submit(fall)
        return executor.submit(fall_once, str(tmp_path / "fallen"), job.name)

    monkeypatch.setattr(room, "_handed", handed)
    monkeypatch.setattr(room, "_has_room", lambda at_work, *_: len(at_work) < 1)
    monkeypatch.setattr(
        room, "FolderReading", lambda **told: f"failed: {told['problem'][:11]}"
    )

    jobs = (SimpleNamespace(name=name) for name in ("first", "deadly", "last"))
    # Processes that need not load what measuring needs.
    spawn = multiprocessing.get_context("spawn")
    bare = Hands(begin=lambda: ProcessPoolExecutor(1, mp_context=spawn), count=1)
    made = [one for _, one in worked_through(jobs, bare)]
    assert made == ["first", "failed: Who measure", "last"]


def test_workers_that_are_gone_are_told(place, log):
    from concurrent.futures import Executor, Future  # noqa: PLC0415

    class Gone(Executor):
        def submit(self, *_args, **_more):
            future = Future()
            future.cancel()
            future.set_running_or_notify_cancel()
            return future

    with pytest.raises(Exception, match="cannot be reached any more: begin again"):
        measure_folder(log, str(place), hands=Hands(begin=Gone, count=1))


# A shell's background job ignores Ctrl-C, and so does what is begun from it.
HEARS_CTRL_C = """
import runpy, signal
signal.signal(signal.SIGINT, signal.default_int_handler)
runpy.run_module("analysis", run_name="__main__", alter_sys=True)
"""


@pytest.mark.slow
def test_a_followed_folder_takes_what_comes_until_it_is_stopped(place, log):
    words = ["measure-folder", str(place), "--log", str(log.file), "--watch"]
    with (
        subprocess.Popen(
            [sys.executable, "-c", HEARS_CTRL_C, *words, "--workers", "1"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process,
        ended(process),
    ):
        wait_for(lambda: len(list_readings(log)) == 3, process)
        (place / "003").mkdir()
        late = place / "003" / "face.png"
        late.write_bytes(small_photo(3))
        os.utime(late, (time.time() - 60,) * 2)  # as if it came a minute ago
        # Saved is not yet told: a run that is stopped in between counts it as new.
        wait_for(lambda: len(told_outcomes(log, 1)) == 4, process)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, "")
    assert out.splitlines()[-1].startswith("4 photos: 4 measured, 0 skipped, 0 failed")


@contextlib.contextmanager
def ended(process):
    """Do not wait for ever for a process that a failed test leaves behind."""
    try:
        yield
    finally:
        process.kill()


def wait_for(happened, process):
    end = time.monotonic() + 120
    while not happened():
        assert process.poll() is None
        assert time.monotonic() < end
        time.sleep(0.1)
