"""Stands before every request while the app is shared: page, socket, upload, photo."""

from __future__ import annotations

import html
import time
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, urlsplit

import anyio
from anyio import to_thread
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse

from ui.sharing import keys as share_keys
from ui.sharing import words as share_words

if TYPE_CHECKING:
    from starlette.responses import Response
    from starlette.types import ASGIApp, Receive, Scope, Send

    from ui.sharing.keys import Guesses, Keys

COOKIE = "struckface_device"
DOOR = "/let-in"
# The starter asks whether the app is well before anybody is let in.
_OPEN = "/_stcore/health"
_KNOWN_FOR_S = 180 * 24 * 3600
_LONGEST_FORM = 4096


class Gate:
    """Let devices in that know the passphrase, or did so before.

    Parameters
    ----------
    app : ASGI application
        What is behind the gate.
    keys : Keys or None
        None lets nobody in.
    guesses : Guesses
        Wrong ones so far.
    """

    def __init__(self, app: ASGIApp, keys: Keys | None, guesses: Guesses) -> None:
        self._app = app
        self._keys = keys
        self._guesses = guesses
        # One at a time: a hash takes memory, and guessing must not take more.
        self._hashing = anyio.Semaphore(1)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, ask, or refuse."""
        kind, path = scope["type"], scope.get("path", "")
        if kind == "lifespan" or path == _OPEN or self._is_known(scope):
            await self._app(scope, receive, send)
        elif kind == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        elif path == DOOR and scope["method"] == "POST":
            answer = await self._answer(scope, receive)
            await answer(scope, receive, send)
        elif scope["method"] == "GET" and "text/html" in _header(scope, b"accept"):
            where = path + ("?" if scope["query_string"] else "")
            where += scope["query_string"].decode("latin-1")
            await _asked(where)(scope, receive, send)
        else:
            refusal = PlainTextResponse(share_words.NOT_LET_IN, status_code=401)
            await refusal(scope, receive, send)

    def _is_known(self, scope: Scope) -> bool:
        if self._keys is None:
            return False
        try:
            found = SimpleCookie(_header(scope, b"cookie")).get(COOKIE)
        except CookieError:
            return False
        return found is not None and share_keys.is_known(
            self._keys, found.value, time.time()
        )

    async def _answer(self, scope: Scope, receive: Receive) -> Response:
        """Answer a passphrase."""
        form = await _form(receive)
        where = _own_page(form.get("where", "/"))
        place = (scope.get("client") or ("",))[0] or "somewhere"
        if self._keys is None:
            return _asked(where, share_words.NO_KEYS, 503)
        async with self._hashing:
            wait_s = self._guesses.wait_s(place)
            if wait_s > 0:
                return _asked(where, share_words.wait(wait_s), 429)
            right = await to_thread.run_sync(
                share_keys.knows, self._keys, form.get("passphrase", "")
            )
            if not right:
                self._guesses.wrong(place)
                return _asked(where, share_words.WRONG, 403)
        self._guesses.right(place)
        answer = RedirectResponse(where, status_code=303)
        answer.set_cookie(
            COOKIE,
            share_keys.new_token(self._keys, time.time()),
            max_age=_KNOWN_FOR_S,
            httponly=True,
            # Behind a proxy that encrypts, it never travels open.
            secure=scope.get("scheme") == "https",
            samesite="lax",
        )
        return answer


def _header(scope: Scope, name: bytes) -> str:
    values = [value for key, value in scope["headers"] if key == name]
    return b"; ".join(values).decode("latin-1")


async def _form(receive: Receive) -> dict[str, str]:
    """Read the fields of a small form."""
    body = b""
    more = True
    while more and len(body) <= _LONGEST_FORM:
        message = await receive()
        body += message.get("body", b"")
        more = message.get("more_body", False)
    fields = parse_qs(body[:_LONGEST_FORM].decode("utf-8", "replace"))
    return {name: values[0] for name, values in fields.items()}


def _own_page(where: str) -> str:
    """Return a page of this app, never an address elsewhere."""
    parts = urlsplit(where)
    is_own = where.startswith("/") and not where.startswith(("//", "/\\"))
    plain = is_own and not (parts.scheme or parts.netloc) and where.isprintable()
    return where if plain and parts.path != DOOR else "/"


def _asked(where: str, trouble: str = "", status: int = 401) -> Response:
    """Return the page that asks for the passphrase."""
    said = f'<p role="alert">{html.escape(trouble)}</p>' if trouble else ""
    page = share_words.PAGE.format(
        door=DOOR, where=html.escape(_own_page(where), quote=True), trouble=said
    )
    headers = {"Cache-Control": "no-store", "X-Frame-Options": "DENY"}
    return HTMLResponse(page, status_code=status, headers=headers)
