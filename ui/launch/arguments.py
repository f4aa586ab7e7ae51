"""What the command line asks of the starter; the standard library is all it needs."""

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from ui.launch import yard
from ui.launch.ports import FIRST_PORT, LARGEST_PORT, RequestError

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the command line asked for; `port` None means the first free one."""

    headless: bool
    port: int | None
    data: Path | None
    share: bool = False
    new_passphrase: bool = False
    server: bool = False
    at: str = ""


class _OneSentence(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        msg = f"{message[:1].upper()}{message[1:]}: see --help for the options."
        raise RequestError(msg)


def read_options(argv: "Sequence[str]") -> Options:
    """Read the command line.

    Parameters
    ----------
    argv
        The arguments, without the program's name.

    Returns
    -------
    Options
        The data folder, if given, is absolute: the app runs in another folder.

    Raises
    ------
    RequestError
        If an option is unknown or its value cannot be used.

    Examples
    --------
    >>> read_options(["--headless", "--port", "8600"]).port
    8600
    """
    parser = _OneSentence(
        prog="start.py",
        description="Installs what Struckface needs and opens it in the browser.",
        allow_abbrev=False,
    )
    parser.add_argument("--headless", action="store_true", help="open no browser")
    parser.add_argument("--port", help=f"port to answer on (else from {FIRST_PORT} up)")
    parser.add_argument("--data", help="folder that keeps the log and the photos")
    parser.add_argument(
        "--share",
        action="store_true",
        help="answer phones in this network, each asked once for the passphrase",
    )
    parser.add_argument(
        "--server",
        action="store_true",
        help="as --share, for a whole yard: opens no browser, measures one face on "
        "each core and lets the others wait in turn",
    )
    parser.add_argument(
        "--at",
        help="with --server: the address of a proxy on this machine that encrypts, "
        "such as https://log.example.org; nothing else of the network is answered",
    )
    parser.add_argument(
        "--new-passphrase",
        action="store_true",
        help="with --share or --server: set another passphrase; all devices are asked "
        "again",
    )
    given = parser.parse_args(argv)
    if given.new_passphrase and not (given.share or given.server):
        msg = "--new-passphrase is for sharing: give --share too."
        raise RequestError(msg)
    if given.at is not None and not given.server:
        msg = "--at names the proxy before a server: give --server too."
        raise RequestError(msg)
    try:
        at = "" if given.at is None else yard.public_address(given.at)
    except yard.AddressError as error:
        raise RequestError(str(error)) from error
    return Options(
        headless=given.headless or given.server,
        port=None if given.port is None else _port(given.port),
        data=None if given.data is None else _data_folder(given.data),
        share=given.share or given.server,
        new_passphrase=given.new_passphrase,
        server=given.server,
        at=at,
    )


def _port(text: str) -> int:
    port = int(text) if text.isascii() and text.isdigit() else 0
    if not 1 <= port <= LARGEST_PORT:
        msg = f"The port must be a number from 1 to {LARGEST_PORT}, not '{text}'."
        raise RequestError(msg)
    return port


def _data_folder(text: str) -> Path:
    if not text.strip():
        msg = "The data folder is an empty name: give a folder after --data."
        raise RequestError(msg)
    folder = Path(text).expanduser().absolute()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        msg = f"The data folder '{text}' cannot be made ({why}): give another one."
        raise RequestError(msg) from error
    return folder
