"""The line for heavy work: its order, its limits, and leaving it."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from analysis.imaging.photo import read_photo
from analysis.services import measuring, turns
from analysis.services.turns import turn
from tests.support.pictures import dotted, file_of

PATIENCE_S = 30


@pytest.fixture(autouse=True)
def _small_machine(monkeypatch):
    monkeypatch.setattr(turns, "memory_bytes", lambda: 2_400_000_000)  # 30 megapixels
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 4)
    monkeypatch.setattr(turns, "_LOOK_S", 0.01)


class Crowd:
    """Threads that each take a turn and hold it until they are let go."""

    def __init__(self):
        self.at_work, self.done, self.told = [], [], {}
        self.leave = {}
        self.threads = []
        self.changed = threading.Condition()

    def add(self, name, megapixels):
        self.leave[name] = threading.Event()
        waits = threading.Event()

        def tell(_part, what):
            self.told[name] = what
            waits.set()

        def work():
            with turn(megapixels, tell):
                with self.changed:
                    self.at_work.append(name)
                    self.changed.notify_all()
                waits.set()
                assert self.leave[name].wait(PATIENCE_S)
            with self.changed:
                self.at_work.remove(name)
                self.done.append(name)
                self.changed.notify_all()

        thread = threading.Thread(target=work)
        self.threads.append(thread)
        thread.start()
        assert waits.wait(PATIENCE_S)

    def until(self, at_work):
        with self.changed:
            assert self.changed.wait_for(
                lambda: sorted(self.at_work) == sorted(at_work), PATIENCE_S
            ), self.at_work

    def let_go(self, name):
        self.leave[name].set()

    def end(self):
        for event in self.leave.values():
            event.set()
        for thread in self.threads:
            thread.join(PATIENCE_S)
            assert not thread.is_alive()


@pytest.fixture
def crowd():
    made = Crowd()
    yield made
    made.end()
    assert not turns._LINE
    assert not turns._AT_WORK


def test_no_more_megapixels_than_the_memory_holds(crowd):
    for name in "abc":
        crowd.add(name, 12)
    crowd.until(["a", "b"])
    assert crowd.told["c"] == "Waiting: next in line"
    crowd.let_go("a")
    crowd.until(["b", "c"])


def test_no_more_than_there_are_cores(crowd, monkeypatch):
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 1)
    crowd.add("a", 1)
    crowd.add("b", 1)
    crowd.until(["a"])
    crowd.let_go("a")
    crowd.until(["b"])


def test_first_in_line_is_not_passed_by_a_smaller_one(crowd):
    crowd.add("a", 20)
    crowd.add("large", 200)
    crowd.add("small", 1)
    crowd.until(["a"])
    assert crowd.told["small"] == "Waiting: 1 photo before this one"
    crowd.let_go("a")
    crowd.until(["large"])  # beyond the budget: alone
    crowd.let_go("large")
    crowd.until(["small"])


class CalledOffError(Exception):
    pass


def test_waiting_can_be_called_off(crowd):
    crowd.add("a", 30)

    def leave(_part, _what):
        raise CalledOffError

    with pytest.raises(CalledOffError), turn(12, leave):
        pytest.fail("It had no turn yet.")
    assert not turns._LINE
    crowd.add("b", 12)
    crowd.let_go("a")
    crowd.until(["b"])


def test_work_that_fails_gives_its_turn_back(crowd):
    with pytest.raises(CalledOffError), turn(30):
        raise CalledOffError
    crowd.add("a", 30)
    crowd.until(["a"])


def test_turn_inside_a_turn_is_the_same_work():
    with turn(30), turn(30):
        assert len(turns._AT_WORK) == 1


def test_measuring_waits_for_its_turn(crowd):
    photo = read_photo(file_of(dotted()))
    crowd.add("a", 30)
    told, found = [], []

    def tell(_part, what):
        told.append(what)
        crowd.let_go("a")

    thread = threading.Thread(
        target=lambda: found.append(measuring.measure(photo, progress=tell))
    )
    thread.start()
    thread.join(PATIENCE_S)
    assert told[0] == "Waiting: next in line"
    assert found[0][0].summary.void_count == 1


def test_a_container_has_only_what_it_is_given(monkeypatch, tmp_path):
    monkeypatch.undo()
    limit = tmp_path / "memory.max"
    monkeypatch.setattr(turns, "_CGROUP", limit)
    whole = turns.memory_bytes()
    for text, found in (("max", whole), ("1000000000", 1_000_000_000)):
        limit.write_text(text)
        assert turns.memory_bytes() == found
    assert turns.budget_megapixels() == 12.5
    monkeypatch.delattr(turns.os, "sysconf")
    limit.unlink()
    assert turns.memory_bytes() == 4_000_000_000
    assert np.isfinite(turns.budget_megapixels())
