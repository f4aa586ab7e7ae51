"""The voids of a reading in one row: columns packed, and told how.

A row for each void takes several hundred bytes and a place in two indexes. Here the
columns lie one after the other, the bytes of their numbers sorted by significance, and
are compressed without loss. `LAYOUT` is kept with each pack: a later one reads on.
"""

from __future__ import annotations

import json
import zlib
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.checks import sealed
from analysis.errors import InputError
from analysis.flags import Flag
from analysis.model.reading import KINDS, REJECTED_KINDS, VoidCatalog

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

LAYOUT = 1
# In the order in which they lie in a pack of this layout; never to be changed.
_NUMBERS = (
    "row_px",
    "col_px",
    "area_px",
    "area_sd_px",
    "feret_max_px",
    "contrast",
    "rim_sharpness",
    "shading",
    "colour_shift",
    "elongation",
    "solidity",
)
_KINDS_OF_LAYOUT = (*KINDS, *REJECTED_KINDS)
# More is slower by half and saves 1 % (tests/benchmarks/large_log.py).
_LEVEL = 6
_LARGEST_PX = 1e12


def packed(voids: VoidCatalog, rejected: VoidCatalog) -> dict[str, Any]:
    """Return the columns of a reading's row of packed voids.

    Returns
    -------
    dict of str to Any
        ``layout``, ``counted``, ``rejected`` (how many), ``areas`` (of the counted
        voids, px², to count anew from another smallest size) and ``content``.

    Raises
    ------
    InputError
        A figure is no finite number, or a kind is unknown.

    Examples
    --------
    >>> from analysis.model.reading import VoidCatalog
    >>> none = catalogue((), np.empty((len(_NUMBERS), 0)), (), (), ())
    >>> row = packed(none, none)
    >>> len(unpacked(row["layout"], row["counted"], row["rejected"], row["content"])[0])
    0
    """
    content = zlib.compress(b"".join((*_parts(voids), *_parts(rejected))), _LEVEL)
    return {
        "layout": LAYOUT,
        "counted": len(voids),
        "rejected": len(rejected),
        "areas": np.asarray(voids.area_px, dtype="<f8").tobytes(),
        "content": content,
    }


def _parts(voids: VoidCatalog) -> tuple[bytes, bytes, bytes, bytes]:
    """Lay out a catalogue: figures, lengths of outlines, their points, and words."""
    numbers = np.array([getattr(voids, name) for name in _NUMBERS], dtype="<f8")
    outlines = [np.asarray(one, dtype="<f8").reshape(-1, 2) for one in voids.outline_px]
    points = np.concatenate(outlines) if outlines else np.empty((0, 2), dtype="<f8")
    for name, values in zip((*_NUMBERS, "outline"), (*numbers, points), strict=True):
        # NaN is not at most anything: asked so, it is refused with the infinite.
        if not (np.abs(values) <= _LARGEST_PX).all():
            said = name.replace("_", " ").capitalize()
            msg = f"{said} must be a finite number for each void: measure again."
            raise InputError(msg)
    kinds = [str(one) for one in voids.kind]
    strange = set(kinds) - set(_KINDS_OF_LAYOUT)
    if strange:
        msg = (
            f"A void is of an unknown kind, {min(strange)!r}: measure the photo again."
        )
        raise InputError(msg)
    words = json.dumps(
        {
            "kind": [_KINDS_OF_LAYOUT.index(one) for one in kinds],
            "reason": list(voids.reason),
            "flags": [sorted(one) for one in voids.flags],
        },
        separators=(",", ":"),
    ).encode()
    lengths = np.array([len(one) for one in outlines], dtype="<u4")
    head = np.array([len(points), len(words)], dtype="<u4")
    figures = _by_significance(numbers) + lengths.tobytes()
    return head.tobytes(), figures, _by_significance(points), words


def _by_significance(values: NDArray[np.float64]) -> bytes:
    """Put all first bytes first, then all second ones: alike bytes pack well."""
    # (n, 8) bytes turned to (8, n), as HDF5's shuffle filter does (from memory):
    # signs and exponents, alike in a column, come to stand together.
    flat = np.ascontiguousarray(values, dtype="<f8").reshape(-1)
    return flat.view(np.uint8).reshape(-1, 8).T.tobytes()


def _from_significance(data: bytes) -> NDArray[np.float64]:
    shuffled = np.frombuffer(data, dtype=np.uint8).reshape(8, -1)
    return np.ascontiguousarray(shuffled.T).view("<f8").reshape(-1)


def unpacked(
    layout: int, counted: int, rejected: int, content: bytes
) -> tuple[VoidCatalog, VoidCatalog]:
    """Return the counted voids and the rejected ones again, bit for bit.

    Raises
    ------
    ValueError
        The pack is not what was written.

    Examples
    --------
    >>> unpacked(1, 0, 0, b"x")
    Traceback (most recent call last):
    ...
    ValueError: The voids of a reading cannot be read.
    """
    try:
        if layout != LAYOUT:
            raise ValueError  # noqa: TRY301  said below like all others
        data = zlib.decompress(content)
        voids, data = _taken(data, counted)
        others, data = _taken(data, rejected)
        if data:
            raise ValueError  # noqa: TRY301
    except (zlib.error, ValueError, LookupError, TypeError) as error:
        msg = "The voids of a reading cannot be read."
        raise ValueError(msg) from error
    return voids, others


def _taken(data: bytes, count: int) -> tuple[VoidCatalog, bytes]:
    """Take a catalogue off the front of what was unpacked."""
    n_points, n_words = (int(one) for one in np.frombuffer(data[:8], dtype="<u4"))
    # As `_parts` lays them: head, figures, lengths, points of two numbers, words.
    sizes = (8, 8 * len(_NUMBERS) * count, 4 * count, 16 * n_points, n_words)
    ends = np.cumsum(sizes)
    if len(data) < ends[-1]:
        raise ValueError
    figures, lengths, points, words = (data[start:end] for start, end in pairwise(ends))
    told = json.loads(words)
    # Cut after each outline but the last, which ends with the points.
    outlines = np.split(
        _from_significance(points).reshape(-1, 2),
        np.cumsum(np.frombuffer(lengths, dtype="<u4"))[:-1],
    )
    found = catalogue(
        [_KINDS_OF_LAYOUT[one] for one in told["kind"]],
        _from_significance(figures).reshape(len(_NUMBERS), count),
        told["reason"],
        told["flags"],
        outlines if count else (),
    )
    return found, data[ends[-1] :]


def catalogue(
    kinds: Sequence[str],
    numbers: NDArray[np.float64],
    reasons: Sequence[str],
    flags: Sequence[Sequence[str]],
    outlines: Sequence[NDArray[np.float64]],
) -> VoidCatalog:
    """Put a catalogue together from its columns."""
    columns: dict[str, Any] = dict(zip(_NUMBERS, numbers, strict=True))
    return VoidCatalog(
        **columns,
        kind=np.array(kinds, dtype=np.str_),
        reason=tuple(reasons),
        flags=tuple(frozenset(map(Flag, its)) for its in flags),
        outline_px=tuple(sealed(np.asarray(one)) for one in outlines),
    )


def recounts(
    areas: Sequence[bytes], smallest_px2: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return how many counted voids of each reading are that large, and their area.

    Parameters
    ----------
    areas : sequence of bytes
        From the packs of n readings.
    smallest_px2 : ndarray of float64, (n,)
        The size from which each is counted, px².

    Returns
    -------
    count : ndarray of int64, (n,)
    area_px : ndarray of float64, (n,)

    Examples
    --------
    >>> packs = [np.array([1.0, 2.0, 4.0]).tobytes(), b""]
    >>> count, area_px = recounts(packs, np.array([2.0, 2.0]))
    >>> count.tolist(), area_px.tolist()
    ([2, 0], [6.0, 0.0])
    """
    found = np.frombuffer(b"".join(areas), dtype="<f8")
    n = np.array([len(one) // 8 for one in areas], dtype=np.int64)
    large = found >= np.repeat(smallest_px2, n)
    owner = np.repeat(np.arange(len(n)), n)[large]
    count = np.bincount(owner, minlength=len(n))
    # A 0 in front of the voids of each: what `reduceat` sums is never empty, and is
    # summed as a sum of these voids alone would be, to the last bit.
    begin = np.concatenate(([0], np.cumsum(count + 1)[:-1])).astype(np.int64)
    padded = np.zeros(len(owner) + len(n))
    padded[np.arange(len(owner)) + owner + 1] = found[large]
    return count, np.add.reduceat(padded, begin) if len(n) else np.zeros(0)
