"""Setting the passphrase before sharing, and the address as a code to scan."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.support.screens import start as open_page
from tests.support.screens import texts
from ui import start
from ui.launch import arguments, ports
from ui.sharing import setup as share_setup
from ui.sharing.address import code_png
from ui.sharing.keys import knows, load_keys

ADDRESS = "http://192.0.2.7:8501"


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.delenv("STRUCKFACE_PASSPHRASE", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    return tmp_path


def test_without_a_keyboard_a_passphrase_is_made_and_told(folder, capsys):
    assert share_setup.main(["keys"]) == 0
    told = capsys.readouterr().out.split()[-1]
    assert knows(load_keys(folder), told)


def test_the_passphrase_stays_until_another_is_asked_for(folder, capsys):
    share_setup.main(["keys"])
    first = load_keys(folder)
    assert share_setup.main(["keys"]) == 0
    assert load_keys(folder) == first
    assert "the one set before" in capsys.readouterr().out
    assert share_setup.main(["new-keys"]) == 0
    assert load_keys(folder).secret != first.secret


def test_a_given_passphrase_is_taken(folder, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_PASSPHRASE", "two wet gloves")
    assert share_setup.main(["keys"]) == 0
    assert knows(load_keys(folder), "two wet gloves")


def test_a_short_one_is_refused_in_one_sentence(folder, monkeypatch, capsys):
    monkeypatch.setenv("STRUCKFACE_PASSPHRASE", "wet")
    assert share_setup.main(["keys"]) == 2
    assert "has 3 characters: take 8 to 200" in capsys.readouterr().err
    assert load_keys(folder) is None


def test_the_code_says_the_address():
    pixels = np.array(Image.open(io.BytesIO(code_png(ADDRESS))).convert("L"))
    assert cv2.QRCodeDetector().detectAndDecode(pixels)[0] == ADDRESS


def test_the_terminal_shows_a_code(capsys):
    assert share_setup.main(["show", ADDRESS]) == 0
    assert "█" in capsys.readouterr().out


def test_the_page_is_there_only_while_shared(monkeypatch):
    monkeypatch.setenv("STRUCKFACE_SHARED_AT", ADDRESS)
    app = open_page("sharing")
    assert app.code[0].value == ADDRESS
    assert "othing is encrypted" in texts(app)


def test_sharing_is_asked_for_and_goes_behind_the_gate():
    assert arguments.read_options(["--share"]).share
    assert arguments.read_options(["--share", "--new-passphrase"]).new_passphrase
    with pytest.raises(ports.RequestError, match="give --share too"):
        arguments.read_options(["--new-passphrase"])
    shared = start.server_command(Path("python"), 8600, shared_at="192.0.2.7")
    assert any(part.endswith("shared.py") for part in shared)
    assert "--server.address=0.0.0.0" in shared
    alone = start.server_command(Path("python"), 8600)
    assert any(part.endswith("local.py") for part in alone)
    assert "--server.address=127.0.0.1" in alone


def test_without_a_network_or_a_passphrase_nothing_is_shared(monkeypatch):
    options = arguments.read_options(["--share"])
    monkeypatch.setattr(ports, "network_address", lambda: "")
    with pytest.raises(ports.RequestError, match="in no network: connect it"):
        start._prepare_sharing(Path(sys.executable), options, {})
    monkeypatch.setattr(ports, "network_address", lambda: "192.0.2.7")
    monkeypatch.setattr(start, "ROOT", Path.cwd())
    with pytest.raises(ports.RequestError, match="the line above says why"):
        start._prepare_sharing(Path("false"), options, {})
