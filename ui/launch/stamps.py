"""What an environment must hold, and the note of what was installed into it."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path  # noqa: TC003 -- the examples need it


def requirement_files(requirements: Path) -> list[Path]:
    """List a requirements file and those it draws in by `-r`, innermost first.

    Examples
    --------
    >>> requirement_files(Path(__file__).parents[2] / "requirements.txt")[0].name
    'requirements.txt'
    """
    text = requirements.read_text(encoding="utf-8")
    drawn_in = re.findall(r"^-r\s+(\S+)", text, flags=re.MULTILINE)
    files: list[Path] = []
    for name in drawn_in:
        files += requirement_files((requirements.parent / name).resolve())
    return [*files, requirements.resolve()]


def fingerprint(requirements: Path, *, python: str, venv: Path) -> str:
    """Hash of all that decides what an environment must hold.

    Parameters
    ----------
    requirements
        The file to install from; files it names by `-r` count too.
    python
        Version of the environment's Python, such as '3.11.2'.
    venv
        The environment's folder: a moved environment has broken programs.

    Returns
    -------
    str
        64 hexadecimal digits.

    Examples
    --------
    >>> file = Path(__file__).parents[2] / "requirements.txt"
    >>> len(fingerprint(file, python="3.11.2", venv=Path(".venv")))
    64
    """
    parts = [python, str(venv.resolve())]
    parts += [
        file.read_text(encoding="utf-8") for file in requirement_files(requirements)
    ]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def read_stamps(venv: Path) -> dict[str, str]:
    """Fingerprints of finished installs, by name of the requirements file.

    Examples
    --------
    >>> read_stamps(Path("nowhere"))
    {}
    """
    try:
        stamps = json.loads(_stamp_file(venv).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamps if isinstance(stamps, dict) else {}


def write_stamps(venv: Path, stamps: dict[str, str]) -> None:
    """Replace the fingerprints in one step.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_stamps(Path(folder), {"requirements.txt": "ab"})
    ...     read_stamps(Path(folder))
    {'requirements.txt': 'ab'}
    """
    fresh = _stamp_file(venv).with_suffix(".new")
    fresh.write_text(json.dumps(stamps), encoding="utf-8")
    fresh.replace(_stamp_file(venv))


def _stamp_file(venv: Path) -> Path:
    return venv / "installed.json"
