"""Who may come in while the app is shared: passphrase, devices, wrong guesses.

The passphrase is kept as its scrypt hash. A device that knew it once carries a token
signed with a secret of this log; a new passphrase makes a new secret, and every device
is asked again.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
import threading
import time
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

FILE_NAME = "share.json"
SHORTEST = 8
LONGEST = 200
# OWASP Password Storage Cheat Sheet: scrypt with N=2^15, r=8, p=3 (from memory).
_COST, _BLOCK, _PARALLEL = 2**15, 8, 3
_MEMORY = 64 * 2**20
_KNOWN_FOR_S = 180 * 24 * 3600
# Without letters and digits that look alike on a wet screen.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
_FREE_GUESSES, _FIRST_WAIT_S, _LONGEST_WAIT_S = 5, 30.0, 900.0
# Wrong guesses of all devices together that stop everybody for a while.
_ALL_GUESSES = 50
_PLACES_KEPT = 1000


class PassphraseError(ValueError):
    """A passphrase cannot be used; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """What tells friends from strangers. All but the costs are hex.

    Attributes
    ----------
    salt, digest : str
        Of the passphrase.
    secret : str
        Signs the tokens of devices.
    cost, block, parallel : int
        Of scrypt.
    """

    salt: str
    digest: str
    secret: str
    cost: int = _COST
    block: int = _BLOCK
    parallel: int = _PARALLEL


def new_passphrase() -> str:
    """Make one that can be read out in a yard: 58 random bits.

    Examples
    --------
    >>> len(new_passphrase())
    14
    """
    groups = ("".join(secrets.choice(_ALPHABET) for _ in range(4)) for _ in range(3))
    return "-".join(groups)


def keys_for(passphrase: str) -> Keys:
    """Hash a passphrase and make a new secret.

    Raises
    ------
    PassphraseError
        It is shorter than eight characters or endless.

    Examples
    --------
    >>> knows(keys_for("two wet gloves"), "two wet gloves")
    True
    """
    if not SHORTEST <= len(passphrase.strip()) <= LONGEST:
        msg = (
            f"The passphrase has {len(passphrase.strip())} characters: "
            f"take {SHORTEST} to {LONGEST}."
        )
        raise PassphraseError(msg)
    salt = secrets.token_hex(16)
    blank = Keys(salt=salt, digest="", secret=secrets.token_hex(32))
    return Keys(salt=salt, digest=_digest(blank, passphrase), secret=blank.secret)


def _digest(keys: Keys, passphrase: str) -> str:
    return hashlib.scrypt(
        passphrase.strip().encode(),
        salt=bytes.fromhex(keys.salt),
        n=keys.cost,
        r=keys.block,
        p=keys.parallel,
        maxmem=_MEMORY,
        dklen=32,
    ).hex()


def knows(keys: Keys, passphrase: str) -> bool:
    """Tell whether a passphrase is the right one, in the same time if it is not.

    Examples
    --------
    >>> knows(keys_for("two wet gloves"), "two wet glove")
    False
    """
    given = _digest(keys, passphrase[: LONGEST + 1])
    return hmac.compare_digest(given, keys.digest)


def new_token(keys: Keys, now_s: float) -> str:
    """Make the token of a device that knew the passphrase."""
    told = f"{int(now_s) + _KNOWN_FOR_S}.{secrets.token_hex(8)}"
    return f"{told}.{_signature(keys, told)}"


def is_known(keys: Keys, token: str, now_s: float) -> bool:
    """Tell whether a token was made here and still holds.

    Examples
    --------
    >>> keys = keys_for("two wet gloves")
    >>> is_known(keys, new_token(keys, 0.0), 60.0), is_known(keys, "1.2.3", 60.0)
    (True, False)
    """
    told, _, signature = token.rpartition(".")
    if not hmac.compare_digest(
        signature.encode("utf-8", "replace"), _signature(keys, told).encode()
    ):
        return False
    until = told.partition(".")[0]
    return until.isdecimal() and now_s < int(until)


def _signature(keys: Keys, told: str) -> str:
    message = told.encode("utf-8", "replace")
    return hmac.new(bytes.fromhex(keys.secret), message, "sha256").hexdigest()


def save_keys(keys: Keys, folder: Path) -> Path:
    """Write the keys so that only the owner of the folder reads them."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE_NAME
    aside = path.with_suffix(".new")
    descriptor = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        json.dump(asdict(keys), file)
    aside.replace(path)
    return path


def load_keys(folder: Path) -> Keys | None:
    """Read the keys, None where there are none that can be used."""
    try:
        read = json.loads((folder / FILE_NAME).read_text(encoding="utf-8"))
        keys = Keys(**read)
        bytes.fromhex(keys.salt + keys.digest + keys.secret)
    except (OSError, ValueError, TypeError):
        return None
    return keys if keys.digest and keys.secret else None


class Guesses:
    """Wrong guesses by place; too many make a place wait, each time longer."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._wrong: dict[str, tuple[int, float]] = {}
        self._lock = threading.Lock()

    def wait_s(self, place: str) -> float:
        """Return how long a place still has to wait before its next guess."""
        with self._lock:
            until = max(self._until(place), self._until(""))
            return max(0.0, until - self._clock())

    def wrong(self, place: str) -> None:
        """Count a wrong guess against a place, and against all."""
        with self._lock:
            for counted, free in ((place, _FREE_GUESSES), ("", _ALL_GUESSES)):
                count = self._wrong.pop(counted, (0, 0.0))[0] + 1
                over = count - free
                wait = 0.0
                if over >= 0:
                    wait = min(_FIRST_WAIT_S * 2.0 ** min(over, 10), _LONGEST_WAIT_S)
                self._wrong[counted] = (count, self._clock() + wait)
            for old in list(self._wrong)[:-_PLACES_KEPT]:
                del self._wrong[old]

    def right(self, place: str) -> None:
        """Forget a place's wrong guesses."""
        with self._lock:
            self._wrong.pop(place, None)
            self._wrong.pop("", None)

    def _until(self, place: str) -> float:
        return self._wrong.get(place, (0, 0.0))[1]
