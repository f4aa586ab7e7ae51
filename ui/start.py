"""`python3 ui/start.py` installs what the app needs and opens it."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from ui.launch import minimum_python

minimum_python.insist()

import argparse
import contextlib
import http.client
import os
import signal
import socket
import subprocess
import threading
import time
import webbrowser
from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn
from urllib.parse import urlsplit

from ui.launch import console, provision, yard

if TYPE_CHECKING:
    from collections.abc import Sequence

HOST = "127.0.0.1"
EVERYWHERE = "0.0.0.0"  # noqa: S104  only with --share, and then behind the gate
FIRST_PORT = 8501
PORTS_TRIED = 100
LARGEST_PORT = 65535
GRACE_S = 8.0
# How long the first app of a data folder may take to come up.
FIRST_S = 60.0
# What the server ends with where another app has its data folder.
OWNED_ELSEWHERE = 75


class RequestError(Exception):
    """An option cannot be followed; the message says what to do."""


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


def server_command(
    python: Path, port: int, *, shared_at: str = "", server: bool = False, at: str = ""
) -> list[str]:
    """Command that serves the app on this machine only, run in `ROOT`.

    With the address of this machine in a network it answers there too, from behind
    the gate; with that of a proxy on this machine it answers the proxy, from behind
    the gate.

    Examples
    --------
    >>> server_command(Path("python"), 8501)[1:4]
    ['-m', 'ui.launch.tether', 'run']
    """
    name = "yard.py" if server else "shared.py" if shared_at or at else "local.py"
    # Given here as well as in .streamlit/config.toml, because variables of the user's
    # shell would override that file.
    return [
        str(python),
        "-m",
        "ui.launch.tether",
        "run",
        str(ROOT / "ui" / "sharing" / name),
        f"--server.address={EVERYWHERE if shared_at and not at else HOST}",
        # Named, so that no service elsewhere is asked for it.
        f"--browser.serverAddress={urlsplit(at).hostname or shared_at or HOST}",
        *(["--server.fileWatcherType=none"] if server else []),
        f"--server.port={port}",
        "--server.headless=true",
        "--browser.gatherUsageStats=false",
    ]


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


def serve(python: Path, options: Options, port: int) -> int:
    """Run the app until it is stopped; never leave it behind.

    Returns
    -------
    int
        0 after a stop that was asked for, 1 where the app ended by itself.

    Examples
    --------
    >>> serve(Path("python"), read_options([]), 8501)  # doctest: +SKIP
    0
    """
    environment = console.clean_environment()
    if options.data is not None:
        environment["STRUCKFACE_DATA"] = str(options.data)
    if options.server:
        environment |= yard.surroundings()
    shared_at = _prepare_sharing(python, options, environment) if options.share else ""
    if options.share:
        environment["STRUCKFACE_SHARED_AT"] = options.at or f"http://{shared_at}:{port}"
    environment["STRUCKFACE_ADDRESS"] = f"http://{HOST}:{port}"
    console.say("Starting Struckface")
    with subprocess.Popen(
        server_command(
            python, port, shared_at=shared_at, server=options.server, at=options.at
        ),
        cwd=ROOT,
        env=environment,
        stdin=subprocess.PIPE,
        # Streamlit's greeting: the one address line is printed below.
        stdout=subprocess.DEVNULL,
        # Ctrl+C reaches the starter alone, which then stops the server in order.
        start_new_session=os.name == "posix",
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    ) as server:
        answered = False
        try:
            while server.poll() is None and not answered:
                answered = answers(port)
                time.sleep(0.0 if answered else 0.1)
            if answered:
                _announce(port, options)
                if options.share:
                    _show_code(python, environment)
                server.wait()
        except KeyboardInterrupt:
            _stop(server)
            console.say("Struckface is closed.")
            return 0
        finally:
            _stop(server)
    if not answered and server.returncode == OWNED_ELSEWHERE:
        return _open_first(python, environment, options)
    if not answered:
        provision.distrust(ROOT)
    console.say(
        "The app ended by itself; the lines above say why."
        if answered
        else "The app did not start; the next start makes its environment again."
    )
    return 1


def _open_first(python: Path, environment: "dict[str, str]", options: Options) -> int:
    """Open the app that has the data folder already; there is one for each."""
    command = [str(python), "-m", "ui.sharing.owner"]
    end = time.monotonic() + FIRST_S
    while True:
        found = subprocess.run(
            command,
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        address = found.stdout.strip()
        port = address.rpartition(":")[2]
        if port.isdecimal() and answers(int(port)):
            break
        if time.monotonic() > end:
            console.say(
                "Another Struckface has this data folder but does not answer: close "
                "it, or give another folder after --data."
            )
            return 1
        time.sleep(0.2)
    console.say(f"Struckface is open already at {address}, with the same data folder.")
    if options.share:
        console.say("To share it, close that one and start again with --share.")
    if not options.headless and _has_screen():
        # Some browsers hold the call until they are closed; this process ends now.
        webbrowser.open(address)
    return 0


def _prepare_sharing(
    python: Path, options: Options, environment: dict[str, str]
) -> str:
    """Make sure there is a passphrase; return the address in the network.

    Behind a proxy there is none: the proxy alone is answered.
    """
    address = "" if options.at else network_address()
    if not address and not options.at:
        msg = "This machine is in no network: connect it, or start without sharing."
        raise RequestError(msg)
    what = "new-keys" if options.new_passphrase else "keys"
    command = [str(python), "-m", "ui.sharing.setup", what]
    if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode:
        msg = "Sharing was not begun: the line above says why."
        raise RequestError(msg)
    environment.pop("STRUCKFACE_PASSPHRASE", None)
    return address


def _show_code(python: Path, environment: dict[str, str]) -> None:
    address = environment["STRUCKFACE_SHARED_AT"]
    console.say(f"Phones: {address}")
    command = [str(python), "-m", "ui.sharing.setup", "show", address]
    subprocess.run(command, cwd=ROOT, env=environment, check=False)


def _announce(port: int, options: Options) -> None:
    address = f"http://{HOST}:{port}"
    console.say(f"Struckface is open at {address} (Ctrl+C closes it)")
    if not options.headless and _has_screen():
        # Some browsers hold the call until they are closed.
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _has_screen() -> bool:
    # Without one, a text browser would take over the terminal.
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _stop(server: "subprocess.Popen[bytes]") -> None:
    if server.poll() is not None:
        return
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if server.stdin is not None:
        with contextlib.suppress(OSError):
            server.stdin.close()
    for harder in (server.terminate, server.kill):
        try:
            server.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            harder()
    server.wait()


def _interrupt(_signal_number: int, _frame: object) -> NoReturn:
    raise KeyboardInterrupt


def main(argv: "Sequence[str]") -> int:
    """Install, choose a port, serve.

    Returns
    -------
    int
        0 after a stop that was asked for; 1 where installing or the app failed; 2 for
        an option that cannot be followed; 130 for an install that was interrupted.

    Examples
    --------
    >>> main(["--headless"])  # doctest: +SKIP
    0
    """
    console.tolerate_narrow_consoles()
    # Also SIGINT: shells have it ignored by what they start in the background.
    for asked_to_stop in (signal.SIGINT, signal.SIGTERM):
        signal.signal(asked_to_stop, _interrupt)
    try:
        options = read_options(argv)
        if options.port is not None:
            choose_port(options.port)
        python = provision.provide(ROOT, ROOT / "requirements.txt")
        return serve(python, options, choose_port(options.port))
    except RequestError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    except provision.ProvisionError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    except KeyboardInterrupt:
        console.say("Stopped before the app was open.")
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
