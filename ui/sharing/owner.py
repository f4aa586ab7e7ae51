"""One app for each data folder: a second start opens the first.

Two on one log would do the same work twice. The lock is the system's own and goes with
the process, however it ends; the address beside it tells the starter where to go.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from filelock import FileLock, Timeout

from analysis.services.share import log_folder

LOCK, ADDRESS = "app.lock", "app.address"
_HELD: dict[Path, FileLock] = {}


def own(folder: Path, address: str) -> bool:
    """Become the one app of a data folder, until this process ends.

    Returns
    -------
    bool
        False where another app is it. A folder that cannot be written to, or that
        knows no locks, has no owner: then nothing can be saved there twice either.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as name:
    ...     own(Path(name), "http://127.0.0.1:8501"), owner_of(Path(name))
    ...     let_go(Path(name))
    (True, 'http://127.0.0.1:8501')
    """
    if folder in _HELD:
        return True
    lock = FileLock(folder / LOCK, thread_local=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock.acquire(timeout=0)
        (folder / ADDRESS).write_text(address, encoding="utf-8")
    except Timeout:
        return False
    except (OSError, NotImplementedError):
        return True
    _HELD[folder] = lock
    return True


def let_go(folder: Path) -> None:
    """Own a folder no longer."""
    lock = _HELD.pop(folder, None)
    if lock is not None:
        (folder / ADDRESS).unlink(missing_ok=True)
        lock.release()


def owner_of(folder: Path) -> str:
    """Return the address of the app that owns a folder as it last said, else empty."""
    try:
        return (folder / ADDRESS).read_text(encoding="utf-8").strip()
    except OSError:
        return ""


if __name__ == "__main__":
    sys.stdout.write(owner_of(log_folder()))
