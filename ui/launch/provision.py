"""Makes `.venv` and installs into it; the standard library is all it needs."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from ui.launch import console, system_packages
from ui.launch.stamps import fingerprint, read_stamps, requirement_files, write_stamps

if TYPE_CHECKING:
    from collections.abc import Iterator

_PROBE = "import sys, pip; print('.'.join(map(str, sys.version_info[:3])))"


class ProvisionError(Exception):
    """The environment cannot be made; the message says what to do."""


def scripts_folder(venv: Path, *, windows: bool = os.name == "nt") -> Path:
    """Where an environment keeps its programs.

    Examples
    --------
    >>> scripts_folder(Path(".venv"), windows=True).name
    'Scripts'
    """
    return venv / ("Scripts" if windows else "bin")


def venv_python(venv: Path, *, windows: bool = os.name == "nt") -> Path:
    """Path of an environment's own Python.

    Examples
    --------
    >>> venv_python(Path(".venv"), windows=False).as_posix()
    '.venv/bin/python'
    """
    name = "python.exe" if windows else "python"
    return scripts_folder(venv, windows=windows) / name


def distrust(root: Path) -> None:
    """Have the environment made afresh at the next start.

    Examples
    --------
    >>> distrust(Path("nowhere"))
    """
    with contextlib.suppress(OSError):
        _unfinished_mark(root / ".venv").touch()


def is_ready(root: Path, requirements: Path) -> bool:
    """Whether `.venv` runs and holds what the requirements file asks for.

    Examples
    --------
    >>> is_ready(Path("nowhere"), Path("nowhere/requirements.txt"))
    False
    """
    venv = root / ".venv"
    stamp = read_stamps(venv).get(_name(root, requirements))
    if stamp is None or _unfinished_mark(venv).exists():
        return False
    python = probe(venv)
    return python is not None and stamp == fingerprint(
        requirements, python=python, venv=venv
    )


def probe(venv: Path) -> str | None:
    """Version of an environment's Python; None where it or its pip is broken.

    Examples
    --------
    >>> probe(Path("nowhere")) is None
    True
    """
    try:
        answer = subprocess.run(
            [str(venv_python(venv)), "-I", "-c", _PROBE],
            capture_output=True,
            stdin=subprocess.DEVNULL,
            text=True,
            timeout=60,
            check=False,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    version = answer.stdout.strip()
    return version if answer.returncode == 0 and version else None


def provide(root: Path, requirements: Path) -> Path:
    """Make, complete or repair `root/.venv`, telling what is being done.

    A stamp is written last, so that an install cut short is never taken for a whole
    one: it is thrown away and made again.

    Parameters
    ----------
    root
        The project's folder.
    requirements
        The file to install from.

    Returns
    -------
    Path
        The environment's Python.

    Raises
    ------
    ProvisionError
        If the environment cannot be made or a package cannot be installed.

    Examples
    --------
    >>> provide(Path("/project"), Path("/project/requirements.txt"))  # doctest: +SKIP
    """
    venv = root / ".venv"
    if not is_ready(root, requirements):
        with only_one(root):
            if not is_ready(root, requirements):
                _install(root, requirements)
    return venv_python(venv)


def _install(root: Path, requirements: Path) -> None:
    began = time.monotonic()
    venv = root / ".venv"
    python = None if _unfinished_mark(venv).exists() else probe(venv)
    if python is None or _venv_moved(root):
        _make_venv(venv)
        python = probe(venv)
        if python is None:
            msg = (
                f"The new environment {venv} does not run: delete that folder, "
                f"reinstall Python and start again."
            )
            raise ProvisionError(msg)
    files = requirement_files(requirements)
    names = [_name(root, file) for file in files]
    stamps = {key: text for key, text in read_stamps(venv).items() if key not in names}
    write_stamps(venv, stamps)
    _unfinished_mark(venv).touch()
    console.say(
        f"Installing what {_name(root, requirements)} lists (a few minutes at most)"
    )
    pip = [str(venv_python(venv)), "-m", "pip", "install", "--progress-bar", "off"]
    code, lines = console.run_visibly(
        [*pip, "-r", str(requirements)], read=console.pip_step
    )
    if code != 0:
        # pip that fails by itself takes back what it began; only a killed one leaves
        # halves behind.
        _unfinished_mark(venv).unlink(missing_ok=True)
        msg = (
            f"The packages could not be installed ({console.complaint(lines)}): "
            f"check the network and the free disk space, then start again."
        )
        raise ProvisionError(msg)
    for file in files:
        stamp = fingerprint(file, python=python, venv=venv)
        stamps[_name(root, file)] = stamp
    write_stamps(venv, stamps)
    _unfinished_mark(venv).unlink(missing_ok=True)
    console.say(f"Installed in {time.monotonic() - began:.0f} s.")


def _make_venv(venv: Path) -> None:
    if Path(sys.prefix).resolve() == venv.resolve():
        msg = (
            f"The environment {venv} must be made again and is the one running this: "
            f"start with the system's Python instead."
        )
        raise ProvisionError(msg)
    if not _can_make_venvs():
        _fetch_venv_maker()
    try:
        if venv.is_symlink() or venv.is_file():
            venv.unlink()
        elif venv.exists():
            console.say("The environment in .venv is incomplete; making it again.")
            shutil.rmtree(venv)
        venv.mkdir()
        _unfinished_mark(venv).touch()
    except OSError as error:
        msg = (
            f"The folder {venv} cannot be written ({error.strerror}): close what uses "
            f"it, or move the project to a folder of your own, and start again."
        )
        raise ProvisionError(msg) from error
    console.say(f"Making an environment of its own in {venv}")
    code, lines = console.run_visibly([sys.executable, "-m", "venv", str(venv)])
    if code != 0:
        msg = (
            f"Python could not make an environment ({console.complaint(lines)}): "
            f"check the free disk space or reinstall Python, then start again."
        )
        raise ProvisionError(msg)


def _can_make_venvs() -> bool:
    # Debian and Ubuntu keep both in a package of their own.
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def _fetch_venv_maker() -> None:
    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    if shutil.which("apt-get") is None:
        msg = (
            "This Python comes without venv and ensurepip: install a complete one "
            "(python.org, or your system's python3 packages) and start again."
        )
        raise ProvisionError(msg)
    by_hand = f"run 'sudo apt-get install {package}' and start again"
    if not system_packages.is_root():
        msg = f"This Python cannot make environments yet: {by_hand}."
        raise ProvisionError(msg)
    reason = system_packages.apt_install(package)
    importlib.invalidate_caches()
    if reason or not _can_make_venvs():
        msg = f"{package} could not be installed ({reason or 'no effect'}): {by_hand}."
        raise ProvisionError(msg)


@contextlib.contextmanager
def only_one(root: Path) -> Iterator[None]:
    """Hold the project's install lock; a second one waits and says so.

    The system lets go of the lock with the process, however that ends. Programs started
    meanwhile hold it too (except on Windows): a pip whose starter was killed may still
    be writing.

    Raises
    ------
    ProvisionError
        If the project's folder cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, only_one(Path(folder)):
    ...     print("alone")
    alone
    """
    path = root / ".venv.lock"
    try:
        file = path.open("a+", encoding="utf-8")
    except OSError as error:
        msg = (
            f"The folder {root} cannot be written ({error.strerror}): move the project "
            f"to a folder of your own and start again."
        )
        raise ProvisionError(msg) from error
    with file:
        told = False
        while not _lock(file.fileno()):
            if not told:
                console.say("Another start is installing already; waiting for it.")
                told = True
            time.sleep(console.TICK_S)
        os.set_inheritable(file.fileno(), True)
        yield


def _lock(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 -- exists on Windows only

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415 -- exists elsewhere only

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _venv_moved(root: Path) -> bool:
    """Whether the environment was made in another folder than it now lies in."""
    try:
        text = (root / ".venv" / "pyvenv.cfg").read_text(encoding="utf-8")
    except (OSError, ValueError):
        return True
    # Other makers of environments do not note the command: then it is not known.
    noted = re.search(r"^command = .* -m venv (?:-\S+ )*(.+)$", text, re.MULTILINE)
    made_in = None if noted is None else Path(noted[1].strip())
    if made_in is None or not made_in.is_absolute():
        return False
    return made_in.resolve() != (root / ".venv").resolve()


def _name(root: Path, requirements: Path) -> str:
    return Path(os.path.relpath(requirements.resolve(), root.resolve())).as_posix()


def _unfinished_mark(venv: Path) -> Path:
    return venv / "unfinished"
