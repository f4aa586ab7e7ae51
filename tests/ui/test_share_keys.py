"""Passphrase, devices and wrong guesses of the shared app."""

from __future__ import annotations

import json

import pytest

from ui.sharing import keys as share_keys
from ui.sharing.keys import (
    Guesses,
    Keys,
    PassphraseError,
    is_known,
    keys_for,
    knows,
    load_keys,
    new_passphrase,
    new_token,
    save_keys,
)

PASSPHRASE = "two wet gloves"


@pytest.fixture(scope="module")
def keys():
    return keys_for(PASSPHRASE)


def test_the_hash_is_scrypt():
    # RFC 7914, section 12: scrypt("password", "NaCl", N=1024, r=8, p=16), 32 of 64
    # bytes; a shorter key is the longer one's beginning.
    given = Keys(
        salt=b"NaCl".hex(), digest="", secret="00", cost=1024, block=8, parallel=16
    )
    known = "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
    assert share_keys._digest(given, "password") == known


def test_only_the_passphrase_is_known(keys):
    assert knows(keys, f" {PASSPHRASE} ")
    for wrong in ("", "Two wet gloves", PASSPHRASE * 50, "\ud800"):
        assert not knows(keys, wrong.encode("utf-8", "replace").decode())


def test_neither_passphrase_nor_two_equal_hashes_are_stored(keys, tmp_path):
    text = save_keys(keys, tmp_path).read_text()
    assert PASSPHRASE not in text
    again = keys_for(PASSPHRASE)
    assert (again.salt, again.digest) != (keys.salt, keys.digest)


def test_keys_are_the_owners_alone_and_come_back(keys, tmp_path):
    path = save_keys(keys, tmp_path / "new")
    assert path.stat().st_mode & 0o077 == 0
    assert load_keys(tmp_path / "new") == keys


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"salt": "zz", "digest": "1", "secret": "1"}']
)
def test_a_broken_file_lets_nobody_in(text, tmp_path):
    (tmp_path / share_keys.FILE_NAME).write_text(text)
    assert load_keys(tmp_path) is None


def test_a_file_without_a_hash_lets_nobody_in(tmp_path, keys):
    blank = {"salt": keys.salt, "digest": "", "secret": keys.secret}
    (tmp_path / share_keys.FILE_NAME).write_text(json.dumps(blank))
    assert load_keys(tmp_path) is None


@pytest.mark.parametrize("given", ["short", " " * 20, "x" * 201])
def test_a_passphrase_has_a_length(given):
    with pytest.raises(PassphraseError, match="take 8 to 200"):
        keys_for(given)


def test_made_passphrases_differ_and_can_be_read_out():
    made = {new_passphrase() for _ in range(50)}
    assert len(made) == 50
    assert not set("".join(made)) & set("01ilo")


def test_a_token_holds_half_a_year_and_only_here(keys):
    token = new_token(keys, 1000.0)
    assert is_known(keys, token, 1000.0 + 179 * 86400)
    assert not is_known(keys, token, 1000.0 + 181 * 86400)
    assert not is_known(keys_for(PASSPHRASE), token, 1000.0)


def test_a_token_cannot_be_prolonged(keys):
    until, device, signature = new_token(keys, 0.0).split(".")
    longer = f"{int(until) + 1}.{device}.{signature}"
    assert not is_known(keys, longer, 0.0)
    for broken in ("", ".", "..", "é.é.é", f"{until}.{device}."):
        assert not is_known(keys, broken, 0.0)


class Clock:
    now_s = 0.0

    def __call__(self):
        return self.now_s


def test_wrong_guesses_make_a_place_wait_longer_each_time():
    clock = Clock()
    guesses = Guesses(clock)
    for _ in range(4):
        guesses.wrong("phone")
    assert guesses.wait_s("phone") == 0
    waits = []
    for _ in range(8):
        guesses.wrong("phone")
        waits.append(guesses.wait_s("phone"))
    assert waits == [30, 60, 120, 240, 480, 900, 900, 900]
    assert guesses.wait_s("other") == 0
    clock.now_s += 901
    assert guesses.wait_s("phone") == 0
    guesses.right("phone")
    guesses.wrong("phone")
    assert guesses.wait_s("phone") == 0


def test_guesses_from_many_places_stop_everybody():
    guesses = Guesses(Clock())
    for k in range(50):
        guesses.wrong(f"place {k}")
    assert guesses.wait_s("another") == 30


def test_a_guess_costs_what_it_should(keys):
    # OWASP Password Storage Cheat Sheet, from memory: 32 MiB and three passes.
    assert 128 * keys.cost * keys.block == 32 * 2**20
    assert keys.parallel == 3
