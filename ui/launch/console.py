"""What the starters say, and programs run with a sign of life."""

from __future__ import annotations

import contextlib
import os
import queue
import re
import subprocess
import sys
import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

# Settings of the user's own shell that would send packages or imports elsewhere.
_MISLEADING = (
    "PYTHONHOME",
    "PYTHONPATH",
    "PIP_USER",
    "PIP_TARGET",
    "PIP_PREFIX",
    "PIP_REQUIRE_VIRTUALENV",
    "__PYVENV_LAUNCHER__",
)
TICK_S = 1.0
_QUIET_S = 10.0
_KEPT_LINES = 200


def say(sentence: str) -> None:
    """Print one line at once, also where the output is a pipe.

    Examples
    --------
    >>> say("Ready.")
    Ready.
    """
    print(sentence, flush=True)


def tolerate_narrow_consoles() -> None:
    """Print '?' for a letter the console lacks, rather than fail on a path.

    Examples
    --------
    >>> tolerate_narrow_consoles()
    """
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def clean_environment() -> dict[str, str]:
    """Environment variables for Python and pip inside `.venv`.

    Examples
    --------
    >>> "PYTHONHOME" in clean_environment()
    False
    """
    kept = {name: text for name, text in os.environ.items() if name not in _MISLEADING}
    return kept | {
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
        "PIP_NO_INPUT": "1",
        "PYTHONUNBUFFERED": "1",
    }


def pip_step(line: str) -> str | None:
    """Tell in plain words what a line of pip's output announces.

    Returns
    -------
    str or None
        None where the line is no news.

    Examples
    --------
    >>> pip_step("  Downloading numpy-2.4.6-cp311-cp311-linux.whl (16.6 MB)")
    'downloading numpy 2.4.6 (16.6 MB)'
    """
    if found := re.match(r"Collecting ([\w.-]+)", line):
        return f"looking for {found[1]}"
    wheel = r"\s*Downloading (?:\S*/)?([^\s/-]+)-([^\s/-]+)\S*\.(?:whl|gz) (\(.+\))"
    if found := re.match(wheel, line):
        return f"downloading {found[1]} {found[2]} {found[3]}"
    if line.startswith("Building "):
        return line.strip().lower()
    if line.startswith("Installing collected packages: "):
        count = line.count(",") + 1
        return f"unpacking {count} packages"
    return None


def run_visibly(
    command: Sequence[str],
    *,
    read: Callable[[str], str | None] = lambda _line: None,
    extra: dict[str, str] | None = None,
) -> tuple[int, list[str]]:
    """Run a program and keep showing that it is at work.

    Parameters
    ----------
    command
        The program and its arguments.
    read
        Turns a line of its output into a step to show, or None.
    extra
        Further environment variables.

    Returns
    -------
    tuple of int and list of str
        Its exit code (127 where it could not be started) and its last lines.

    Examples
    --------
    >>> run_visibly([sys.executable, "-c", "print('done')"])
    (0, ['done'])
    """
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
            env=clean_environment() | (extra or {}),
            close_fds=False,  # so that it shares the install lock
        )
    except OSError as error:
        return 127, [str(error)]
    with process:
        try:
            lines = _show(process, read)
        except BaseException:
            process.terminate()
            raise
    return process.returncode, lines


def _show(
    process: subprocess.Popen[str], read: Callable[[str], str | None]
) -> list[str]:
    heard: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def listen() -> None:
        if process.stdout is not None:
            for line in process.stdout:
                heard.put(line.rstrip())
        heard.put(None)

    threading.Thread(target=listen, daemon=True).start()
    began = shown = time.monotonic()
    lines: list[str] = []
    step = "still at work"
    while True:
        news = None
        with contextlib.suppress(queue.Empty):
            line = heard.get(timeout=TICK_S)
            if line is None:
                return lines
            lines = [*lines[-_KEPT_LINES:], line]
            news = read(line)
        now = time.monotonic()
        if news is not None or now - shown >= _QUIET_S:
            step = news or step
            shown = now
            say(f"  {now - began:4.0f} s  {step}")


def complaint(lines: Sequence[str]) -> str:
    """Pick the last complaint out of a program's output.

    Examples
    --------
    >>> complaint(["Reading lists", "E: No such package.", "Done"])
    'No such package'
    """
    told = [line.strip() for line in lines if line.strip()]
    blamed = [line for line in told if re.match(r"(ERROR|E|Error)\b", line)]
    words = re.sub(r"^(ERROR|E|Error):\s*", "", (blamed or told or ["no word"])[-1])
    return words.rstrip(".")
