"""The name of the measuring method, and which names mean the same.

A version is the number of the steps and, after a dot, the fingerprint of the tuned
numbers (`analysis.voids.settings`); words after it tell a variant of the method:
``2.1a2b3c4d by darkness``. Readings of two versions are not like with like, unless it
is stated here that the later one changed no result.
"""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

# Raised where the steps change, or what was fitted to them (network, judging).
STEPS: Final = "8"
# Earlier name -> the next that stands for the same results. A line is added where
# numbers were renamed, parted or moved into the settings; never where one was changed.
# Steps 3 found other voids than steps 2 did, steps 4 other pits on cracks and in the
# sand of joints, steps 5 no chips along an arris, steps 6 less honeycomb along
# outlines, steps 7 draw openings by another network, and steps 8 find fainter voids, so
# no line leads from there to here.
SAME_RESULTS: Final[Mapping[str, str]] = MappingProxyType({})
_PARTS = re.compile(r"([^ ,]*)(.*)", re.DOTALL)


def newest_name(version: str) -> str:
    """Return the newest name of the method that a version stands for.

    Parameters
    ----------
    version : str
        As a reading or a table tells it; blank is unknown and stays so.

    Examples
    --------
    >>> newest_name("1"), newest_name("")
    ('1', '')
    """
    name, variant = _PARTS.findall(version)[0]
    while name in SAME_RESULTS:
        name = SAME_RESULTS[name]
    return f"{name}{variant}"
