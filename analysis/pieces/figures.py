"""A piece's figures from the readings that stand for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.pieces.pooling import by_area

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from analysis.model.log_views import ReadingLine


def pooled_share(lines: Sequence[ReadingLine]) -> float | None:
    """Return the void share of a piece, 0..1; None where nothing stands for it.

    Parameters
    ----------
    lines : sequence of ReadingLine
        From `analysis.pieces.standing`.

    Examples
    --------
    >>> pooled_share([]) is None
    True
    """
    return by_area([_share(one) for one in lines], weights(lines))


def largest_void_mm(lines: Iterable[ReadingLine]) -> float | None:
    """Return the largest void over the photos, None where one cannot tell.

    Examples
    --------
    >>> largest_void_mm([]) is None
    True
    """
    found = [one.largest_void_mm for one in lines]
    known = [size for size in found if size is not None]
    return max(known) if known and len(known) == len(found) else None


def _share(line: ReadingLine) -> float | None:
    return line.void_area_px / line.face_area_px if line.face_area_px else None


def weights(lines: Iterable[ReadingLine]) -> list[float | None]:
    """Return the face area by which each photo of a piece is weighed.

    Examples
    --------
    >>> weights([])
    []
    """
    return [
        one.face_area_px if one.face_area_mm2 is None else one.face_area_mm2
        for one in lines
    ]
