"""A face too large for the memory, measured part by part."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.voids.segmentation import Segmentation, segment
from analysis.voids.settings import SETTINGS
from analysis.voids.tile_joining import joined, moved

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.joints import JointLines
    from analysis.voids.segmentation import Part

    Tell = Callable[[float, str], None]
    Light = Callable[
        [NDArray[np.uint8], NDArray[np.bool_], "Part"], NDArray[np.float32]
    ]

_SET = SETTINGS.tiling


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tile:
    """One part of a face.

    Attributes
    ----------
    outer : tuple of slice
        What is looked at, in px of the face's window.
    own : tuple of slice
        Whose voids it lists, in px of `outer`.
    """

    outer: Part
    own: Part


def segment_in_tiles(
    photo: NDArray[np.uint8],
    light_of: Light,
    face: NDArray[np.bool_],
    *,
    smallest_px2: float,
    mm_per_px: float | None,
    tell: Tell,
    joints: JointLines | None = None,
    tile_px: int = _SET.tile_px,
) -> Segmentation:
    """Find the voids of a large face, one part after the other.

    Each part is judged as a photo of its own that shows its surroundings too, and
    lists the voids whose centroid lies in it: none is lost or listed twice. A part
    that cuts one of its voids, larger than the overlap of 320 px, is looked at again
    with half a tile more on that side; what that cuts too is flagged.

    Parameters
    ----------
    photo : ndarray of uint8, (rows, cols, 3)
        sRGB.
    light_of : callable
        Linear light, float32, of a part of the photo and of the face, told where in
        the photo the part lies.
    face : ndarray of bool, (rows, cols)
        Measured pixels, at least one.
    smallest_px2 : float
        Smallest counted area, px².
    mm_per_px : float or None
    tell : callable
        Told the part done, 0..1, and which part is looked at; what it raises ends it.
    joints : JointLines, optional
        As for `segment`.
    tile_px : int
        Side of a part, px.

    Returns
    -------
    Segmentation
        With a background of coarser cells.

    Examples
    --------
    >>> photo = np.full((90, 200, 3), 160, np.uint8)
    >>> photo[40:50, 95:105] = 40
    >>> found = segment_in_tiles(
    ...     photo,
    ...     lambda part, *_: (part[..., 0] / 255.0).astype(np.float32) ** 2.2,
    ...     np.ones((90, 200), bool),
    ...     smallest_px2=4,
    ...     mm_per_px=None,
    ...     tell=lambda *_: None,
    ...     tile_px=100,
    ... )
    >>> bool(90 < found.voids.area_px[0] < 110)
    True
    """

    def look(tile: _Tile) -> Segmentation:
        pixels = np.ascontiguousarray(photo[tile.outer])
        inside = face[tile.outer]
        return segment(
            pixels,
            light_of(pixels, inside, tile.outer),
            inside,
            smallest_px2=smallest_px2,
            mm_per_px=mm_per_px,
            own=tile.own,
            joints=None if joints is None else joints.part(tile.outer),
        )

    tiles = list(_tiles(face, tile_px))
    mask = np.zeros(face.shape, dtype=bool)
    honeycomb = np.zeros(face.shape, dtype=bool)
    cells = _empty_cells(face.shape)
    parts, weights = [], []
    for number, tile in enumerate(tiles):
        tell(number / len(tiles), f"Finding voids, part {number + 1} of {len(tiles)}")
        found = look(tile)
        cut = _cut_sides(found, tile, face.shape)
        if any(cut):
            tile = _widened(tile, cut, tile_px // 2, face.shape)  # noqa: PLW2901
            found = look(tile)
            found = _flagged_where_cut(found, tile, face.shape)
        inside = face[tile.outer]
        # Untouched rows of an empty mask cost no memory, so only what is set is set.
        for whole, part in ((mask, found.mask), (honeycomb, found.honeycomb)):
            if part.any():
                whole[tile.outer] |= part
        _keep_cells(cells, found.background, tile, face.shape)
        corner = [tile.outer[0].start, tile.outer[1].start]
        parts.append(moved(found, np.array(corner, dtype=np.float64)))
        weights.append(float(np.count_nonzero(inside[tile.own])))
    return joined(parts, np.array(weights), mask, honeycomb, cells)


def _tiles(face: NDArray[np.bool_], side: int) -> Iterator[_Tile]:
    """Cut a face into tiles of about one size; those without face are left out."""
    down, across = (_cuts(length, side) for length in face.shape)
    for top, bottom in down:
        for left, right in across:
            if not face[top:bottom, left:right].any():
                continue
            outer = (
                _wider(top, bottom, face.shape[0]),
                _wider(left, right, face.shape[1]),
            )
            own = (
                slice(top - outer[0].start, bottom - outer[0].start),
                slice(left - outer[1].start, right - outer[1].start),
            )
            yield _Tile(outer=outer, own=own)


def _cuts(length: int, side: int) -> list[tuple[int, int]]:
    count = max(1, -(-length // side))
    ends = [round(length * part / count) for part in range(count + 1)]
    return list(pairwise(ends))


def _wider(start: int, stop: int, length: int) -> slice:
    return slice(max(0, start - _SET.overlap_px), min(length, stop + _SET.overlap_px))


def _open_sides(tile: _Tile, shape: tuple[int, ...]) -> tuple[bool, bool, bool, bool]:
    """Tell where the face goes on: above, below, left, right."""
    row, col = tile.outer
    return row.start > 0, row.stop < shape[0], col.start > 0, col.stop < shape[1]


def _cut_sides(
    found: Segmentation, tile: _Tile, shape: tuple[int, ...]
) -> tuple[bool, bool, bool, bool]:
    """Tell at which sides a void, counted or not, is cut by what is looked at."""
    rejected = found.rejected
    lines = [
        *found.voids.outline_px,
        # Large and dark at an edge: a shadow, or a void that goes on behind it.
        *(
            line
            for kind, line in zip(rejected.kind, rejected.outline_px, strict=True)
            if kind == "edge"
        ),
    ]
    ends = [_reached(line, found.mask.shape) for line in lines]
    above, below, left, right = (
        goes_on and any(end[side] for end in ends)
        for side, goes_on in enumerate(_open_sides(tile, shape))
    )
    return above, below, left, right


def _reached(
    line: NDArray[np.float64], shape: tuple[int, ...]
) -> tuple[bool, bool, bool, bool]:
    """Tell which sides of what is looked at an outline reaches.

    An opening may be drawn short of an end that it is cut by.
    """
    near = _SET.overlap_px // 8
    (top, left), (bottom, right) = line.min(axis=0), line.max(axis=0)
    return (
        bool(top < near),
        bool(bottom >= shape[0] - near),
        bool(left < near),
        bool(right >= shape[1] - near),
    )


def _widened(
    tile: _Tile,
    sides: tuple[bool, bool, bool, bool],
    by_px: int,
    shape: tuple[int, ...],
) -> _Tile:
    """Look further on some sides; what is listed stays the same."""
    outer, own = [], []
    for axis, (before, after) in enumerate((sides[:2], sides[2:])):
        was, mine = tile.outer[axis], tile.own[axis]
        start = max(0, was.start - by_px * before)
        outer.append(slice(start, min(shape[axis], was.stop + by_px * after)))
        shift = was.start - start
        own.append(slice(mine.start + shift, mine.stop + shift))
    return _Tile(outer=(outer[0], outer[1]), own=(own[0], own[1]))


def _flagged_where_cut(
    found: Segmentation, tile: _Tile, shape: tuple[int, ...]
) -> Segmentation:
    """Flag voids that reach the end of what is looked at even now."""
    goes_on = _open_sides(tile, shape)
    flags = tuple(
        own | {Flag.TOUCHES_EDGE}
        if any(np.logical_and(goes_on, _reached(line, found.mask.shape)))
        else own
        for own, line in zip(found.voids.flags, found.voids.outline_px, strict=True)
    )
    return replace(found, voids=replace(found.voids, flags=flags))


def _empty_cells(shape: tuple[int, ...]) -> NDArray[np.float32]:
    tall, wide = (max(1, -(-length // _SET.kept_cell_px)) for length in shape)
    return np.zeros((tall, wide), dtype=np.float32)


def _keep_cells(
    cells: NDArray[np.float32],
    background: Background,
    tile: _Tile,
    shape: tuple[int, ...],
) -> None:
    """Enter a tile's own background; its cells begin elsewhere than the face's."""
    places = []
    for axis in (0, 1):
        step = shape[axis] / cells.shape[axis]
        # Middles of the face's cells, px; a cell is the tile's where its middle lies.
        middle = (np.arange(cells.shape[axis]) + 0.5) * step
        start = tile.outer[axis].start + tile.own[axis].start
        stop = tile.outer[axis].start + tile.own[axis].stop
        mine = np.flatnonzero((middle >= start) & (middle < stop))
        if not len(mine):
            return
        # From px to the tile's own cells, whose middles are whole numbers.
        within = (middle[mine] - tile.outer[axis].start) / background.shape[axis]
        at = within * background.cells.shape[axis] - 0.5
        places.append((mine, at.astype(np.float32)))
    (rows, at_row), (cols, at_col) = places
    col_map, row_map = np.meshgrid(at_col, at_row)
    cells[np.ix_(rows, cols)] = cv2.remap(
        background.cells,
        col_map,
        row_map,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
