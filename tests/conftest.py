"""The longest files first, so that no core waits at the end for the other."""

from __future__ import annotations

import importlib

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests in a browser before all others; files stay together."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


@pytest.fixture(scope="session")
def shop():
    """Lend the pretended workshop to the rooms that ask its tables something."""
    return importlib.import_module("tests.compare.shop")
