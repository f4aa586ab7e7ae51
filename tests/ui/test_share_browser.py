"""A phone in the same network: let in once, from the photo to the saved reading."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.support import live as server
from tests.support.browser import PATIENCE_MS, look
from ui import start
from ui.launch import ports
from ui.sharing.keys import keys_for, save_keys

UI = Path(__file__).resolve().parents[2] / "ui"
PHOTO = UI.parent / "sample_images" / "trough_joints_sealed.jpg"
PASSPHRASE = "two wet gloves"

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def network():
    address = ports.network_address()
    if not address:
        pytest.skip("This machine is in no network.")
    return address


@pytest.fixture(scope="module")
def shared(network, tmp_path_factory):
    """The app as --share serves it, at its address in the network."""
    data = tmp_path_factory.mktemp("shared")
    save_keys(keys_for(PASSPHRASE), data)
    port = server._free_port()
    command = start.server_command(Path(sys.executable), port, shared_at=network)
    address = f"http://{network}:{port}"
    surroundings = {"STRUCKFACE_DATA": str(data), "STRUCKFACE_SHARED_AT": address}
    with running(command, port, surroundings):
        yield address


class running:  # noqa: N801  used as a block
    def __init__(self, command, port, surroundings):
        self.command, self.port, self.surroundings = command, port, surroundings

    def __enter__(self):
        self.process = subprocess.Popen(
            self.command,
            cwd=UI.parent,
            env=os.environ | self.surroundings,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        if not server._becomes_healthy(self.process, self.port, ""):
            self.__exit__()
            pytest.fail("The app was not served.")

    def __exit__(self, *_):
        self.process.kill()
        self.process.communicate()


def phone(chromium):
    return chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )


def let_in(page, passphrase):
    page.get_by_label("Passphrase").fill(passphrase)
    page.get_by_role("button", name="Let me in").click()


def write(page, label, text):
    field = page.get_by_label(label).last
    field.fill(text)
    field.press("Tab")
    server.settled(page)


def test_without_share_only_this_machine_is_answered(network, tmp_path):
    port = server._free_port()
    command = start.server_command(Path(sys.executable), port)
    with running(command, port, {"STRUCKFACE_DATA": str(tmp_path)}):
        with socket.create_connection(("127.0.0.1", port), timeout=5):
            pass
        with pytest.raises(OSError, match=r"refused|timed out"):
            socket.create_connection((network, port), timeout=5)


def test_a_phone_goes_from_the_photo_to_the_saved_reading(shared, chromium):
    first = phone(chromium)
    page = first.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{shared}/pieces")
    look(page, "share-asked")
    let_in(page, PASSPHRASE)
    expect(page.get_by_text("Nothing is logged yet.")).to_be_visible()
    assert page.url == f"{shared}/pieces"
    page.goto(f"{shared}/phone")
    expect(page.get_by_text(shared)).to_be_visible()
    server.settled(page)
    look(page, "share-code")
    page.goto(f"{shared}/measure")
    page.locator("input[type=file]").first.set_input_files(PHOTO)
    # Asked for its face only once it is there.
    expect(page.get_by_text("1600 x 1200 px")).to_be_visible()
    server.accept_face(page)
    server.pick(page, "mm per px")
    write(page, "mm per px", "0.2")
    page.get_by_role("button", name="Measure", exact=True).tap()
    expect(page.get_by_text("Voids counted")).to_be_visible()
    server.settled(page)
    page.get_by_role("button", name="Change", exact=True).tap()
    server.settled(page)
    write(page, "Piece name or number", "Trough 7")
    page.get_by_role("button", name="Save", exact=True).tap()
    expect(page.get_by_text("Saved. New piece Trough 7")).to_be_visible()

    # Asked once: a new tab of this phone is let in; another device is not.
    again = first.new_page()
    again.goto(f"{shared}/pieces")
    expect(again.get_by_text("Trough 7", exact=True)).to_be_visible()
    stranger = phone(chromium)
    other = stranger.new_page()
    other.goto(f"{shared}/pieces")
    expect(other.get_by_label("Passphrase")).to_be_visible()
    first.close()
    stranger.close()


def test_wrong_guesses_are_locked_out(shared, chromium):
    context = phone(chromium)
    page = context.new_page()
    page.goto(shared)
    for _ in range(5):
        let_in(page, "not the gloves")
        expect(page.get_by_text("That is not the passphrase.")).to_be_visible()
    let_in(page, PASSPHRASE)
    expect(page.get_by_text("Too many wrong tries")).to_be_visible()
    look(page, "share-locked")
    context.close()
