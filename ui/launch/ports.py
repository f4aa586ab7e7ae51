"""Addresses and ports of this machine; the standard library is all it needs."""

import http.client
import os
import socket

from ui.launch import console

HOST = "127.0.0.1"
FIRST_PORT = 8501
PORTS_TRIED = 100
LARGEST_PORT = 65535


class RequestError(Exception):
    """An option cannot be followed; the message says what to do."""


def port_trouble(port: int) -> str:
    """Why a port of this machine cannot be used.

    Returns
    -------
    str
        Empty where it can.

    Examples
    --------
    >>> port_trouble(0)
    ''
    """
    # Some systems let two servers share a port by different addresses, so ask first.
    with socket.socket() as caller:
        caller.settimeout(1.0)
        if port and caller.connect_ex((HOST, port)) == 0:
            return "something else answers there already"
    with socket.socket() as server:
        if os.name == "posix":
            # A port just left is free, as it is for the server itself.
            server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            server.bind((HOST, port))
        except OSError as error:
            return (error.strerror or str(error)).lower()
    return ""


def choose_port(wanted: int | None, *, first: int = FIRST_PORT) -> int:
    """Take the wanted port, or the first free one.

    Parameters
    ----------
    wanted
        The port asked for, or None.
    first
        Where the search begins if none was asked for.

    Returns
    -------
    int
        A port that was free a moment ago.

    Raises
    ------
    RequestError
        If the wanted port, or every port tried, is taken.

    Examples
    --------
    >>> choose_port(None) >= FIRST_PORT
    True
    """
    if wanted is not None:
        trouble = port_trouble(wanted)
        if trouble:
            msg = (
                f"Port {wanted} cannot be used ({trouble}): give another after --port, "
                f"or leave --port out."
            )
            raise RequestError(msg)
        return wanted
    last = min(first + PORTS_TRIED - 1, LARGEST_PORT)
    for port in range(first, last + 1):
        if not port_trouble(port):
            if port != first:
                console.say(f"Port {first} is taken; using {port} instead.")
            return port
    msg = f"All ports from {first} to {last} are taken: give a free one after --port."
    raise RequestError(msg)


def network_address() -> str:
    """Address of this machine in the network it would send through; sends nothing.

    Returns
    -------
    str
        Empty without a network.

    Examples
    --------
    >>> network_address().count(".") in (0, 3)
    True
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asker:
        try:
            # Documentation address (RFC 5737); naming it only chooses the way out.
            asker.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        address: str = asker.getsockname()[0]
        return address


def answers(port: int) -> bool:
    """Whether the app says on this port that it is well.

    Examples
    --------
    >>> answers(1)
    False
    """
    # No proxy may stand between: http.client asks the machine itself.
    line = http.client.HTTPConnection(HOST, port, timeout=2.0)
    try:
        line.request("GET", "/_stcore/health")
        return line.getresponse().status == http.HTTPStatus.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        line.close()
