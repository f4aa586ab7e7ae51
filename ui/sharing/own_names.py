"""Answers to the app's own names only, and to nobody who calls from another page.

A page elsewhere can have its name lead to this machine (DNS rebinding) and would then
be one origin with the app; the name it asks by gives it away. A socket opened from
another page is told by its origin, before anything behind looks addresses up for it.
"""

from __future__ import annotations

import socket
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.responses import PlainTextResponse

from ui.sharing import words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from starlette.types import ASGIApp, Receive, Scope, Send

LOCAL = ("localhost", "127.0.0.1", "::1")


def own_names(shared_at: str = "") -> frozenset[str]:
    """Return the names the app answers to.

    Parameters
    ----------
    shared_at : str
        Address in the network, empty while it is not shared.

    Examples
    --------
    >>> sorted(own_names())
    ['127.0.0.1', '::1', 'localhost']
    >>> "192.0.2.7" in own_names("http://192.0.2.7:8501")
    True
    """
    host = urlsplit(shared_at).hostname if shared_at else None
    if not host:
        return frozenset(LOCAL)
    name = socket.gethostname().lower().removesuffix(".local")
    return frozenset({*LOCAL, host.lower(), name, f"{name}.local"})


class OwnNames:
    """Refuse what is asked by another name or from another page.

    Parameters
    ----------
    app : ASGI application
        What is behind.
    names : iterable of str
        Lower case, without ports.
    """

    def __init__(self, app: ASGIApp, names: Iterable[str]) -> None:
        self._app = app
        self._names = frozenset(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, or refuse."""
        kind = scope["type"]
        if kind == "lifespan" or self._is_own(scope):
            await self._app(scope, receive, send)
        elif kind == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            refusal = PlainTextResponse(words.NOT_OUR_NAME, status_code=403)
            await refusal(scope, receive, send)

    def _is_own(self, scope: Scope) -> bool:
        asked = _headers(scope, b"host")
        if len(asked) != 1 or _host(asked[0]) not in self._names:
            return False
        origins = _headers(scope, b"origin")
        # A page's own calls name where the page itself was got.
        return all(urlsplit(one).netloc.lower() == asked[0].lower() for one in origins)


def _headers(scope: Scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key == name]


def _host(asked: str) -> str:
    try:
        return (urlsplit(f"//{asked}").hostname or "").rstrip(".")
    except ValueError:
        return ""
