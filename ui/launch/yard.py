"""What a server for a whole yard is started with: its address, its surroundings."""

from __future__ import annotations

from urllib.parse import urlsplit


class AddressError(ValueError):
    """An address cannot be used; the message says what to do."""


def public_address(text: str) -> str:
    """Read the address that a proxy before the server answers to.

    Parameters
    ----------
    text : str
        As given after ``--at``.

    Returns
    -------
    str
        Scheme, host and port, in lower case, without a slash at the end.

    Raises
    ------
    AddressError
        It is no such address.

    Examples
    --------
    >>> public_address("https://Log.Example.org/")
    'https://log.example.org'
    """
    try:
        parts = urlsplit(text.strip())
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    more = not host or parts.path.strip("/") or parts.query or parts.fragment
    if more or parts.scheme not in {"http", "https"} or parts.username is not None:
        msg = (
            f"The address after --at must be like https://log.example.org, "
            f"not '{text}': give scheme and name, and nothing behind."
        )
        raise AddressError(msg)
    shown = f"[{host}]" if ":" in str(host) else host
    return f"{parts.scheme}://{shown}" + ("" if port is None else f":{port}")


def surroundings() -> dict[str, str]:
    """Return variables for a server on which one face is measured on each core.

    The libraries would start as many threads as there are cores for each face, and the
    memory would be split between threads that do not give it back.

    Examples
    --------
    >>> surroundings()["OMP_NUM_THREADS"]
    '1'
    """
    return {
        "STRUCKFACE_SERVER": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "MALLOC_ARENA_MAX": "2",
    }
