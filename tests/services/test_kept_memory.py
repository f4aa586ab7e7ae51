"""Memory kept for the next picture: less is asked of the system anew."""

import subprocess
import sys
from platform import libc_ver

import pytest

_FAULTS = """
import resource, sys
import numpy as np
from analysis.services.kept_memory import keep_memory

if sys.argv[1] == "kept":
    keep_memory()

def pictures():
    # Of 16 MB each, several at a time, as the bands of a photo are worked on.
    held = [np.zeros(2_000_000) + 1 for _ in range(6)]
    return sum(one[0] for one in held)

pictures()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(5):
    pictures()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(libc_ver()[0] != "glibc", reason="nothing is changed elsewhere")
def test_pictures_of_the_same_size_ask_the_system_for_little():
    faults = {
        how: int(
            subprocess.run(
                [sys.executable, "-c", _FAULTS, how],
                check=True,
                capture_output=True,
                text=True,
            ).stdout
        )
        for how in ("kept", "given back")
    }
    assert faults["kept"] < faults["given back"] / 3
