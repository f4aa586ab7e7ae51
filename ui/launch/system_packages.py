"""Packages of the system on Debian and Ubuntu; the standard library is all it needs."""

from __future__ import annotations

import os
import sys

from ui.launch import console


def is_root() -> bool:
    """Whether this process may install system packages.

    Examples
    --------
    >>> is_root() in (True, False)
    True
    """
    return sys.platform != "win32" and os.geteuid() == 0


def apt_install(package: str) -> str:
    """Install a system package on Debian or Ubuntu.

    Returns
    -------
    str
        Why it failed; empty where it did not.

    Examples
    --------
    >>> apt_install("chromium")  # doctest: +SKIP
    ''
    """
    console.say(f"Installing the system package {package}")
    quiet = {"DEBIAN_FRONTEND": "noninteractive"}
    # Lists may be stale in one source and still hold the package, so only the second
    # step decides.
    console.run_visibly(["apt-get", "update"], extra=quiet)
    install = ["apt-get", "install", "-y", "--no-install-recommends", package]
    code, lines = console.run_visibly(install, extra=quiet)
    return "" if code == 0 else console.complaint(lines)
