"""Words of sharing the app with the yard's network."""

from __future__ import annotations

import math

PHONE = "On a phone"
NOT_SHARED = "The app runs on this machine only. Start it with --share to use phones."
SCAN = "Open this address on a phone in the same network, or scan the code."
ONCE = "Each device is asked for the passphrase once."
# Behind a proxy that encrypts, which any network leads to.
SCAN_ANYWHERE = "Open this address on a phone, or scan the code."
WHO_KNOWS = "Anyone who knows the passphrase can see and change everything."
PRIVATE = f"{WHO_KNOWS} Nothing is encrypted on the way: use a network you trust."
NOT_LET_IN = (
    "This device is not signed in: open the app's address and type the passphrase."
)
NO_KEYS = "No passphrase is set: start the app with --share again."
NOT_OUR_NAME = (
    "This is not an address of the app: open the one that was shown when it started."
)
NO_SUCH_BACKUP = "There is no such backup: go back to the list of backups."
WRONG = "That is not the passphrase."


def wait(seconds: float) -> str:
    """Say how long to wait after too many wrong guesses.

    Examples
    --------
    >>> wait(12.2)
    'Too many wrong tries: wait 13 s, then try again.'
    """
    return f"Too many wrong tries: wait {math.ceil(seconds)} s, then try again."


PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Struckface</title>
<style>
body {{ margin: 0; padding: 2rem 1rem; background: #f6f5f2; color: #23272b;
  font: 17px/1.45 sans-serif; }}
main {{ max-width: 24rem; margin: 0 auto; }}
label, input, button {{ display: block; width: 100%; box-sizing: border-box; }}
input, button {{ min-height: 3rem; margin-top: .5rem; padding: 0 .8rem; font: inherit;
  border: 1px solid #23272b; border-radius: .3rem; background: #fff; }}
button {{ margin-top: 1rem; background: #7d3a24; color: #fff; border: 0; }}
p[role=alert] {{ padding: .8rem; background: #f0e0d8; color: #6a2c18;
  border-radius: .3rem; }}
</style></head><body><main>
<h1>Struckface</h1>
<p>This finish log asks each device once for its passphrase.</p>
{trouble}
<form method="post" action="{door}">
<input type="hidden" name="where" value="{where}">
<label for="passphrase">Passphrase</label>
<input id="passphrase" name="passphrase" type="password" required autofocus
  autocomplete="current-password" autocapitalize="none">
<button>Let me in</button>
</form></main></body></html>
"""
