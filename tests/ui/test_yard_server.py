"""The server for a whole yard: its options, its address, who is told apart."""

from __future__ import annotations

import asyncio
import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from analysis.services import turns
from tests.support import live
from tests.support import yard as yard_of_phones
from tests.support.screens import face_png
from tests.support.screens import start as opened
from ui import start
from ui.launch import arguments, ports, yard
from ui.sharing.asking import asking

ROOT = Path(__file__).resolve().parents[2]


def test_server_shares_and_opens_no_browser():
    options = arguments.read_options(["--server"])
    assert (options.server, options.share, options.headless) == (True, True, True)
    assert arguments.read_options(["--server", "--at", "https://log.example.org"]).at


@pytest.mark.parametrize(
    "text",
    [
        "log.example.org",
        "ftp://log.example.org",
        "https://log.example.org/log",
        "https://me@log.example.org",
        "https://log.example.org:none",
        "https://",
        "https://[::1",
        "",
    ],
)
def test_an_address_that_is_none_is_refused(text):
    with pytest.raises(yard.AddressError, match=r"must be like https://"):
        yard.public_address(text)
    with pytest.raises(ports.RequestError, match=r"must be like https://"):
        arguments.read_options(["--server", f"--at={text}"])


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("https://Log.Example.org/", "https://log.example.org"),
        ("http://[2001:db8::7]:8443", "http://[2001:db8::7]:8443"),
    ],
)
def test_an_address_is_read(text, read):
    assert yard.public_address(text) == read


def test_a_proxy_is_for_a_server_only():
    with pytest.raises(ports.RequestError, match="give --server too"):
        arguments.read_options(["--at", "https://log.example.org"])


def test_behind_a_proxy_only_this_machine_is_answered():
    python = Path("python")
    open_one = start.server_command(python, 8501, shared_at="192.0.2.7", server=True)
    behind = start.server_command(
        python, 8501, server=True, at="https://log.example.org"
    )
    assert "--server.address=0.0.0.0" in open_one
    assert "--browser.serverAddress=192.0.2.7" in open_one
    assert "--server.address=127.0.0.1" in behind
    assert "--browser.serverAddress=log.example.org" in behind
    for command in (open_one, behind):
        assert any(one.endswith("yard.py") for one in command)


def test_pages_name_who_asks(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setattr(turns, "_ASKED_BY", [])
    opened("guide")
    assert [asking] == turns._ASKED_BY
    assert asking() == ""  # nobody in this thread


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="sends signals to a process")
def test_server_starts_with_one_passphrase_and_ends_cleanly(tmp_path):
    port = live._free_port()
    program = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from pathlib import Path\n"
        "from ui import start\n"
        "from ui.launch import provision\n"
        "provision.provide = lambda *_: Path(sys.executable)\n"
        f"sys.exit(start.main(['--server', '--at', 'https://log.example.org',"
        f" '--port', '{port}', '--data', {str(tmp_path)!r}]))\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    ) as it:
        said = ""
        while "Phones: https://log.example.org" not in said:
            line = it.stdout.readline()
            assert line, said
            said += line
        assert "The passphrase, to be typed once on each device" in said
        assert f"open at http://127.0.0.1:{port}" in said
        it.send_signal(signal.SIGTERM)
        rest, _ = it.communicate(timeout=60)
        assert it.returncode == 0
    assert "Struckface is closed." in rest


@pytest.mark.slow
def test_phones_measure_and_save_and_nothing_is_lost_or_doubled(tmp_path, monkeypatch):
    monkeypatch.setattr(yard_of_phones, "_CALLED_OFF_EVERY", 2)
    pixels = np.asarray(Image.open(io.BytesIO(face_png(size=(480, 360)))))
    with yard_of_phones.served(tmp_path, 3) as (address, process):
        seen = asyncio.run(
            yard_of_phones.at_work(
                address,
                pixels,
                mm_per_px=0.5,
                sessions=3,
                pages=5,
                goes_on=lambda seen: len(seen.saved) < 3 and not seen.troubles,
            )
        )
        assert process.poll() is None
    assert seen.troubles == []
    assert len(seen.saved) >= 3
    assert seen.called_off >= 1
    assert len(seen.looks_s) >= 2
    kept = yard_of_phones.kept(tmp_path)
    assert dict.fromkeys(seen.saved, 1) == kept


@pytest.mark.parametrize(
    ("address", "warned"),
    [("http://192.0.2.7:8501", True), ("https://log.example.org", False)],
)
def test_the_page_for_phones_warns_only_where_nothing_is_encrypted(
    address, warned, tmp_path, monkeypatch
):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setenv("STRUCKFACE_SHARED_AT", address)
    page = opened("sharing")
    said = " ".join(one.value for one in (*page.markdown, *page.caption))
    assert "Anyone who knows the passphrase" in said
    assert ("Nothing is encrypted" in said) == warned
    assert ("in the same network" in said) == warned
