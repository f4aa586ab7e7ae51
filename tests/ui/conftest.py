"""Fixtures of the browser tests: `live` serves a script, `chromium` opens pages."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Protocol

import pytest

from tests.support import live as server

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser


class Live(Protocol):
    def __call__(self, script: Path, *, base_path: str = "") -> str: ...


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    """Serve scripts on free ports, each once and with a data folder of its own."""
    with contextlib.ExitStack() as servers:
        addresses: dict[tuple[Path, str], str] = {}

        def serve(script: Path, *, base_path: str = "") -> str:
            asked = (script, base_path)
            if asked not in addresses:
                data = tmp_path_factory.mktemp("data")
                addresses[asked] = servers.enter_context(
                    server.served(script, data=data, base_path=base_path)
                )
            return addresses[asked]

        yield serve


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Open the installed browser; skip in words where there is none.

    Per module: while it is open an event loop runs, and no other may start.
    """
    path = server.browser_path()
    if path is None:
        pytest.skip("No Chromium was found: install one or set STRUCKFACE_BROWSER.")
    from playwright.sync_api import sync_playwright  # noqa: PLC0415  only if needed

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=server.BROWSER_ARGS
        )
        yield browser
        browser.close()
