"""`measure-folder --cluster`: a scheduler and two workers on this machine."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analysis.cli import main
from analysis.services.folders.run import measure_folder
from analysis.services.log import list_readings
from tests.support.folder_photos import (
    copy_of,
    folder_of,
    in_this_process,
    log_for,
    readings_by_photo,
)

ROOT = Path(__file__).parents[2]
COUNT = 6

pytest.importorskip("distributed", reason="Dask is an optional requirement")


def started(module, *words):
    return subprocess.Popen(
        [sys.executable, "-m", module, *map(str, words)],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """Give the address of a scheduler and its two workers' processes."""
    told = tmp_path_factory.mktemp("cluster") / "scheduler.json"
    words = ("--host", "127.0.0.1", "--port", 0, "--no-dashboard", "--no-show")
    scheduler = started(
        "distributed.cli.dask_scheduler", *words, "--scheduler-file", told
    )
    wait_for(lambda: told.exists() and told.read_text().endswith("}"), scheduler)
    address = json.loads(told.read_text())["address"]
    alone = ("--nthreads", 1, "--no-nanny", "--no-dashboard", "--host", "127.0.0.1")
    workers = [
        started(
            "distributed.cli.dask_worker",
            address,
            *alone,
            "--local-directory",
            told.parent / str(n),
        )
        for n in range(2)
    ]
    yield address, workers
    for process in (*workers, scheduler):
        process.kill()
        process.wait()


def wait_for(happened, process):
    end = time.monotonic() + 120
    while not happened():
        assert process.poll() is None
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A log with pieces, a folder of photos, and what one process makes of it."""
    base = tmp_path_factory.mktemp("made")
    place = folder_of(base / "photos", COUNT)
    folder = log_for(base / "log", COUNT).file.parent
    alone = copy_of(folder, base / "alone")
    measure_folder(alone, str(place), hands=in_this_process())
    return folder, place, readings_by_photo(alone)


def begun(place, log, address, *words):
    command = ["measure-folder", place, "--log", log.file, "--cluster", address]
    return subprocess.Popen(
        [sys.executable, "-m", "analysis", *map(str, (*command, *words))],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.mark.slow
def test_a_cluster_measures_to_the_same_bytes_though_a_worker_falls(
    cluster, made, tmp_path
):
    address, workers = cluster
    folder, place, wanted = made
    by_content = copy_of(folder, tmp_path / "content")
    by_path = copy_of(folder, tmp_path / "path")
    process = begun(place, by_content, address, "--send", "content", "--json", "-")
    out, err = process.communicate(timeout=300)
    assert (process.returncode, err) == (0, "")
    assert json.loads(out)["measured"] == COUNT
    assert readings_by_photo(by_content) == wanted

    process = begun(place, by_path, address, "--json", "-")
    wait_for(lambda: len(list_readings(by_path)) >= 1, process)
    workers[0].kill()
    out, _ = process.communicate(timeout=300)
    assert process.returncode == 0
    assert json.loads(out)["measured"] == COUNT
    assert readings_by_photo(by_path) == wanted


def refused(words, capsys):
    code = main(["measure-folder", ".", "--log", "x", *words])
    said = capsys.readouterr()
    assert (code, said.out, said.err.count("\n")) == (2, "", 1)
    return said.err


def test_dask_is_asked_for_in_words(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = refused(["--cluster", "tcp://127.0.0.1:1"], capsys)
    assert "needs Dask, which is not installed here" in said


def test_a_cluster_and_workers_of_this_machine_are_not_mixed(capsys):
    said = refused(["--cluster", "tcp://127.0.0.1:1", "--workers", "2"], capsys)
    assert "give one of them" in said


def test_no_cluster_at_an_address_is_told(monkeypatch, capsys):
    monkeypatch.setattr("analysis.services.folders.cluster._CONNECT_S", 0.2)
    said = refused(["--cluster", "tcp://127.0.0.1:1"], capsys)
    assert "No cluster answers at tcp://127.0.0.1:1" in said


@pytest.mark.parametrize(
    "address", ["tcp://x", "x:", "foo://h:1", "", "tls://127.0.0.1:1", "tcp://h:80/x"]
)
def test_a_malformed_address_leaves_no_client_to_wait_for(capsys, address):
    from distributed import Client  # noqa: PLC0415  optional

    before = len(Client._instances)
    said = refused(["--cluster", address], capsys)
    assert "correct the address, such as tcp://host:8786" in said
    assert len(Client._instances) == before


class Pretended:
    """A client whose workers say what they are told to."""

    def __init__(self, threads, told):
        self.nthreads = lambda: threads
        self.told = told

    def run(self, *_):
        if isinstance(self.told, Exception):
            raise self.told
        return self.told


@pytest.mark.parametrize(
    ("threads", "told", "words"),
    [
        ({}, {}, "has no workers: start one"),
        ({"w": 1}, ImportError("no analysis"), "cannot load the program .ImportError"),
        ({"w": 1}, {"w": {"numpy": "1"}}, "readings would differ; install the same"),
    ],
)
def test_workers_that_would_not_do_are_refused(threads, told, words):
    from analysis.services.folders.cluster import _workers  # noqa: PLC0415

    with pytest.raises(ValueError, match=words):
        _workers(Pretended(threads, told), "tcp://x:1")
