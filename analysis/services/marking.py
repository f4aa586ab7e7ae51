"""Help with marking a face: what was marked before, and a first look."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag
from analysis.model.photo import Face, JointLine
from analysis.services.measuring import measure
from analysis.services.sheets import seen
from analysis.services.turns import look_turn
from analysis.storage.castings import list_castings
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo, Scale
    from analysis.services.log import Log

__all__ = [
    "first_look",
    "remembered_faces",
    "side_of",
]

_SAME_SHAPE = 0.01  # of the ratio of sides
_LOOK_PX = 800
_LEAST_LOOK_PX = 40
_LEAST_PX_ACROSS = 4.0
_SMALL_PART = 0.1
# Said of the whole face, or only once it is measured.
_NOT_YET = frozenset(
    {Flag.WHOLE_PHOTO, Flag.NOTHING_FOUND, Flag.HONEYCOMB_PRESENT, Flag.SMALL_FACE}
)


def remembered_faces(log: Log, form_id: int, photo: Photo) -> dict[str, Face]:
    """Return the marks of the latest photo of each named face of a form.

    Marks carry over between photos of one shape; those of straightened photos hold in
    no other photo.

    Parameters
    ----------
    log : Log
        The log.
    form_id : int
        The form.
    photo : Photo
        The one to be marked.

    Returns
    -------
    dict of str to Face
        By the face's name; outline, left-out areas, joints and up, in px of `photo`.
    """
    pieces = {one.piece.id for one in list_castings(log, form_id=form_id)}
    found: dict[str, Face] = {}
    for line in list_readings(log):
        if line.piece_id not in pieces or line.reviews_id is not None:
            continue
        reading = load_reading(log, line.id)
        face = reading.face
        if face.view is not None or face.outline_px is None or face.name in found:
            continue
        ratio = photo.width_px / reading.width_px
        if abs(ratio * reading.height_px / photo.height_px - 1) > _SAME_SHAPE:
            continue
        found[face.name] = _resized(face, ratio)
    return found


def _resized(face: Face, ratio: float) -> Face:
    def to(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((points + 0.5) * ratio - 0.5)

    return replace(
        face,
        outline_px=None if face.outline_px is None else to(face.outline_px),
        left_out_px=tuple(map(to, face.left_out_px)),
        sloped_px=tuple(map(to, face.sloped_px)),
        joints=tuple(
            JointLine(name=joint.name, line_px=to(joint.line_px))
            for joint in face.joints
        ),
    )


def side_of(point: tuple[float, float], photo: Photo) -> str:
    """Return the side of a photo that a point lies nearest to.

    Parameters
    ----------
    point : tuple of float
        (x, y) px.
    photo : Photo

    Returns
    -------
    str
        One of `analysis.model.photo.UPS`, never empty.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> side_of((50.0, 4.0), SimpleNamespace(width_px=100, height_px=80))
    'top'
    """
    x, y = (point[0] + 0.5) / photo.width_px, (point[1] + 0.5) / photo.height_px
    away = {"top": y, "right": 1 - x, "bottom": 1 - y, "left": x}
    return min(away, key=lambda side: away[side])


def first_look(
    photo: Photo, *, scale: Scale | None, face: Face, smallest_mm: float | None = None
) -> tuple[Flag, ...]:
    """Say what is wrong with a photo before it is measured.

    The middle of the face is measured; what is doubtful there is doubtful everywhere.

    Parameters
    ----------
    photo : Photo
    scale : Scale or None
    face : Face
    smallest_mm : float, optional
        Smallest void asked for.

    Returns
    -------
    tuple of Flag
        Empty where nothing is wrong.
    """
    shown = seen(photo, face.view)
    low, high = np.zeros(2), np.array([shown.height_px, shown.width_px], dtype=float)
    if face.outline_px is not None:
        low = np.clip(face.outline_px.min(axis=0), low, high - 1)
        high = np.clip(face.outline_px.max(axis=0) + 1, low + 1, high)
    found: set[Flag] = set()
    part = float(np.prod(high - low)) / (shown.height_px * shown.width_px)
    if part < _SMALL_PART:
        found.add(Flag.SMALL_FACE)
    across = np.inf
    if scale is not None and smallest_mm is not None:
        across = smallest_mm / scale.mm_per_px
    if across < _LEAST_PX_ACROSS:
        found.add(Flag.LOW_RESOLUTION)
    side = np.minimum((high - low) * 0.7, _LOOK_PX)
    corner = np.floor((low + high - side) / 2).astype(int)
    end = np.ceil(corner + side).astype(int)
    window = shown.pixels[corner[0] : end[0], corner[1] : end[1]]
    if min(window.shape[:2]) >= _LEAST_LOOK_PX:
        middle = replace(
            shown, pixels=np.ascontiguousarray(window), opaque=None, view=None
        )
        # Short: it need not wait for those who measure whole faces.
        with look_turn(middle.pixels.shape[0] * middle.pixels.shape[1] / 1e6):
            reading, _ = measure(middle, scale=scale)
        doubts = (reading.flags | reading.light_flags) - _NOT_YET
        if smallest_mm is not None:  # what was asked for counts, judged above
            doubts -= {Flag.LOW_RESOLUTION}
        found |= doubts
    return tuple(sorted(found))
