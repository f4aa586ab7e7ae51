"""A small picture of a photo with the outline of its face, for a list."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.overlay import encoded, overlay
from analysis.imaging.photo import read_reduced
from analysis.imaging.viewing import to_photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Face

THUMBNAIL_PX = 320
# A straight side of an unrolled face is bent in the photo: so many parts follow it.
_PARTS = 24


def thumbnail(data: bytes, name: str, face: Face | None) -> bytes:
    """Return a JPEG of a photo, its face outlined in white over blue.

    Parameters
    ----------
    data : bytes
        The photo's file.
    name : str
        For display only.
    face : Face or None
        None, or one that takes the whole photo, draws no outline.

    Returns
    -------
    bytes
        `THUMBNAIL_PX` along the longest side, or less.

    Raises
    ------
    PhotoError
        The file cannot be read.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (400, 300), (128, 128, 128)).save(file, "PNG")
    >>> Image.open(io.BytesIO(thumbnail(file.getvalue(), "", None))).size
    (320, 240)
    """
    pixels, zoom = read_reduced(data, name, longest_px=THUMBNAIL_PX)
    line = None if face is None else _outline(face)
    if line is not None:
        small = (line + 0.5) * zoom - 0.5
        pixels = overlay(pixels, [small])
    return encoded(pixels, "JPEG")


def _outline(face: Face) -> NDArray[np.float64] | None:
    """Return the face's outline on the photo itself, (row, col) px."""
    line, view = face.outline_px, face.view
    if view is None:
        return line
    if line is None:
        bottom, right = view.height_px - 1.0, view.width_px - 1.0
        line = np.array([[0.0, 0.0], [0.0, right], [bottom, right], [bottom, 0.0]])
    parts = np.linspace(0.0, 1.0, _PARTS, endpoint=False)[:, None]
    ends = np.roll(line, -1, axis=0)
    sides = [a + parts * (b - a) for a, b in zip(line, ends, strict=True)]
    return to_photo(view, np.vstack(sides))
