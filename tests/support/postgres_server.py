"""A PostgreSQL server of the tests' own, where its programs are installed.

The standard library only: `tests/run.py` starts it before anything is installed.
"""

import os
import shutil
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path

# Where the server listens: `tests/run.py` starts one for all workers and says so here.
VARIABLE = "STRUCKFACE_TEST_POSTGRES"


def programs():
    """Return the folder of the server's programs, None when not installed."""
    on_path = shutil.which("initdb")
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    found = [Path(on_path).resolve().parent] if on_path else folders
    return found[0] if found and (found[0] / "initdb").exists() else None


def _is_root():
    return os.name == "posix" and os.getuid() == 0


def _memory():
    """Return a folder in memory with room for a server, None where there is none."""
    place = Path("/dev/shm")
    try:
        return place if shutil.disk_usage(place).free > 2_000_000_000 else None
    except OSError:
        return None


@contextmanager
def running():
    """Start a server on a socket in a folder of its own, and end it.

    Yields
    ------
    str or None
        The folder of its socket; None where no server is installed.
    """
    folder = programs()
    if folder is None or os.name != "posix":
        yield None
        return
    home = Path(tempfile.mkdtemp(prefix="pg", dir=_memory()))
    # The server refuses to run as root.
    user = "nobody" if _is_root() else None
    if user:
        shutil.chown(home, user)

    def run(program, *arguments, check=True):
        subprocess.run(
            [folder / program, *arguments],
            check=check,
            user=user,
            cwd=home,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    data = home / "data"
    try:
        begin = ("-A", "trust", "-U", "maker", "-E", "UTF8", "--no-sync")
        run("initdb", "-D", data, *begin)
        options = f"-k {home} -c listen_addresses='' -c fsync=off -c max_connections=60"
        run("pg_ctl", "-D", data, "-l", home / "said", "-o", options, "-w", "start")
        yield str(home)
        run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop", check=False)
    finally:
        shutil.rmtree(home, ignore_errors=True)
