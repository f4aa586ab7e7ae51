"""Runs Streamlit tied to the program that started it: no server stays behind."""

from __future__ import annotations

import os
import runpy
import signal
import sys
import threading
import time

GRACE_S = 5.0


def main() -> None:
    """Run Streamlit with this program's arguments until standard input ends.

    The starter holds the other end of standard input. However it goes, even killed,
    that end closes and the server leaves too, on every system.

    Examples
    --------
    >>> main()  # doctest: +SKIP
    """
    threading.Thread(target=_leave_with_starter, daemon=True).start()
    sys.argv[0] = "streamlit"
    runpy.run_module("streamlit", run_name="__main__", alter_sys=False)


def _leave_with_starter() -> None:
    while os.read(0, 1024):
        pass
    signal.raise_signal(signal.SIGTERM)
    time.sleep(GRACE_S)
    os._exit(1)


if __name__ == "__main__":
    main()
