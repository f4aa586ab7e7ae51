"""Whether a photo was taken as its form's face asks, in a line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.errors import StruckfaceError
from analysis.services.set_up import set_up_differences, set_up_line, set_up_of
from ui import cache
from ui.widgets.notice import hint

if TYPE_CHECKING:
    from analysis.model.photo import Face, Photo, Scale


def tell_held_set_up(
    shown: Photo, scale: Scale | None, face: Face, form_id: int | None
) -> None:
    """Say whether a photo was taken as its form's face asks, or what differs.

    What is kept with the face goes before its last photo.

    Parameters
    ----------
    shown : Photo
        As it is seen, in the view that `face` is marked in.
    scale : Scale or None
    face : Face
        Its name says which face of the form.
    form_id : int or None
        Nothing is said of a piece without a form.
    """
    if form_id is None:
        return
    try:
        kept = cache.kept_set_up(form_id, face.name)
        before = kept or cache.last_set_up(form_id, face.name, shown.sha256)
        if before is None:
            return
        now = set_up_of(shown, scale, face)
    except StruckfaceError:
        return  # the photo before is gone: nothing to be held against
    hint(set_up_line(set_up_differences(now, before), kept=kept is not None))
