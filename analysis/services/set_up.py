"""Whether a photo was taken like the last of its form's face, or as is kept with it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError, StruckfaceError
from analysis.imaging.overlay import preview
from analysis.model.set_up import HeldSetUp, SetUp
from analysis.model.sizes import rounded
from analysis.model.workshop import PhotoRecipe
from analysis.services.log import (
    list_castings,
    list_readings,
    load_reading,
    photo_bytes,
)
from analysis.services.photos import read_photo, seen
from analysis.storage.records import add, change, list_all

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from analysis.model.photo import Face, Photo, Scale
    from analysis.services.log import Log

_LOOK_PX = 160
_CASTINGS_LOOKED_AT = 10
# What is told: common practice, about what moves a share by more than it is sure to.
_DISTANCE_RATIO = 1.25
_STOPS = 1.0
_TURN_DEG = 60.0
_LEAST_FALL = 0.1  # of the mean light over the face: below, no side is told
_GAMMA = 2.2
_DARKEST = 1e-6  # of a face, so that stops can be told


def set_up_of(photo: Photo, scale: Scale | None, face: Face) -> SetUp:
    """Read the set-up off a photo and its face.

    Parameters
    ----------
    photo : Photo
        As it is seen, in the view that `face` is marked in.
    scale : Scale or None
    face : Face
        Its outline says where to look; all of the photo without one.

    Examples
    --------
    >>> set_up_of.__name__
    'set_up_of'
    """
    small = preview(photo.pixels, _LOOK_PX).astype(np.float64).mean(axis=2) / 255
    light = small**_GAMMA
    low, high = np.zeros(2), np.array(light.shape, dtype=float)
    if face.outline_px is not None:
        zoom = light.shape[0] / photo.height_px
        low = np.clip(np.floor(face.outline_px.min(axis=0) * zoom), 0, high - 2)
        high = np.clip(np.ceil(face.outline_px.max(axis=0) * zoom), low + 2, high)
    (top, left), (bottom, right) = low.astype(int), high.astype(int)
    light = light[top:bottom, left:right]
    rows, cols = np.mgrid[: light.shape[0], : light.shape[1]]
    middle = max(float(np.median(light)), _DARKEST)
    # A plane through the light, from edge to edge of the face.
    terms = np.stack(
        [
            np.ones(light.size),
            cols.ravel() / light.shape[1] - 0.5,
            rows.ravel() / light.shape[0] - 0.5,
        ],
        axis=1,
    )
    clipped = np.clip(light.ravel(), 0.5 * middle, 1.5 * middle)  # not the voids
    _, across, down = np.linalg.lstsq(terms, clipped, rcond=None)[0] / middle
    fall = float(np.hypot(across, down))
    side = float(np.degrees(np.arctan2(-down, across)))
    return SetUp(
        shown_width_mm=None if scale is None else scale.mm_per_px * photo.width_px,
        brightness=middle,
        light_deg=side if fall >= _LEAST_FALL else None,
    )


def last_set_up(log: Log, form_id: int, face_name: str, sha256: str) -> SetUp | None:
    """Return the set-up of the latest other photo of a form's face; None without one.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     last_set_up(open_log(folder), 1, "", "") is None
    True
    """
    for casting in list_castings(log, form_id=form_id)[:_CASTINGS_LOOKED_AT]:
        for line in list_readings(log, piece_id=casting.piece.id or 0):
            if line.photo_sha256 == sha256 or line.use.purpose != "representative":
                continue
            reading = load_reading(log, line.id)
            if reading.face.name != face_name:
                continue
            photo = read_photo(photo_bytes(log, line.photo_sha256), line.photo_name)
            shown = seen(photo, reading.face.view)
            return set_up_of(shown, reading.scale, reading.face)
    return None


def set_up_differences(now: SetUp, before: SetUp) -> tuple[str, ...]:
    """Say what differs from an earlier set-up; empty where it is the same.

    Examples
    --------
    >>> last = SetUp(shown_width_mm=800.0, brightness=0.3, light_deg=170.0)
    >>> set_up_differences(last, last)
    ()
    >>> from dataclasses import replace
    >>> set_up_differences(replace(last, shown_width_mm=1200.0, light_deg=10.0), last)
    ('from farther away (1.5 times)', 'lit from the right, not the left')
    """
    told = []
    if now.shown_width_mm is not None and before.shown_width_mm is not None:
        ratio = now.shown_width_mm / before.shown_width_mm
        if ratio > _DISTANCE_RATIO:
            told.append(f"from farther away ({rounded(ratio, 2)} times)")
        elif ratio < 1 / _DISTANCE_RATIO:
            told.append(f"from nearer ({rounded(1 / ratio, 2)} times)")
    stops = float(np.log2(now.brightness / before.brightness))
    if abs(stops) > _STOPS:
        told.append("brighter" if stops > 0 else "darker")
    if now.light_deg is not None and before.light_deg is not None:
        turn = abs((now.light_deg - before.light_deg + 180) % 360 - 180)
        if turn > _TURN_DEG:
            sides = lit_from(now.light_deg), lit_from(before.light_deg)
            told.append(f"lit from {sides[0]}, not {sides[1]}")
    return tuple(told)


def lit_from(angle_deg: float) -> str:
    """Name the side that light comes from.

    Examples
    --------
    >>> lit_from(170.0), lit_from(-80.0)
    ('the left', 'below')
    """
    sides = ("the right", "above", "the left", "below")
    return sides[round(angle_deg / 90) % 4]


def kept_recipes(log: Log, form_id: int) -> tuple[PhotoRecipe, ...]:
    """Return how the faces of a form are photographed, by the faces' names.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept_recipes(open_log(folder), 1)
    ()
    """
    found = list_all(log, PhotoRecipe, form_id=form_id)
    return tuple(sorted(found, key=lambda one: one.face_name))


def kept_set_up(log: Log, form_id: int, face_name: str) -> SetUp | None:
    """Return the set-up kept with a form's face; None where no photo was taken for it.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept_set_up(open_log(folder), 1, "") is None
    True
    """
    for one in kept_recipes(log, form_id):
        if one.face_name == face_name and one.brightness_share is not None:
            return SetUp(
                shown_width_mm=one.shown_width_mm,
                brightness=max(one.brightness_share, _DARKEST),
                light_deg=one.light_deg,
            )
    return None


def held_set_up(
    log: Log, form_id: int, photo: Photo, scale: Scale | None, face: Face
) -> HeldSetUp | None:
    """Hold a photo against what is kept of its form's face, else its last photo.

    Parameters
    ----------
    log : Log
    form_id : int
        The form that the piece was cast in.
    photo : Photo
        As it is seen, in the view that `face` is marked in.
    scale : Scale or None
    face : Face
        Its name says which face of the form.

    Returns
    -------
    HeldSetUp or None
        None where there is nothing to hold it against.

    Examples
    --------
    >>> import io
    >>> import tempfile
    >>> from PIL import Image
    >>> from analysis.model.photo import Face
    >>> from analysis.services.log import open_log
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (320, 240), (150, 150, 150)).save(file, "PNG")
    >>> photo = read_photo(file.getvalue())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     held_set_up(open_log(folder), 1, photo, None, Face()) is None
    True
    """
    kept = kept_set_up(log, form_id, face.name)
    try:
        before = kept or last_set_up(log, form_id, face.name, photo.sha256)
    except StruckfaceError:
        return None  # the photo before is gone
    if before is None:
        return None
    differs = set_up_differences(set_up_of(photo, scale, face), before)
    return HeldSetUp(kept=kept is not None, differs=differs)


def keeps_set_ups(log: Log) -> bool:
    """Tell whether any form's face has a photo's figures kept with it.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     keeps_set_ups(open_log(folder))
    False
    """
    return any(one.brightness_share is not None for one in list_all(log, PhotoRecipe))


def unlike_kept(log: Log, form_id: int | None, face_name: str, now: SetUp) -> str:
    """Say what differs from what is kept with a form's face; empty where nothing does.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> now = SetUp(shown_width_mm=800.0, brightness=0.3, light_deg=170.0)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     unlike_kept(open_log(folder), 1, "", now)
    ''
    """
    kept = None if form_id is None else kept_set_up(log, form_id, face_name)
    differs = () if kept is None else set_up_differences(now, kept)
    return set_up_line(differs, kept=True) if differs else ""


def set_up_line(told: Sequence[str], *, kept: bool = False) -> str:
    """Say whether a photo was taken as is kept with its form, or as the last one.

    Examples
    --------
    >>> set_up_line(())
    'Same set-up as last time.'
    >>> set_up_line(("darker", "from nearer (2 times)"))
    'Not the set-up of last time: darker, from nearer (2 times).'
    >>> set_up_line((), kept=True)
    'Same set-up as kept with the form.'
    """
    if not told:
        return f"Same set-up as {'kept with the form' if kept else 'last time'}."
    which = "kept with the form" if kept else "of last time"
    return f"Not the set-up {which}: {', '.join(told)}."


def keep_recipe(log: Log, recipe: PhotoRecipe, *, save_token: str) -> None:
    """Keep how a face is photographed, anew or changed.

    Raises
    ------
    ConflictError
        Someone else changed it since.
    InputError
        The same face has one already, or a value cannot be kept.
    """
    if recipe.id is None:
        add(log, recipe, save_token=save_token)
    else:
        change(log, recipe)


def like_last_photo(log: Log, recipe: PhotoRecipe, today: date) -> PhotoRecipe:
    """Return a recipe with the figures of the last photo of its face.

    Raises
    ------
    InputError
        No photo of that face is kept with the form's last castings.
    """
    last = last_set_up(log, recipe.form_id, recipe.face_name, "")
    if last is None:
        face = f"the face {recipe.face_name!r}" if recipe.face_name else "the face"
        msg = (
            f"No photo of {face} is kept with the form's last {_CASTINGS_LOOKED_AT} "
            "castings: measure one first."
        )
        raise InputError(msg)
    return replace(
        recipe,
        shown_width_mm=last.shown_width_mm,
        brightness_share=last.brightness,
        light_deg=last.light_deg,
        taken_on=today,
    )
