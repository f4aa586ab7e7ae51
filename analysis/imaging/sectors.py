"""Sectors of a JPEG that a disk lost or wrote in the wrong place.

A decoder may read such a sector without a word and find its place again behind it. The
bytes tell what the picture does not: coded grain never repeats itself over a sector nor
is of one value, least of all from one sector's first byte to its last.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Disks and cards move 512 bytes or a multiple of them (ATA, SD).
SECTOR = 512
# A byte beside a sector may go on like it by chance, 1 in 256 each.
_BY_CHANCE = 2
_KEY = 8
# Coded grain holds most values there are; drawn patterns repeat a few.
_LEAST_VALUES = 64
# Sectors that stand in more places than these are a pattern.
_FEW_PLACES = 4
_HASH_BITS = 22
_ODD = np.uint64(0x9E3779B97F4A7C15)  # 2^64 over the golden mean (Knuth, vol. 3, 6.4)


def has_alien_sector(data: bytes) -> bool:
    """Tell whether a JPEG's picture data holds a sector of filling, or one of it twice.

    Parameters
    ----------
    data : bytes
        The file, from its first sector on.

    Returns
    -------
    bool
        False for what is no JPEG.

    Examples
    --------
    >>> has_alien_sector(bytes(2048))
    False
    """
    start, end = _coded(data)
    first, last = -(-start // SECTOR), end // SECTOR
    if last - first < 1:
        return False
    held = np.frombuffer(data, np.uint8)[:end]
    sectors = held[first * SECTOR : last * SECTOR].reshape(-1, SECTOR)
    flat = np.flatnonzero((sectors == sectors[:, :1]).all(axis=1))
    if any(_is_alone(held, (first + int(at)) * SECTOR, start) for at in flat):
        return True
    return any(
        _stands_for_a_sector(held[start:], here - start, there - start, start)
        for here, there in _twice(held, start, first, sectors)
    )


def _coded(data: bytes) -> tuple[int, int]:
    """Return where the coded picture begins and ends; (0, 0) without one."""
    at = 2
    while data[:2] == b"\xff\xd8" and at + 4 <= len(data) and data[at] == 0xFF:  # noqa: PLR2004
        kind = data[at + 1]
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if kind == 0xDA:  # noqa: PLR2004 - start of scan (ITU-T T.81, table B.1)
            # In coded data FF is followed by 00 or a restart mark: FF D9 is its end.
            end = data.find(b"\xff\xd9", at)
            return at, len(data) if end < 0 else end
    return 0, 0


def _is_alone(held: NDArray[np.uint8], at: int, start: int) -> bool:
    """Tell whether bytes of one value begin and end with sectors."""
    before = _shared(held[start:at][::-1], np.broadcast_to(held[at], at - start))
    behind = _shared(held[at:], np.broadcast_to(held[at], len(held) - at))
    begins, ends = at - before, at + behind
    return _at_sectors(begins, ends)


def _at_sectors(begins: int, ends: int) -> bool:
    """Tell whether bytes are whole sectors, with a byte or two more by chance."""
    before, behind = -begins % SECTOR, ends % SECTOR
    return before <= _BY_CHANCE and behind <= _BY_CHANCE


def _twice(
    held: NDArray[np.uint8], start: int, first: int, sectors: NDArray[np.uint8]
) -> list[tuple[int, int]]:
    """Return sectors and the other places of their bytes, wherever those begin."""
    # Eight bytes from the middle of each sector are its key. The data is read as words
    # of 8 bytes at each of 8 offsets, so copies at any place are found; a table of
    # hashes, one look-up a word, leaves few words for the search.
    middle = SECTOR // 2
    told = first + np.flatnonzero(_values(sectors) >= _LEAST_VALUES)
    keys = sectors[told - first, middle : middle + _KEY].copy().view("<u8")[:, 0]
    seen = np.zeros(1 << _HASH_BITS, np.bool_)
    seen[_hashed(keys)] = True
    order = np.argsort(keys, kind="stable")
    found: list[tuple[int, int]] = []
    for shift in range(_KEY):
        count = (len(held) - start - shift) // _KEY
        words = held[start + shift :][: count * _KEY].view("<u8")
        likely = np.flatnonzero(seen[_hashed(words)])
        # Beyond the last key searchsorted answers len(keys): those are ruled out before
        # they are used as an index. Of equal keys the first is found.
        at = np.searchsorted(keys, words[likely], sorter=order)
        same = at < len(keys)
        same[same] = keys[order[at[same]]] == words[likely[same]]
        here = told[order[at[same]]] * SECTOR
        there = start + shift + likely[same] * _KEY - middle
        pairs = np.column_stack([here, there])[here != there]
        if len(pairs) > _FEW_PLACES * len(keys):
            return []
        found += [(int(one), int(other)) for one, other in pairs]
    return found


def _values(sectors: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Return how many values the bytes of each sector have."""
    held = np.zeros((len(sectors), 256), np.bool_)
    held[np.arange(len(sectors))[:, None], sectors] = True
    return np.asarray(np.count_nonzero(held, axis=1))


def _hashed(words: NDArray[np.uint64]) -> NDArray[np.int64]:
    return ((words * _ODD) >> np.uint64(64 - _HASH_BITS)).astype(np.int64)


def _stands_for_a_sector(
    coded: NDArray[np.uint8], here: int, there: int, start: int
) -> bool:
    """Tell whether what two places share is a whole sector of one of them."""
    if there < 0 or not np.array_equal(
        coded[here : here + SECTOR], coded[there : there + SECTOR]
    ):
        return False
    before = _shared(coded[:here][::-1], coded[:there][::-1])
    behind = _shared(coded[here:], coded[there:])
    return _at_sectors(start + here - before, start + here + behind) or _at_sectors(
        start + there - before, start + there + behind
    )


def _shared(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> int:
    """Return for how many bytes two rows begin alike."""
    count = min(len(one), len(other))
    differ = one[:count] != other[:count]
    return int(differ.argmax()) if differ.any() else count
