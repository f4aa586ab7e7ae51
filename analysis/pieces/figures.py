"""A piece's figures from the readings that stand for it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from analysis.model.method import newest_name
from analysis.pieces.pooling import by_area, in_all
from analysis.vocabulary import MIXED

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from analysis.model.log_views import ReadingLine

PLAIN_LIGHT = "plain"


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


def pooled_figures(lines: Sequence[ReadingLine]) -> dict[str, Any]:
    """Return the measured columns of a piece's row, photos weighted by face area.

    Parameters
    ----------
    lines : sequence of ReadingLine
        One or more, from `analysis.pieces.standing`.

    Returns
    -------
    dict of str to object
        By the names of `PieceRow`; words that differ between the photos are `MIXED`.
    """
    lines = sorted(lines, key=lambda one: one.id)
    areas = weights(lines)
    sizes = [one.smallest_counted_mm for one in lines]
    lights = ("+".join(sorted(one.light_flags)) or PLAIN_LIGHT for one in lines)
    shares = {
        "void_area": [_share(one) for one in lines],
        "joint_band": [one.joint_band_share for one in lines],
        "open_face": [one.open_face_share for one in lines],
        "honeycomb": [one.honeycomb_share for one in lines],
    }
    return {
        "face_area_mm2": in_all(one.face_area_mm2 for one in lines),
        "void_count": in_all(one.void_count for one in lines),
        **_joint_figures(lines),
        "stage": lines[0].use.stage,
        "light": _same(lights),
        "set_up": _same(one.use.set_up for one in lines),
        "smallest_counted_mm": None
        if None in sizes
        else max(size for size in sizes if size is not None),
        "method_version": _same(newest_name(one.method_version) for one in lines),
        "reviewed": _same("no" if one.reviews_id is None else "yes" for one in lines),
        **{
            f"{name}_percent": None if share is None else 100 * share
            for name, given in shares.items()
            # A list of one gives the value a name.
            for share in [by_area(given, areas)]
        },
    }


def _joint_figures(lines: Sequence[ReadingLine]) -> dict[str, float | None]:
    """Lengths in all of the photos with joints; loss by the length of joint."""
    jointed = [one for one in lines if one.joint_length_mm is not None]
    if not jointed:
        return {}
    return {
        **{
            name: in_all(getattr(one, name) for one in jointed)
            for name in ("joint_length_mm", "sand_length_mm", "fin_length_mm")
        },
        "arris_loss_mm2_per_m": by_area(
            [one.arris_loss_mm2_per_m for one in jointed],
            [one.joint_length_mm for one in jointed],
        ),
    }


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


def recounted(
    line: ReadingLine, floor_mm: float, void_count: int, void_area_px: float
) -> ReadingLine:
    """Return a reading counted from a larger size.

    Shares of the joint band and the open face need the face again and are left out.

    Parameters
    ----------
    line : ReadingLine
        As measured.
    floor_mm : float
        The size from which it is counted now.
    void_count : int
        Voids of that size and more.
    void_area_px : float
        Their area.
    """
    return replace(
        line,
        void_area_px=void_area_px,
        void_count=void_count,
        void_share=void_area_px / line.face_area_px if line.face_area_px else 0.0,
        smallest_counted_mm=floor_mm,
        joint_band_share=None,
        open_face_share=None,
    )


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


def _same(words: Iterable[str | None]) -> str | None:
    """Return the word they share, or mixed."""
    found = set(words)
    return found.pop() if len(found) == 1 else MIXED
