"""Before sharing: make sure there is a passphrase, show the address to scan."""

from __future__ import annotations

import getpass
import io
import os
import sys
from typing import TYPE_CHECKING

import segno

from analysis.services.share import log_folder
from ui.launch import console
from ui.sharing.keys import (
    PassphraseError,
    keys_for,
    load_keys,
    new_passphrase,
    save_keys,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

ASK = "Passphrase for phones and other devices (Enter makes one): "
KEPT = "The passphrase is the one set before; --new-passphrase asks for another."
MADE = "The passphrase, to be typed once on each device:  {}"


def main(argv: Sequence[str]) -> int:
    """Set the passphrase (``keys``, ``new-keys``) or show an address (``show URL``).

    Returns
    -------
    int
        0, or 2 with one sentence said where it cannot be used.

    Examples
    --------
    >>> main(["show", "http://192.0.2.7:8501"])  # doctest: +SKIP
    0
    """
    console.tolerate_narrow_consoles()
    if argv[0] == "show":
        console.say(terminal_code(argv[1]))
        return 0
    try:
        _set_keys(anew=argv[0] == "new-keys")
    except (PassphraseError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 2
    return 0


def _set_keys(*, anew: bool) -> None:
    given = os.environ.get("STRUCKFACE_PASSPHRASE", "")
    if load_keys(log_folder()) is not None and not anew and not given:
        console.say(KEPT)
        return
    chosen = given
    if not chosen and sys.stdin is not None and sys.stdin.isatty():
        chosen = getpass.getpass(ASK)
    if not chosen:
        chosen = new_passphrase()
        console.say(MADE.format(chosen))
    save_keys(keys_for(chosen), log_folder())


def terminal_code(address: str) -> str:
    """Draw an address as a QR code of block letters.

    Examples
    --------
    >>> "█" in terminal_code("http://192.0.2.7:8501")
    True
    """
    drawn = io.StringIO()
    segno.make(address, error="m").terminal(drawn, compact=True, border=2)
    return drawn.getvalue()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
