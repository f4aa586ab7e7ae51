"""Work that ends its own process, as the system does for want of memory."""

import os
import signal
from pathlib import Path


def fall():
    """End at once."""
    os.kill(os.getpid(), signal.SIGKILL)


def fall_once(marker, name):
    """End so the first time only."""
    if not Path(marker).exists():
        Path(marker).touch()
        fall()
    return name
