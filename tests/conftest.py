"""What all tests share: nothing is left to chance, and the longest files come first."""

from __future__ import annotations

import importlib
import os
import random

import pytest
from hypothesis import settings

from analysis.model.card import MARK_LENGTH, MARK_SIGNS

# No tests and no examples: apps that a server runs, and commands of their own.
collect_ignore_glob = ["ui/apps/*", "benchmarks/*", "support/*", "run.py"]

# Another number tries other marks of logs: STRUCKFACE_TEST_MARKS=7 python tests/run.py
MARKS_SEED = os.environ.get("STRUCKFACE_TEST_MARKS", "1")

# The same examples each time, and no limit on time that a busy machine could miss.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.load_profile("fixed")


@pytest.fixture(autouse=True)
def _fixed_marks(
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    """Draw the marks of logs from a seed and the test's name."""
    drawn = random.Random(f"{MARKS_SEED} {request.node.nodeid}")
    monkeypatch.setattr(
        "analysis.storage.log_mark.drawn_mark",
        lambda: "".join(drawn.choices(MARK_SIGNS, k=MARK_LENGTH)),
    )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests in a browser before all others; files stay together."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


@pytest.fixture(scope="session")
def shop():
    """Lend the pretended workshop to the rooms that ask its tables something."""
    return importlib.import_module("tests.support.simulated_table")
