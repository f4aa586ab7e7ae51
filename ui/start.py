"""`python3 ui/start.py` installs what the app needs and opens it."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from ui.launch import minimum_python

minimum_python.insist()

import contextlib
import os
import signal
import subprocess
import threading
import time
import webbrowser
from typing import TYPE_CHECKING, NoReturn
from urllib.parse import urlsplit

from ui.launch import arguments, console, ports, provision, yard

if TYPE_CHECKING:
    from collections.abc import Sequence

EVERYWHERE = "0.0.0.0"  # noqa: S104  only with --share, and then behind the gate
GRACE_S = 8.0
# How long the first app of a data folder may take to come up.
FIRST_S = 60.0
# What the server ends with where another app has its data folder.
OWNED_ELSEWHERE = 75


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
        f"--server.address={EVERYWHERE if shared_at and not at else ports.HOST}",
        # Named, so that no service elsewhere is asked for it.
        f"--browser.serverAddress={urlsplit(at).hostname or shared_at or ports.HOST}",
        *(["--server.fileWatcherType=none"] if server else []),
        f"--server.port={port}",
        "--server.headless=true",
        "--browser.gatherUsageStats=false",
    ]


def serve(python: Path, options: arguments.Options, port: int) -> int:
    """Run the app until it is stopped; never leave it behind.

    Returns
    -------
    int
        0 after a stop that was asked for, 1 where the app ended by itself.

    Examples
    --------
    >>> serve(Path("python"), arguments.read_options([]), 8501)  # doctest: +SKIP
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
    environment["STRUCKFACE_ADDRESS"] = f"http://{ports.HOST}:{port}"
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
                answered = ports.answers(port)
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


def _open_first(
    python: Path, environment: "dict[str, str]", options: arguments.Options
) -> int:
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
        if port.isdecimal() and ports.answers(int(port)):
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
    python: Path, options: arguments.Options, environment: dict[str, str]
) -> str:
    """Make sure there is a passphrase; return the address in the network.

    Behind a proxy there is none: the proxy alone is answered.
    """
    address = "" if options.at else ports.network_address()
    if not address and not options.at:
        msg = "This machine is in no network: connect it, or start without sharing."
        raise ports.RequestError(msg)
    what = "new-keys" if options.new_passphrase else "keys"
    command = [str(python), "-m", "ui.sharing.setup", what]
    if subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode:
        msg = "Sharing was not begun: the line above says why."
        raise ports.RequestError(msg)
    environment.pop("STRUCKFACE_PASSPHRASE", None)
    return address


def _show_code(python: Path, environment: dict[str, str]) -> None:
    address = environment["STRUCKFACE_SHARED_AT"]
    console.say(f"Phones: {address}")
    command = [str(python), "-m", "ui.sharing.setup", "show", address]
    subprocess.run(command, cwd=ROOT, env=environment, check=False)


def _announce(port: int, options: arguments.Options) -> None:
    address = f"http://{ports.HOST}:{port}"
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
        options = arguments.read_options(argv)
        if options.port is not None:
            ports.choose_port(options.port)
        python = provision.provide(ROOT, ROOT / "requirements.txt")
        return serve(python, options, ports.choose_port(options.port))
    except ports.RequestError as error:
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
