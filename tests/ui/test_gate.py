"""The gate before the shared app: what passes, what is asked, what is refused."""

from __future__ import annotations

import asyncio
from urllib.parse import urlencode

import pytest

from ui.sharing import gate as door
from ui.sharing.gate import COOKIE, DOOR, Gate
from ui.sharing.keys import Guesses, keys_for, new_token

PASSPHRASE = "two wet gloves"


@pytest.fixture(scope="module")
def keys():
    return keys_for(PASSPHRASE)


async def behind(_scope, _receive, send):
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"inside"})


def ask(
    gate,
    path="/",
    *,
    method="GET",
    headers=(),
    body=b"",
    kind="http",
    query=b"",
    scheme="http",
):
    """Send one request; give status, headers and body, or the kind of answer."""
    scope = {
        "type": kind,
        "path": path,
        "scheme": scheme,
        "method": method,
        "query_string": query,
        "headers": [(name.encode(), value.encode()) for name, value in headers],
        "client": ("198.51.100.7", 1234),
    }
    sent = []

    async def receive():
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message):
        sent.append(message)

    asyncio.run(gate(scope, receive, send))
    return sent


def status(sent):
    return sent[0]["status"]


def header(sent, name):
    found = [value for key, value in sent[0]["headers"] if key == name.encode()]
    return found[0].decode() if found else None


def try_in(gate, passphrase, where="/", **more):
    body = urlencode({"passphrase": passphrase, "where": where}).encode()
    return ask(gate, DOOR, method="POST", body=body, **more)


HTML = (("accept", "text/html"),)


@pytest.mark.parametrize(
    ("path", "method", "headers", "expected"),
    [
        ("/", "GET", HTML, b"Passphrase"),
        ("/pieces", "GET", HTML, b"Passphrase"),
        ("/media/abc.png", "GET", (), b"not signed in"),
        ("/_stcore/upload_file/a/b", "PUT", (), b"not signed in"),
        ("/_stcore/host-config", "GET", (), b"not signed in"),
        ("/static/js/index.js", "GET", (), b"not signed in"),
    ],
)
def test_strangers_get_nothing(keys, path, method, headers, expected):
    sent = ask(Gate(behind, keys, Guesses()), path, method=method, headers=headers)
    assert status(sent) == 401
    assert expected in sent[1]["body"]


def test_a_strangers_socket_is_closed(keys):
    sent = ask(Gate(behind, keys, Guesses()), "/_stcore/stream", kind="websocket")
    assert [message["type"] for message in sent] == ["websocket.close"]


def test_the_starter_may_ask_whether_all_is_well(keys):
    assert status(ask(Gate(behind, keys, Guesses()), "/_stcore/health")) == 200


def test_who_knows_the_passphrase_is_let_in_and_known_again(keys):
    gate = Gate(behind, keys, Guesses())
    sent = try_in(gate, PASSPHRASE, "/pieces?piece=3")
    assert (status(sent), header(sent, "location")) == (303, "/pieces?piece=3")
    cookie = header(sent, "set-cookie")
    assert "HttpOnly" in cookie
    assert "samesite=lax" in cookie.lower()
    held = (("cookie", cookie.partition(";")[0]),)
    assert status(ask(gate, "/media/abc.png", headers=held)) == 200
    assert status(ask(Gate(behind, keys, Guesses()), "/", headers=held)) == 200


def test_another_logs_token_is_nothing_here(keys):
    token = new_token(keys_for(PASSPHRASE), 1e10)
    held = (("cookie", f"{COOKIE}={token}"),)
    assert status(ask(Gate(behind, keys, Guesses()), "/x", headers=held)) == 401


def test_wrong_ones_are_told_then_locked_out_even_with_the_right_one(keys):
    gate = Gate(behind, keys, Guesses())
    for _ in range(5):
        sent = try_in(gate, "not the gloves")
        assert status(sent) == 403
        assert b"not the passphrase" in sent[1]["body"]
    sent = try_in(gate, PASSPHRASE)
    assert status(sent) == 429
    assert b"Too many wrong tries: wait" in sent[1]["body"]


@pytest.mark.parametrize(
    "where",
    ["//evil.example", "https://evil.example/", "/\\evil", "x", DOOR, "/a\r\nb"],
)
def test_nobody_is_led_elsewhere(keys, where):
    sent = try_in(Gate(behind, keys, Guesses()), PASSPHRASE, where)
    assert header(sent, "location") == "/"


def test_what_a_link_says_is_no_markup(keys):
    sent = ask(Gate(behind, keys, Guesses()), '/"><script>x</script>', headers=HTML)
    assert b"<script>" not in sent[1]["body"]


def test_without_keys_nobody_is_let_in():
    gate = Gate(behind, None, Guesses())
    assert status(try_in(gate, "")) == 503
    assert status(ask(gate, "/", headers=(("cookie", f"{COOKIE}=1.2.3"),))) == 401


def test_an_endless_form_is_not_read():
    calls = []

    async def receive():
        calls.append(1)
        return {"type": "http.request", "body": b"x" * 3000, "more_body": True}

    assert asyncio.run(door._form(receive)) == {}
    assert len(calls) == 2


@pytest.mark.parametrize(("scheme", "secure"), [("https", True), ("http", False)])
def test_behind_a_proxy_that_encrypts_a_device_is_known_encrypted_only(
    keys, scheme, secure
):
    gate = Gate(behind, keys=keys, guesses=Guesses())
    sent = try_in(gate, PASSPHRASE, scheme=scheme)
    assert ("Secure" in header(sent, "set-cookie")) is secure
