"""The longest files first, so that no core waits at the end for the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests in a browser before all others; files stay together."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)
