"""The line for heavy work: its order, its limits, and leaving it."""

from __future__ import annotations

import threading
from contextlib import nullcontext

import numpy as np
import pytest

from analysis.errors import BusyError
from analysis.imaging.photo import read_photo
from analysis.services import measuring, turns
from analysis.services.turns import look_turn, turn
from tests.support.pictures import dotted, file_of

PATIENCE_S = 30


@pytest.fixture(autouse=True)
def _small_machine(monkeypatch):
    monkeypatch.setattr(turns, "memory_bytes", lambda: 2_400_000_000)  # 30 megapixels
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 4)
    monkeypatch.setattr(turns, "_LOOK_S", 0.01)
    monkeypatch.setattr(turns, "_SHARE_FOR_WAITING", 0.5)


class Crowd:
    """Threads that each take a turn and hold it until they are let go."""

    def __init__(self):
        self.at_work, self.done, self.told = [], [], {}
        self.leave = {}
        self.threads = []
        self.changed = threading.Condition()
        self.mine = threading.local()

    def add(self, name, megapixels, who=""):
        self.leave[name] = threading.Event()
        waits = threading.Event()

        def tell(_part, what):
            self.told[name] = what
            waits.set()

        def hold():
            self.mine.who = who
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

        thread = threading.Thread(target=hold)
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
def crowd(monkeypatch):
    made = Crowd()
    monkeypatch.setattr(turns, "_ASKED_BY", [])
    turns.told_apart_by(lambda: getattr(made.mine, "who", ""))
    yield made
    made.end()
    assert turns.at_work_and_waiting() == (0, 0)


def test_no_more_megapixels_than_the_memory_holds(crowd):
    for name in "abc":
        crowd.add(name, 12)
    crowd.until(["a", "b"])
    assert crowd.told["c"] == "Waiting: next in the queue"
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
    assert crowd.told["small"] == "Waiting: second in the queue"
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
    assert turns.at_work_and_waiting() == (1, 0)
    crowd.add("b", 12)
    crowd.let_go("a")
    crowd.until(["b"])


def served(crowd, first):
    """Let all go, one after the other; return the order they were served in."""
    order = [*crowd.done, first]
    crowd.let_go(first)
    while len(order) < len(crowd.leave):
        with crowd.changed:
            assert crowd.changed.wait_for(
                lambda: crowd.at_work and crowd.at_work[0] not in order, PATIENCE_S
            )
            order.append(crowd.at_work[0])
        crowd.let_go(order[-1])
    return order


def test_those_who_ask_are_served_in_turn(crowd, monkeypatch):
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 1)
    crowd.add("first", 1, "other")
    crowd.until(["first"])
    for name in ("a1", "a2", "a3"):
        crowd.add(name, 1, "a")
    crowd.add("b1", 1, "b")
    crowd.add("c1", 1, "c")
    crowd.add("b2", 1, "b")
    assert crowd.told["a1"] == "Waiting: next in the queue"
    assert crowd.told["c1"] == "Waiting: third in the queue"
    assert crowd.told["b2"] == "Waiting: fifth in the queue"
    assert served(crowd, "first") == ["first", "a1", "b1", "c1", "a2", "b2", "a3"]


def test_newcomers_never_keep_one_waiting_for_ever(crowd, monkeypatch):
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 1)
    crowd.add("first", 1, "other")
    crowd.until(["first"])
    crowd.add("a1", 1, "a")
    crowd.add("a2", 1, "a")
    crowd.let_go("first")
    crowd.until(["a1"])  # a is now behind nobody, and stays ahead of who comes later
    for number in range(5):
        crowd.add(f"new{number}", 1, f"n{number}")
    assert crowd.told["new4"] == "Waiting: sixth in the queue"
    assert served(crowd, "a1")[:3] == ["first", "a1", "a2"]


def test_more_than_the_memory_holds_are_refused_and_nobody_else_is(crowd):
    crowd.add("a", 30)
    crowd.add("b", 399)  # holds 1,197 of 1,200 MB
    with (
        pytest.raises(BusyError, match=r"1 photos? wait.* try again in a minute"),
        turn(30, lambda _part, _what: None),
    ):
        pytest.fail("It had no turn yet.")
    crowd.let_go("a")
    crowd.until(["b"])
    crowd.add("c", 12)


def test_who_is_told_nothing_is_never_refused(crowd):
    crowd.add("a", 30)
    crowd.add("b", 399)
    done = []

    def work():
        with turn(30):
            done.append(1)

    thread = threading.Thread(target=work)
    thread.start()
    crowd.let_go("a")
    crowd.let_go("b")
    thread.join(PATIENCE_S)
    assert done == [1]


def test_looking_does_not_wait_for_measuring(crowd):
    crowd.add("a", 30)
    with look_turn(12), turn(200):
        assert turns.at_work_and_waiting() == (1, 0)


def test_looks_wait_for_each_other(monkeypatch):
    monkeypatch.setattr(turns.os, "cpu_count", lambda: 1)
    seen = []

    def look():
        with look_turn(1):
            seen.append(1)

    with look_turn(12):
        thread = threading.Thread(target=look)
        thread.start()
        thread.join(0.1)
        assert not seen
    thread.join(PATIENCE_S)
    assert seen == [1]


def test_work_that_fails_gives_its_turn_back(crowd):
    with pytest.raises(CalledOffError), turn(30):
        raise CalledOffError
    crowd.add("a", 30)
    crowd.until(["a"])


def test_turn_inside_a_turn_is_the_same_work():
    with turn(30), turn(30):
        assert turns.at_work_and_waiting() == (1, 0)


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
    assert told[0] == "Waiting: next in the queue"
    assert found[0][0].summary.void_count == 1


@pytest.mark.parametrize(
    ("px", "megapixels"),
    [(12_000_000, 12), (40_000_000, 40), (48_000_000, 41.2), (200_000_000, 64)],
)
def test_what_is_measured_in_tiles_weighs_less(px, megapixels):
    # Peaks as printed by tests/benchmarks/large_photos.py: 0.87 and 1.71 GB.
    peak = {48_000_000: 0.87e9, 200_000_000: 1.71e9}.get(px, 0)
    weight = measuring.turn_megapixels(px)
    assert weight == pytest.approx(megapixels)
    assert peak < weight * 1e6 * turns.BYTES_PER_PX


def test_measuring_asks_for_what_it_weighs(monkeypatch):
    asked = []

    def noted(megapixels, _tell):
        asked.append(megapixels)
        return nullcontext()

    monkeypatch.setattr(measuring, "turn", noted)
    monkeypatch.setattr(measuring, "turn_megapixels", lambda px: px / 1000)
    photo = read_photo(file_of(dotted()))
    measuring.measure(photo)
    assert asked == [photo.width_px * photo.height_px / 1000]


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
