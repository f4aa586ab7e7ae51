"""Names and origins the app answers to, and the backups it sends."""

from __future__ import annotations

import asyncio
import subprocess
import sys

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from streamlit.web.server.app_discovery import discover_asgi_app

from tests.ui.test_gate import behind
from ui.sharing import own_names as door
from ui.sharing import owner, serving
from ui.sharing.own_names import LOCAL, OwnNames, own_names


def ask(host, *, origin=None, kind="http", names=LOCAL, more=()):
    headers = [(b"host", one.encode("latin-1")) for one in (host, *more) if one]
    if origin is not None:
        headers.append((b"origin", origin.encode()))
    scope = {"type": kind, "path": "/", "method": "GET", "headers": headers}
    sent = []

    async def receive():
        return {"type": f"{kind}.connect"}

    async def send(message):
        sent.append(message)

    asyncio.run(OwnNames(behind, names)(scope, receive, send))
    return sent[0].get("status", sent[0]["type"])


@pytest.mark.parametrize(
    "host",
    ["localhost:8501", "127.0.0.1:8501", "[::1]:8501", "LOCALHOST", "localhost."],
)
def test_own_names_are_answered(host):
    assert ask(host) == 200
    assert ask(host, origin=f"http://{host}", kind="websocket") == 200


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example:8501",
        "127.0.0.1.rebound.example",
        "localhost.rebound.example",
        "192.0.2.7:8501",
        "user@rebound.example",
        "[::1",
        "",
        "127.0.0.2",
    ],
)
def test_other_names_are_not(host):
    assert ask(host) == 403
    assert ask(host, kind="websocket") == "websocket.close"


def test_two_names_at_once_are_not():
    assert ask("localhost", more=["rebound.example"]) == 403


@pytest.mark.parametrize(
    "origin",
    [
        "http://rebound.example",
        "http://localhost:9999",
        "https://127.0.0.1:8501.rebound.example",
        "null",
        "",
    ],
)
def test_other_pages_open_no_socket_and_send_nothing(origin):
    assert ask("127.0.0.1:8501", origin=origin, kind="websocket") == "websocket.close"
    assert ask("127.0.0.1:8501", origin=origin) == 403


def test_nothing_behind_hears_of_a_foreign_origin(monkeypatch):
    # Streamlit would ask a service elsewhere for this machine's address.
    monkeypatch.setattr(
        "streamlit.net_util.get_external_ip", lambda: pytest.fail("asked elsewhere")
    )
    test_other_pages_open_no_socket_and_send_nothing("http://rebound.example")


def test_shared_app_answers_to_its_address_and_name_too(monkeypatch):
    monkeypatch.setattr(door.socket, "gethostname", lambda: "Yard-PC")
    names = own_names("http://192.0.2.7:8501")
    for host in ("192.0.2.7:8501", "yard-pc:8501", "yard-pc.local", "localhost"):
        assert ask(host, names=names) == 200
    for host in ("192.0.2.8:8501", "rebound.example"):
        assert ask(host, names=names) == 403
    assert ask("192.0.2.7", names=own_names()) == 403


def test_backups_are_sent_as_files_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    backups = tmp_path / "backups"
    backups.mkdir()
    (backups / "whole-2026-01-01-120000.zip").write_bytes(b"zip" * 100_000)
    (backups / "other.zip").write_bytes(b"x")
    (tmp_path / "log.sqlite").write_bytes(b"x")
    first, *parts = fetched("/backups/whole-2026-01-01-120000.zip")
    assert first["status"] == 200
    assert b"".join(part["body"] for part in parts) == b"zip" * 100_000
    assert len(parts) > 2  # never all of it at once
    assert b"attachment" in dict(first["headers"])[b"content-disposition"]
    for name in ("other.zip", "log-2026-01-01.zip", "../log.sqlite", "..\\log.sqlite"):
        assert fetched(f"/backups/{name}")[0]["status"] == 404


def fetched(path):
    """Return what is sent for a path, message by message."""
    app = Starlette(routes=[Route("/backups/{name}", serving.backup_file)])
    scope = {
        "type": "http",
        "path": path,
        "method": "GET",
        "headers": [],
        "query_string": b"",
    }
    sent = []

    async def receive():
        await asyncio.sleep(60)

    async def send(message):
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    return sent


@pytest.mark.parametrize("name", ["local.py", "shared.py"])
def test_what_is_served_is_found_as_an_app(name):
    # Else Streamlit would run it as a page, and nothing would stand before it.
    found = discover_asgi_app(serving.PAGES.parent / "sharing" / name)
    assert found.is_asgi_app


# one app for a folder


def test_data_folder_has_one_owner_until_its_process_ends(tmp_path):
    hold = (
        "import sys; from pathlib import Path; from ui.sharing.owner import own\n"
        "print(own(Path(sys.argv[1]), 'http://127.0.0.1:1'), flush=True)\n"
        "sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as first:
        assert first.stdout.readline() == "True\n"
        assert not owner.own(tmp_path, "http://127.0.0.1:2")
        assert owner.owner_of(tmp_path) == "http://127.0.0.1:1"
        first.kill()
        first.wait()
    assert owner.own(tmp_path, "http://127.0.0.1:2")
    assert owner.own(tmp_path, "http://127.0.0.1:2")  # by the same process
    assert owner.owner_of(tmp_path) == "http://127.0.0.1:2"
    owner.let_go(tmp_path)
    assert owner.owner_of(tmp_path) == ""


def test_folder_that_cannot_be_written_has_no_owner(tmp_path):
    (tmp_path / "file").touch()
    assert owner.own(tmp_path / "file" / "x", "http://127.0.0.1:2")
    assert owner.owner_of(tmp_path / "file" / "x") == ""
