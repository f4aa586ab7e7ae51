"""Measure a face in two lights: two photos to one reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import PairError
from analysis.flags import Flag
from analysis.imaging.face import face_mask
from analysis.imaging.quality import light_flags, refuse_unseen
from analysis.imaging.registration import described
from analysis.imaging.viewing import seen as seen_as
from analysis.model.pair import SecondLight
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings, Reading
from analysis.pairs.doubts import SAME_PHOTO
from analysis.pairs.interval import with_pair_interval
from analysis.services.face_reading import (
    joint_band,
    reading_of,
    refuse_size_without_scale,
    silent,
    window_of,
)
from analysis.services.pair_finding import found_in_both
from analysis.services.turns import turn
from analysis.voids.measurement import smallest_counted, summarize
from analysis.voids.quality_flags import finish_flags
from analysis.voids.settings import METHOD_VERSION

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.model.photo import Photo, Scale
    from analysis.pairs.finding import PairFound

# A pair measures otherwise than one photo does, so that its version is its own.
PAIR_VERSION = f"{METHOD_VERSION}, two lights 3"
# Less of the face in both photos than this is no pair; less than this is told.
_LEAST_SHARED, _WHOLE_SHARED = 0.5, 0.9
_HALF_SEEN = 127
# One photo's doubts that two lights settle.
_SETTLED = {
    Flag.UNRELIABLE_FINISH,
    Flag.FLAT_LIGHT,
    Flag.GRAZING_LIGHT,
    Flag.DAMP_LOOKING,
}


def measure_pair(
    first: Photo,
    second: Photo,
    *,
    scale: Scale | None = None,
    face: Face | None = None,
    settings: MeasureSettings | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[Reading, NDArray[np.bool_]]:
    """Measure the voids of a face photographed twice, the lamp on either side.

    Parameters
    ----------
    first : Photo
        The one that scale, face and answer belong to.
    second : Photo
        The same face, the lamp on its other side.
    scale : Scale, optional
        Of the first; without one, shares are of voids of at least 4 px.
    face : Face, optional
        Marked in the first; without one, the whole photo is the face. What the second
        does not show of it is not measured.
    settings : MeasureSettings, optional
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Returns
    -------
    reading : Reading
        Of the first photo, with `second_light`.
    mask : ndarray of bool, (rows, cols)
        Counted voids on the first photo, or on the view the face is marked in.

    Raises
    ------
    PairError
        A face that is not flat, one photo twice, two faces, one photo blurred, lights
        on one side, or photos that do not lie on each other within 1 px rms.
    FaceError
        The face cannot be measured.
    ScaleError
        A smallest size in mm was asked for without a scale.
    BusyError
        Too many photos wait already.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (300, 300), (150, 150, 150)).save(file, "PNG")
    >>> photo = read_photo(file.getvalue())
    >>> measure_pair(photo, photo)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    analysis.errors.PairError: Both files are the same photo, ...
    """
    face, settings = face or Face(), settings or MeasureSettings()
    tell = progress or silent
    if first.sha256 == second.sha256:
        raise PairError(SAME_PHOTO)
    refuse_size_without_scale(scale, settings)
    _refuse_shaped(settings)
    px = sum(one.height_px * one.width_px for one in (first, second))
    with turn(px / 1e6, progress):
        return _measured(first, second, scale, face, settings, tell)


def _measured(
    first: Photo,
    second: Photo,
    scale: Scale | None,
    face: Face,
    settings: MeasureSettings,
    tell: Callable[[float, str], None],
) -> tuple[Reading, NDArray[np.bool_]]:
    """Measure now that it is these photos' turn."""
    photo_px = (first.height_px, first.width_px)
    shot, first = first, seen_as(first, face.view)
    tell(0.05, "Marking the face")
    whole = face_mask(first, face)
    window = window_of(whole)
    inside = whole[window]
    pixels = np.ascontiguousarray(first.pixels[window])
    refuse_unseen(pixels, inside)
    every = np.ones(second.pixels.shape[:2], dtype=bool)
    refuse_unseen(second.pixels, every, called="second photo")
    size_mm, size_px2 = smallest_counted(scale, settings.smallest_mm)
    limits = (size_px2, None if scale is None else scale.mm_per_px)
    pair, lying = found_in_both(
        first,
        second,
        pixels,
        inside,
        shot=shot,
        corner_px=(window[0].start, window[1].start),
        outline_px=face.outline_px,
        limits=limits,
        tell=tell,
    )
    shared = np.count_nonzero(pair.inside) / np.count_nonzero(inside)
    if shared < _LEAST_SHARED:
        msg = (
            f"The second photo shows {100 * shared:.0f} % of the face, at least "
            f"{100 * _LEAST_SHARED:.0f} % are needed: photograph both from one place."
        )
        raise PairError(msg)
    tell(0.8, "Adding up")
    band = joint_band(face, scale, whole.shape, window)
    summary = summarize(pair.found, pair.inside, band, scale, size_mm, size_px2)
    doubts = _doubts(pair, pixels, second, scale, settings, shared)
    if face.outline_px is None:
        doubts |= {Flag.WHOLE_PHOTO}
    mask = np.zeros(whole.shape, dtype=bool)
    mask[window] = pair.found.mask
    origin = np.array([part.start for part in window], dtype=np.float64)
    reading = reading_of(
        first,
        pair.found,
        with_pair_interval(summary, pair, size_px2),
        asked=(scale, face, settings),
        origin=origin,
        photo_px=photo_px,
        doubts=doubts,
        method_version=PAIR_VERSION,
        second_light=_second_light(first, second, pair, lying, origin),
    )
    tell(1.0, "Done")
    return reading, mask


def _refuse_shaped(settings: MeasureSettings) -> None:
    if settings.face_kind not in {None, "flat"}:
        msg = (
            f"A pair of photos is measured as a flat face, the kind given is "
            f"{settings.face_kind}: measure one photo, or leave the kind out."
        )
        raise PairError(msg)


def second_on_first(
    first: Photo, second: Photo, reading: Reading, *, longest_px: int
) -> NDArray[np.uint8]:
    """Lay the second photo half through on the first, for the eye to check.

    Parameters
    ----------
    first, second : Photo
        As measured.
    reading : Reading
        Of this pair.
    longest_px : int
        Longest side of the picture.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
        sRGB; where the second photo shows nothing, the first alone.

    Raises
    ------
    PairError
        The reading is of one photo, or of another pair.
    """
    pair = reading.second_light
    if pair is None or pair.photo_sha256 != second.sha256:
        msg = "The second photo is not of this reading: measure both photos again."
        raise PairError(msg)
    if not pair.to_second:
        msg = (
            "Nothing on this face tells how its second photo lies: look at both photos "
            "one after the other."
        )
        raise PairError(msg)
    shown = seen_as(first, reading.face.view)
    zoom = min(1.0, longest_px / max(shown.height_px, shown.width_px))
    size = (max(1, round(shown.width_px * zoom)), max(1, round(shown.height_px * zoom)))
    here = cv2.resize(shown.pixels, size, interpolation=cv2.INTER_AREA)
    shrink = np.diag([1 / zoom, 1 / zoom, 1.0])
    matrix = np.array(pair.to_second).reshape(3, 3) @ shrink
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    there = cv2.warpPerspective(second.pixels, matrix, size, flags=flags)
    whole = np.full(second.pixels.shape[:2], 255, np.uint8)
    inside = cv2.warpPerspective(whole, matrix, size, flags=flags) > _HALF_SEEN
    mixed = cv2.addWeighted(here, 0.5, there, 0.5, 0.0)
    return np.asarray(np.where(inside[..., None], mixed, here), dtype=np.uint8)


def _doubts(
    pair: PairFound,
    pixels: NDArray[np.uint8],
    second: Photo,
    scale: Scale | None,
    settings: MeasureSettings,
    shared: float,
) -> frozenset[Flag]:
    """Collect flags of both photos, less those that two lights settle."""
    all_of_it = np.ones(second.pixels.shape[:2], dtype=bool)
    doubts = light_flags(pixels, pair.inside) | light_flags(second.pixels, all_of_it)
    doubts |= finish_flags(pair.found, pair.inside, scale, settings.smallest_mm)
    doubts -= _SETTLED
    return doubts | ({Flag.PARTLY_PAIRED} if shared < _WHOLE_SHARED else set())


def _second_light(
    first: Photo,
    second: Photo,
    pair: PairFound,
    lying: Registration | None,
    origin: NDArray[np.float64],
) -> SecondLight:
    """Tell how the second photo lies, in px of the whole picture, not of the window."""
    if lying is None:
        return SecondLight(
            photo_sha256=second.sha256,
            to_second=(),
            shift_px=None,
            rotation_deg=None,
            registration_rms_px=None,
            light_angle_deg=None,
        )
    back = np.array([[1.0, 0.0, -origin[1]], [0.0, 1.0, -origin[0]], [0.0, 0.0, 1.0]])
    matrix = lying.to_second @ back
    return SecondLight(
        photo_sha256=second.sha256,
        to_second=tuple(float(value) for value in (matrix / matrix[2, 2]).ravel()),
        shift_px=_shift(matrix, first, second),
        rotation_deg=lying.rotation_deg,
        registration_rms_px=lying.rms_px,
        light_angle_deg=pair.lights.angle_deg,
    )


def _shift(matrix: NDArray[np.float64], first: Photo, second: Photo) -> float:
    """How far the middle of the picture moves, px of the first photo."""
    shape, there = first.pixels.shape[:2], second.pixels.shape[:2]
    return described(matrix, shape, 0.0, 0.0, second=there).shift_px
