"""Whether a photo's file is whole: what a decoder passes over is looked at here.

A damaged sector does not stop a JPEG decoder: it goes on with whatever the bits mean,
and the rest of the picture is shifted, flat or of another brightness. Where the file
itself tells, the photo is refused; where only the picture looks so, it is doubted.
"""

from __future__ import annotations

import re
import struct
import zlib
from typing import TYPE_CHECKING

import numpy as np
import simplejpeg

from analysis.imaging.block_planes import BLOCK, read_planes
from analysis.imaging.block_runs import has_shifted_run
from analysis.imaging.staircase import has_staircase

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

# A photo with fewer bytes than px / this is none: deflate packs zeros 1,032 to 1
# (zlib's own figure), a JPEG's empty blocks about 340 px to the byte.
_MOST_PX_PER_BYTE = 1100
# Small pictures cost nothing, whatever they claim.
_CLAIM_FROM_PX = 4_000_000
_PNG_START = b"\x89PNG\r\n\x1a\n"
_MARK, _SCAN, _RESTARTS = 0xFF, 0xDA, 0xDD
_PADDED = re.compile(r"(\d+) extraneous bytes before marker 0xd9")
_LOOKED_AT = ("L", "RGB", "RGBA", "CMYK", "YCbCr")
_FILLED_ROWS = 16
_NEAR_BLACK, _NEAR_WHITE = 5, 250
_FEWEST_COLUMNS = 24
# Columns over which a lost sector itself may lie.
_GARBLED_COLUMNS = 12
# Beyond black or white: this share of a line is so, of one behind a garbled block, and
# may be so elsewhere.
_BURNT, _MOSTLY_BURNT, _NOT_BURNT = 0.9, 0.75, 0.05


def claimed_too_large(data: bytes, size: tuple[int, int]) -> bool:
    """Tell whether a file claims more pixels than its bytes could hold.

    Parameters
    ----------
    data : bytes
        The file.
    size : (int, int)
        Width and height that its header claims, px.

    Examples
    --------
    >>> claimed_too_large(bytes(1000), (16_000, 12_000))
    True
    """
    px = size[0] * size[1]
    return px > _CLAIM_FROM_PX and px > _MOST_PX_PER_BYTE * len(data)


def broken_at(data: bytes, file_format: str) -> str:
    """Say what of a file is broken; empty where nothing is known to be.

    Parameters
    ----------
    data : bytes
        The file.
    file_format : str
        What it is, as Pillow names it.

    Returns
    -------
    str
        A few words, such as 'its picture data ends early'.

    Examples
    --------
    >>> broken_at(_PNG_START + bytes(4) + b"IENDxxxx", "PNG")
    'the check sum of its part IEND is wrong'
    """
    if file_format in {"JPEG", "MPO"}:
        return _broken_jpeg(data)
    if file_format == "PNG":
        return _broken_png(data)
    if file_format == "WEBP":
        # RIFF, size of what follows, WEBP.
        claimed = struct.unpack("<I", data[4:8])[0] + 8
        return "it is shorter than it says" if claimed > len(data) else ""
    return ""


def _broken_jpeg(data: bytes) -> str:
    """Let a strict decoder look: libjpeg warns of what others show as picture."""
    try:
        colours = simplejpeg.decode_jpeg_header(data, strict=False)[2]
        simplejpeg.decode_jpeg(
            data,
            colorspace="CMYK" if colours in {"CMYK", "YCCK"} else "GRAY",
            # An eighth of the size: all bits are read, few pixels made.
            min_height=1,
            min_width=1,
            min_factor=8,
            strict=True,
        )
    except ValueError as error:
        said = str(error)
        # Other remarks are of odd makers, not of damage.
        if "Corrupt JPEG data" not in said:
            return ""
        padded = _PADDED.search(said)
        if padded and _is_padding(data, int(padded[1])):
            return ""
        if "premature end" in said:
            return "its picture data ends early"
        return "its picture data is garbled"
    return ""


def _is_padding(data: bytes, count: int) -> bool:
    """Tell whether the bytes before the end mark are mere filling."""
    end = data.rfind(b"\xff\xd9")
    return not data[max(end - count, 0) : end].strip(b"\x00\xff")


def _broken_png(data: bytes) -> str:
    """Check each part against its check sum (PNG, third edition, section 5.3)."""
    at = len(_PNG_START)
    while at + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        end = at + 8 + length
        if end + 4 > len(data):
            return "it ends early"
        if (
            zlib.crc32(data[at + 4 : end])
            != struct.unpack(">I", data[end : end + 4])[0]
        ):
            name = kind.decode("ascii", "replace")
            return f"the check sum of its part {name} is wrong"
        if kind == b"IEND":
            return ""
        at = end + 4
    return "it ends early"


def looks_damaged(image: Image.Image, data: bytes = b"") -> bool:
    """Tell whether a decoded picture looks as if its file had been damaged.

    Parameters
    ----------
    image : PIL.Image.Image
        Decoded, not turned.
    data : bytes
        Its file, which tells where decoding begins anew; where it is not given,
        anywhere.

    Returns
    -------
    bool
        It ends in one value, or it steps in brightness inside one row of a JPEG's
        blocks and below the next, as only a decoder draws that has lost its place.

    Examples
    --------
    >>> from PIL import Image
    >>> looks_damaged(Image.new("L", (64, 64), 128))
    False
    """
    if image.mode not in _LOOKED_AT:
        return False
    rows = _block_rows(image)
    if _ends_flat(image):
        return True
    if rows == 0 or image.width // BLOCK < _FEWEST_COLUMNS or image.height < 3 * rows:
        return False
    planes = read_planes(image, rows)
    return (
        has_staircase(image, rows, planes, restarts_of(image, data, rows))
        or has_shifted_run(image, rows, planes)
        or _is_burnt_from_a_block(planes.ends)
    )


def restarts_of(image: Image.Image, data: bytes, rows: int) -> NDArray[np.bool_] | None:
    """Tell below which rows of blocks, but the last, decoding begins anew.

    Parameters
    ----------
    image : PIL.Image.Image
        A JPEG, not turned.
    data : bytes
        Its file.
    rows : int
        Rows of px that are coded together.

    Returns
    -------
    ndarray of bool, (edges,), or None
        None where there is no file to tell it.

    Examples
    --------
    >>> from PIL import Image
    >>> restarts_of(Image.new("L", (64, 64)), b"", 8) is None
    True
    """
    if not data:
        return None
    edges = np.arange(rows, image.height - 2, rows)
    units = restart_interval(data)
    if not units:
        return np.zeros(len(edges), np.bool_)
    wide = BLOCK * max(int(part[1]) for part in getattr(image, "layer", ()))
    a_row = -(-image.width // wide)
    return np.asarray(edges // rows * a_row % units == 0)


def restart_interval(data: bytes) -> int:
    r"""Return after how many units (MCU) a JPEG's decoding begins anew; 0: never.

    Parameters
    ----------
    data : bytes
        The file: its parts up to the picture are read (ITU-T T.81, B.2.4.4).

    Examples
    --------
    >>> restart_interval(b"\xff\xd8\xff\xdd\x00\x04\x00\x28\xff\xda")
    40
    """
    at, units = 2, 0
    while at + 6 <= len(data) and data[at] == _MARK and data[at + 1] != _SCAN:
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        if data[at + 1] == _RESTARTS:
            units = int.from_bytes(data[at + 4 : at + 6], "big")
        at += 1 if data[at + 1] == _MARK else 2 + length  # a mark may be filled up
    return units


def _block_rows(image: Image.Image) -> int:
    """Rows that a JPEG codes together; 0 for other files."""
    layer = getattr(image, "layer", None)
    if not layer:
        return 0
    return BLOCK * max(int(part[2]) for part in layer)


def _ends_flat(image: Image.Image) -> bool:
    """Tell whether a picture with grain ends in rows of one and the same value.

    So a decoder fills what it has no data for, and so it stays when a program saves
    that picture anew. A sky or a backdrop has at least some noise; a frame of one
    colour lies on both sides.
    """
    if min(image.size) < 3 * _FILLED_ROWS:
        return False
    start, end = (
        np.asarray(image.crop((0, top, image.width, top + _FILLED_ROWS)).convert("L"))
        for top in (0, image.height - _FILLED_ROWS)
    )
    value = int(end[0, 0])
    return (
        _NEAR_BLACK < value < _NEAR_WHITE
        and bool((end == value).all())
        and not bool((np.ptp(start, axis=1) == 0).any())
    )


def _is_burnt_from_a_block(ends: NDArray[np.uint8]) -> bool:
    """Tell whether all is black or white from some block on, down to a fresh start.

    A block that is lost may shift the brightness so far that nothing is left to
    compare. Then one row of blocks has nothing of it at its left end and all of it at
    its right end, the line above nothing and the row below all: an edge that goes down
    by one row of blocks, to the pixel, which no thing in a photo has.

    The first and the last line of each row of blocks are given.
    """
    wide = ends.shape[2] // BLOCK
    return any(
        _begins_at_a_block(beyond.reshape(-1, 2, wide, BLOCK).mean(axis=3))
        for beyond in (ends <= _NEAR_BLACK, ends >= _NEAR_WHITE)
    )


def _begins_at_a_block(part: NDArray[np.float64]) -> bool:
    """Tell it of shares (rows of blocks, first and last line, columns of 8 px)."""
    # Of both lines of a row of blocks, the one with less and the one with more.
    # Cumulative sums give the mean left of each column `at`, and from it on, at once.
    wide = part.shape[2]
    whole, some = part.min(axis=1), part.max(axis=1)
    at = np.arange(2, wide - 1)
    left = np.cumsum(some, axis=1)[:-1, at - 1] / at
    right = np.cumsum(whole[:, ::-1], axis=1)[:-1, ::-1][:, at] / (wide - at)
    # Row r against the last line of row r - 1, nothing above the first, and row r + 1.
    above = np.concatenate([[0.0], part[:-2, 1].mean(axis=1)])
    hit = (above < _NOT_BURNT) & (whole[1:].mean(axis=1) > _BURNT)
    begun, ends = left < _NOT_BURNT, right > _MOSTLY_BURNT
    # The columns between may be garbled and so be anything.
    gap = min(_GARBLED_COLUMNS, len(at) - 1)
    between = begun & ends
    later = begun[:, : len(at) - gap] & ends[:, gap:]
    return bool((hit & (between.any(axis=1) | later.any(axis=1))).any())
