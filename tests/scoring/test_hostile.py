"""A short form of the hostile benchmark: damaged and crafted input, seeds fixed."""

from __future__ import annotations

import pytest

from tests.benchmarks import hostile
from tests.benchmarks.hostile_work import WORKS, killed_at


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("work", "count"), [("tables", 80), ("backups", 16), ("logs", 12)]
)
def test_nothing_goes_wrong(work, count):
    found, wrong = getattr(hostile, work)(range(count))
    assert not wrong
    assert sum(found.values()) == count
    assert found["refused"]


@pytest.mark.filterwarnings("ignore")
def test_no_damaged_photo_is_shown_otherwise_without_a_word():
    found, wrong = hostile.photos(range(150))
    assert wrong == []  # of 10,000 a few pass: see the table
    assert found["refused"] > 75


@pytest.mark.slow
@pytest.mark.parametrize("work", sorted(WORKS))
def test_kill_at_a_random_moment_loses_nothing(work):
    done, wrong = killed_at(work, seed=1)
    assert done
    assert wrong == []
