"""Counting points on a photo of the log: draw the lot, tap, read the figure."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.imaging.face import face_mask
from analysis.imaging.overlay import encoded
from analysis.imaging.viewing import seen as seen_as
from analysis.point_count.drawing import candidate_tiles, draw_by_candidates, draw_even
from analysis.point_count.figures import count_figure
from analysis.point_count.needed import agreement, points_by_candidates, points_needed
from analysis.services.face_reading import window_of
from analysis.storage.point_counts import (
    begin_count,
    counts_of,
    delete_count,
    finish_count,
    keep_answers,
    load_count,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo
    from analysis.model.point_count import CountPlan
    from analysis.model.reading import Reading

__all__ = [
    "Needed",
    "agreement",
    "begin_count",
    "count_figure",
    "counts_of",
    "delete_count",
    "draw_plan",
    "field_picture",
    "finish_count",
    "keep_answers",
    "load_count",
    "needed",
    "new_seed",
]

PRECISION = 0.2
_LEAST_SHARE = 0.0005
# What a good search misses, as a part of what it finds: an assumption, told as one.
_MISSED = 0.1
_TILE_PX = 240
_HALF_MM = 10.0
_HALF_PX = (24, 160)
_GREY = 128
_LEAST_POINTS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """How many points a count of a face needs.

    Attributes
    ----------
    share : float
        Taken as expected, 0..1.
    precision : float
        Half of the interval over the share.
    even : int
        Points of an even grid.
    within, elsewhere : int or None
        Points among the candidates and elsewhere; None where there are none.
    weight : float
        Share of the face in candidate tiles.
    """

    share: float
    precision: float
    even: int
    within: int | None
    elsewhere: int | None
    weight: float


def new_seed() -> int:
    """Return a seed for the lot that nobody can have chosen."""
    return secrets.randbelow(2**31)


def needed(photo: Photo, reading: Reading, precision: float = PRECISION) -> Needed:
    """Tell how many points a count needs before anybody taps.

    Parameters
    ----------
    photo : Photo
    reading : Reading
        Of that photo.
    precision : float
        Half of the interval over the share.
    """
    share = max(reading.summary.void_share.value, _LEAST_SHARE)
    face, tiles = _parts(photo, reading)
    weight = float(np.count_nonzero(face & tiles) / np.count_nonzero(face))
    within = elsewhere = None
    if 0 < weight < 1 and len(reading.voids):
        missed = _MISSED * share
        within, elsewhere = points_by_candidates(
            weight,
            min(0.9, (share - missed) / weight),
            missed / (1 - weight),
            precision,
        )
    return Needed(
        share=share,
        precision=precision,
        even=points_needed(share, precision),
        within=within,
        elsewhere=elsewhere,
        weight=weight,
    )


def draw_plan(
    photo: Photo, reading: Reading, kind: str, points: int, seed: int
) -> CountPlan:
    """Draw grid and fields by lot over the measured face.

    Parameters
    ----------
    photo : Photo
    reading : Reading
    kind : str
        ``"even"`` or ``"candidates"``.
    points : int
        In all, 50 or more; by candidates they are divided as `needed` divides them.
    seed : int

    Returns
    -------
    CountPlan
        Points in px of the photo, or of the view that was measured.

    Raises
    ------
    InputError
        Too many points for the face, or no candidates to go by.
    """
    face, tiles = _parts(photo, reading)
    usual = _usual_void_px2(reading)
    window = window_of(face)
    face, tiles = face[window], tiles[window]
    if kind == "even":
        plan = draw_even(face, points, void_px2=usual, seed=seed)
    else:
        wanted = needed(photo, reading)
        part = 0.5
        if wanted.within is not None and wanted.elsewhere is not None:
            part = wanted.within / (wanted.within + wanted.elsewhere)
        within = max(_LEAST_POINTS, round(points * part))
        elsewhere = max(_LEAST_POINTS, points - within)
        plan = draw_by_candidates(
            face, tiles, (within, elsewhere), void_px2=usual, seed=seed
        )
    return _moved(plan, np.array([part.start for part in window], dtype=np.float64))


def field_picture(
    photo: Photo, reading: Reading, plan: CountPlan, at: int
) -> tuple[bytes, int, float]:
    """Lay the surroundings of a field's points side by side, five in a row.

    Nothing that was found is drawn in: whoever counts must not see it.

    Parameters
    ----------
    photo : Photo
    reading : Reading
    plan : CountPlan
    at : int
        Which field.

    Returns
    -------
    jpeg : bytes
    tile_px : int
        Side of each square; its middle is the point.
    smallest_px : float
        Diameter of the smallest counted void in px of a square.
    """
    pixels = seen_as(photo, reading.face.view).pixels
    scale = None if reading.scale is None else reading.scale.mm_per_px
    half = float(np.clip(_HALF_MM / scale, *_HALF_PX)) if scale else 60.0
    zoom = _TILE_PX / (2 * half)
    tiles = [_around(pixels, point, zoom) for point in plan.fields[at].points_px]
    rows = [np.hstack(tiles[start : start + 5]) for start in range(0, len(tiles), 5)]
    smallest = reading.summary.smallest_counted_px * zoom
    return encoded(np.vstack(rows), "JPEG"), _TILE_PX, smallest


def _around(
    pixels: NDArray[np.uint8], point: NDArray[np.float64], zoom: float
) -> NDArray[np.uint8]:
    """Cut the square around a point, the point in its middle to a part of a px."""
    row, col = point
    middle = (_TILE_PX - 1) / 2
    to_tile = np.array([[zoom, 0, middle - zoom * col], [0, zoom, middle - zoom * row]])
    method = cv2.INTER_LINEAR if zoom >= 1 else cv2.INTER_AREA
    cut = cv2.warpAffine(
        pixels,
        to_tile,
        (_TILE_PX, _TILE_PX),
        flags=method,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(_GREY, _GREY, _GREY),
    )
    return np.asarray(cut, dtype=np.uint8)


def _parts(
    photo: Photo, reading: Reading
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the measured px, and the tiles with candidates, counted or not."""
    photo = seen_as(photo, reading.face.view)
    face = face_mask(photo, reading.face)
    found = np.zeros(face.shape, np.uint8)
    areas = np.concatenate([reading.voids.area_px, reading.rejected.area_px])
    for line in (*reading.voids.outline_px, *reading.rejected.outline_px):
        if len(line):
            cv2.fillPoly(found, [np.rint(line[:, ::-1]).astype(np.int32)], 1)
    usual = float(np.sqrt(4 * np.median(areas) / np.pi)) if len(areas) else 0.0
    return face, candidate_tiles(found > 0, usual)


def _usual_void_px2(reading: Reading) -> float:
    area = reading.voids.area_px
    return float((area**2).sum() / area.sum()) if len(area) else 0.0


def _moved(plan: CountPlan, by_px: NDArray[np.float64]) -> CountPlan:
    return replace(
        plan,
        fields=tuple(
            replace(field, points_px=np.round(field.points_px + by_px, 2))
            for field in plan.fields
        ),
    )
