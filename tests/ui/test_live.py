"""The live server of the browser tests serves, answers under a path, and goes."""

from __future__ import annotations

import socket
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.support import live as server

HELLO = Path(__file__).parent / "apps" / "hello.py"


@pytest.mark.browser
@pytest.mark.parametrize("base_path", ["", "yard"])
def test_script_is_shown(live, chromium, base_path):
    page = chromium.new_page()
    page.goto(live(HELLO, base_path=base_path))

    expect(page.get_by_role("heading", name="Struck")).to_be_visible()
    expect(page.get_by_text("data in ")).to_be_visible()
    page.close()


def test_server_is_gone_afterwards(tmp_path):
    with server.served(HELLO, data=tmp_path) as address:
        port = urlsplit(address).port

    with socket.socket() as caller:
        assert caller.connect_ex((server.HOST, port)) != 0


def test_script_that_cannot_be_served_is_told(tmp_path):
    with (
        pytest.raises(RuntimeError, match=r"missing\.py was not served"),
        server.served(tmp_path / "missing.py", data=tmp_path),
    ):
        pass


def test_named_browser_goes_first(monkeypatch):
    monkeypatch.setenv("STRUCKFACE_BROWSER", "/somewhere/else")

    assert server.browser_path() == "/somewhere/else"
