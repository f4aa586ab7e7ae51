"""What tests of screens share: a log of their own, and browsers."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Protocol

import pytest
import streamlit as st

from analysis.services import log as log_service
from tests.support import live as server
from tests.support.browser import open_chromium
from tests.support.screens import button, ran
from ui import cache

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser
    from streamlit.testing.v1 import AppTest

    from analysis.services.log import Log

# As much of a page as tells where a walk stood when it failed.
TOLD_SIGNS = 3000


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the screens a data folder of their own."""
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    return tmp_path


@pytest.fixture
def log(data: Path) -> Log:
    """Open the log that the screens show."""
    return log_service.open_log(data)


@pytest.fixture
def cut(monkeypatch: pytest.MonkeyPatch) -> Callable[..., AppTest]:
    """Press a button whose drawing something else cuts short at its very top."""
    real = cache.apply_settings

    def cut_once() -> None:
        monkeypatch.setattr(cache, "apply_settings", real)
        st.rerun()

    def pressing(app: AppTest, label: str = "", key: str = "") -> AppTest:
        monkeypatch.setattr(cache, "apply_settings", cut_once)
        found = app.button(key=key) if key else button(app, label)
        return ran(found.click().run())

    return pressing


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
    with open_chromium() as browser:
        yield browser


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Add to the report of a walk that failed what stood on the open pages.

    And what each server told its log last.
    """
    report = yield
    browser = getattr(item, "funcargs", {}).get("chromium")
    if call.when == "call" and report.failed and browser is not None:
        pages = [page for context in browser.contexts for page in context.pages]
        report.sections += [(f"page {page.url}", _said(page)) for page in pages]
        report.sections += [("server", said) for said in server.last_said()]
    return report


def _said(page) -> str:
    from playwright.sync_api import Error  # noqa: PLC0415  only if needed

    try:
        state = page.locator("[data-testid=stApp]").get_attribute(
            "data-test-script-state", timeout=5000
        )
        said = page.locator("body").inner_text(timeout=5000)
    except Error as error:
        return f"The page does not answer: {error}"
    return f"script: {state}\n{said[:TOLD_SIGNS]}"
