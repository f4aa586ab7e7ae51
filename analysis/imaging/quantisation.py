"""Whether one number of a JPEG's quantisation tables was damaged.

Nothing in the file checks these tables. Most encoders scale the example tables of the
standard by a quality, as the Independent JPEG Group's library does; where all numbers
but one agree with such a table, that one is a wrong byte.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

# ITU-T T.81, tables K.1 and K.2, row by row.
_LUMINANCE = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
)  # fmt: skip
_CHROMINANCE = (
    17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99,
    24, 26, 56, 99, 99, 99, 99, 99, 47, 66, 99, 99, 99, 99, 99, 99,
    *[99] * 32,
)  # fmt: skip
# Rounding makes one of it.
_BY_ROUNDING = 1


@cache
def _tables() -> NDArray[np.int64]:
    """Return all tables of the 100 qualities, (200, 64): rounded, 1 to 255."""
    quality = np.arange(1, 101)
    # Whole numbers as in the library's own jcparam.c (from memory), so that its
    # rounding comes out alike.
    percent = np.where(quality < 50, 5000 // quality, 200 - 2 * quality)[:, None]  # noqa: PLR2004
    found = [
        ((np.array(one) * percent + 50) // 100).clip(1, 255)
        for one in (_LUMINANCE, _CHROMINANCE)
    ]
    return np.concatenate(found)


def has_odd_number(tables: Iterable[Sequence[int]]) -> bool:
    """Tell whether a table is a scaled one of the standard but for one number.

    Parameters
    ----------
    tables : iterable of sequence of int
        Each of 64 numbers, row by row.

    Returns
    -------
    bool
        False for tables that an encoder made on its own. A finer first number alone
        is some encoders' choice.

    Examples
    --------
    >>> has_odd_number([_LUMINANCE, [*_CHROMINANCE[:9], 190, *_CHROMINANCE[10:]]])
    True
    >>> has_odd_number([_LUMINANCE, range(1, 65)])
    False
    """
    return any(_is_odd(np.array(one)) for one in tables if len(one) == len(_LUMINANCE))


def _is_odd(given: NDArray[np.int64]) -> bool:
    # (200, 64): the given table against all qualities of both tables at once.
    unlike = given != _tables()
    count = unlike.sum(axis=1)
    if (count == 0).any() or not (count == 1).any():
        return False
    row = int(np.flatnonzero(count == 1)[0])
    at = int(np.flatnonzero(unlike[row])[0])
    off = int(given[at] - _tables()[row, at])
    return abs(off) > _BY_ROUNDING and not (at == 0 and off < 0)
