"""What a JPEG's rows of blocks are judged by, read in one go through the picture.

A decoded picture is turned into brightness and differences of colour once, some rows at
a time; all that is looked at for damage is taken from these rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from PIL import Image

BLOCK: Final = 8
_BAND_ROWS = 512
# Rows beside a band that its first and last edges are looked at with.
_BESIDE = 8
# Brightness is looked at in two rows of px on either side of an edge. Colours are coded
# for two rows of px at a time and drawn softly between them: three such pairs.
_LIGHT_ROWS, _COLOUR_ROWS = np.arange(-2, 2), np.arange(-6, 6)
_DARK, _BRIGHT = 30, 225
_HALF_OF_BYTES = np.uint64(0x00FF00FF00FF00FF)
_ADDED_UP = np.uint64(0x0001000100010001)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockPlanes:
    """A decoded JPEG on its grid of blocks.

    Attributes
    ----------
    light_edges : ndarray of float32, (4, edges, columns of 8 px)
        At the top of each row of blocks but the first: the step in brightness beyond
        the slope there, the change from row to row above it and below it without sign,
        and 1 where one side is nearly black or white; medians of the px of a block.
    colour_edges : tuple of ndarray of float32, (4, edges, columns of 8 px)
        The same of both differences of colour; empty for a grey picture.
    light_sums : ndarray of uint16, (rows, columns of 8 px)
        Brightness of 8 px side by side, added up.
    colour_sums : tuple of ndarray of uint16, (rows, columns of 8 px)
        The same of both differences of colour; empty for a grey picture.
    ends : ndarray of uint8, (rows of blocks, 2, cols)
        Brightness of the first and the last row of px of each row of blocks.
    """

    light_edges: NDArray[np.float32]
    colour_edges: tuple[NDArray[np.float32], ...]
    light_sums: NDArray[np.uint16]
    colour_sums: tuple[NDArray[np.uint16], ...]
    ends: NDArray[np.uint8]


def read_planes(image: Image.Image, rows: int) -> BlockPlanes:
    """Read a picture on its grid of blocks.

    Parameters
    ----------
    image : PIL.Image.Image
        A decoded JPEG, not turned, of one block or more each way.
    rows : int
        Rows of px that are coded together, 8 or more.

    Examples
    --------
    >>> from PIL import Image
    >>> read_planes(Image.new("L", (40, 48), 128), 16).light_sums.shape
    (48, 5)
    """
    tops = np.arange(rows, image.height, rows)
    edges: list[list[NDArray[np.float32]]] = [[], [], []]
    sums: list[list[NDArray[np.uint16]]] = [[], [], []]
    ends = [np.empty((0, image.width // BLOCK * BLOCK), np.uint8)]
    for start, stop, first, planes in _bands(image):
        inside = (tops >= start) & (tops < stop)
        # The last rows may be too few for what is looked at beside an edge.
        for_light = tops[inside & (tops < image.height - 2)] - first
        for_colour = tops[inside & (tops < image.height - BLOCK)] - first
        edges[0].append(_light_edges(planes[0], for_light))
        for number in range(1, len(planes)):
            edges[number].append(_colour_edges(planes[number], for_colour))
        for kept, plane in zip(sums, planes, strict=False):
            kept.append(_by_eights(plane[start - first : stop - first]))
        if start == 0:
            ends.append(planes[0][:1])
        meet = tops[inside, None] - first + [-1, 0]
        ends.append(planes[0][meet.ravel()])
        if stop == image.height:
            ends.append(planes[0][-1:])
    light, *colours = (np.concatenate(one, axis=1) for one in edges if one)
    light_sums, *colour_sums = (np.concatenate(one) for one in sums if one)
    lines = np.concatenate(ends)
    return BlockPlanes(
        light_edges=light,
        colour_edges=tuple(colours),
        light_sums=light_sums,
        colour_sums=tuple(colour_sums),
        ends=lines.reshape(len(tops) + 1, 2, -1),
    )


def _bands(
    image: Image.Image,
) -> Iterator[tuple[int, int, int, list[NDArray[np.uint8]]]]:
    """Yield first and last row of each band, the first one read, and its planes."""
    wide = image.width // BLOCK * BLOCK
    for start in range(0, image.height, _BAND_ROWS):
        stop = min(start + _BAND_ROWS, image.height)
        first = max(0, start - _BESIDE)
        band = image.crop((0, first, wide, min(stop + _BESIDE, image.height)))
        if band.mode not in {"L", "RGB"}:
            band = band.convert("RGB")
        planes = [np.asarray(band.convert("L"))]
        if image.mode != "L":
            coded = np.asarray(band.convert("YCbCr"))
            planes += [np.asarray(cv2.extractChannel(coded, at)) for at in (1, 2)]
        yield start, stop, first, planes


def _light_edges(
    plane: NDArray[np.uint8], tops: NDArray[np.int64]
) -> NDArray[np.float32]:
    near = _in_blocks(plane, tops, _LIGHT_ROWS, 1)
    return _medians(near, 1)


def _colour_edges(
    plane: NDArray[np.uint8], tops: NDArray[np.int64]
) -> NDArray[np.float32]:
    near = _in_blocks(plane, tops, _COLOUR_ROWS, 2)
    return _medians(near[:, ::2] + near[:, 1::2], 2)


def _in_blocks(
    plane: NDArray[np.uint8], tops: NDArray[np.int64], rows: NDArray[np.int64], by: int
) -> NDArray[np.int16]:
    """Return rows about edges, (px of a block, rows, edges, blocks); each `by` px."""
    lines = plane[tops + rows[:, None]]
    blocks = lines.reshape(*lines.shape[:2], -1, BLOCK)[..., ::by]
    # With the px of a block in front, all that follows goes along whole rows of blocks.
    return np.asarray(np.moveaxis(blocks, -1, 0), dtype=np.int16, order="C")


def _medians(near: NDArray[np.int16], unit: int) -> NDArray[np.float32]:
    """Return what is looked at of each block, from values in parts of `unit`."""
    middle = near.shape[1] // 2
    above, below = near[:, 1] - near[:, 0], near[:, -1] - near[:, -2]
    # Slopes on either side are carried on to the edge: only what is beyond them counts.
    # In whole numbers, and so twice as large.
    step = 2 * (near[:, middle] - near[:, middle - 1]) - (above + below)
    sides = near[:, middle - 1], near[:, middle]
    beyond = (np.minimum(*sides) < _DARK * unit) | (np.maximum(*sides) > _BRIGHT * unit)
    values = np.stack(
        [step, 2 * np.abs(above), 2 * np.abs(below), 2 * unit * beyond.astype(np.int16)]
    )
    pairs = _middle_two(np.moveaxis(values, 1, 0))
    return pairs.astype(np.float32) / np.float32(4 * unit)


def _middle_two(values: NDArray[np.int16]) -> NDArray[np.int16]:
    """Add the two middle ones of 4 or 8 values, without putting all in order."""
    if len(values) == 4:  # noqa: PLR2004
        ends = values.min(axis=0) + values.max(axis=0)
        return np.asarray(values.sum(axis=0, dtype=np.int16) - ends)
    # Of two rows of four in order, the lower four of all are the lesser of the first
    # and the last, of the second and the last but one, and so on; the upper four the
    # greater ones (Batcher 1968, merging).
    one, other = _in_order(values[:4]), _in_order(values[4:])[::-1]
    lower, upper = np.minimum(one, other), np.maximum(one, other)
    return np.asarray(lower.max(axis=0) + upper.min(axis=0))


def _in_order(four: NDArray[np.int16]) -> NDArray[np.int16]:
    """Put four values in order by five comparisons."""
    low, high = np.minimum(four[:2], four[2:]), np.maximum(four[:2], four[2:])
    second, third = np.maximum(*low), np.minimum(*high)
    return np.stack(
        [
            np.minimum(*low),
            np.minimum(second, third),
            np.maximum(second, third),
            np.maximum(*high),
        ]
    )


def _by_eights(plane: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Add up each 8 px side by side."""
    # Eight bytes are added in one word: by twos into four parts of 16 bits, and the
    # product has the sum of these four in its uppermost part.
    words = np.ascontiguousarray(plane).view(np.uint64)
    twos = (words & _HALF_OF_BYTES) + ((words >> np.uint64(8)) & _HALF_OF_BYTES)
    return ((twos * _ADDED_UP) >> np.uint64(48)).astype(np.uint16)
