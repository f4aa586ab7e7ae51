"""The face of a photo, found before any figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.face_finding import finding
from analysis.imaging.face_finding.edges import simplified
from analysis.imaging.face_finding.papers import papers_in
from analysis.imaging.overlay import overlay, zoom_to
from analysis.model.points import row_col, xy
from analysis.services.turns import look_turn

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from analysis.model.face_proposal import FaceProposal
    from analysis.model.photo import Photo
    from analysis.model.points import Points

__all__ = [
    "by_few_points",
    "face_answer",
    "face_overlay",
    "face_sentence",
    "find_face",
    "printed",
    "small_outlined",
]

_FINEST_BEND_PX = 0.5


def find_face(photo: Photo) -> FaceProposal:
    """Propose what of a photo is face, when there is room to look.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (120, 90), (150, 150, 150)).save(file, "PNG")
    >>> 0 <= find_face(read_photo(file.getvalue())).sure <= 1
    True
    """
    with look_turn(photo.height_px * photo.width_px / 1e6):
        return finding.find_face(photo)


def face_answer(found: FaceProposal) -> dict[str, object]:
    """Return what was found with the keys of the command line's answer.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.model.face_proposal import FaceProposal
    >>> found = FaceProposal(
    ...     outline_px=np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0]]),
    ...     left_out_px=(),
    ...     sure=0.912,
    ...     face_share=0.5,
    ...     whole=False,
    ... )
    >>> face_answer(found)["outline"]
    [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]]
    """

    def plain(line: NDArray[np.float64]) -> list[list[float]]:
        return [[round(x, 2), round(y, 2)] for x, y in xy(line)]

    return {
        "outline": plain(found.outline_px),
        "left_out": [plain(area) for area in found.left_out_px],
        "sure": round(found.sure, 3),
        "face_share": round(found.face_share, 4),
    }


def face_sentence(found: FaceProposal) -> str:
    """Say what was found in one sentence.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.model.face_proposal import FaceProposal
    >>> frame = np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0]])
    >>> face_sentence(
    ...     FaceProposal(
    ...         outline_px=frame, left_out_px=(), sure=0.9, face_share=1.0, whole=True
    ...     )
    ... )
    'The whole photo looks like face; sure to 90 %.'
    """
    if found.whole:
        told = "The whole photo looks like face"
    else:
        told = f"The face takes {100 * found.face_share:.0f} % of the photo"
    if found.left_out_px:
        count = len(found.left_out_px)
        told += f", {count} area{'' if count == 1 else 's'} left out"
    return f"{told}; sure to {100 * found.sure:.0f} %."


def by_few_points(outline: Points, *, most: int = 16) -> Points:
    """Return an outline by no more points than a finger can tell apart.

    Parameters
    ----------
    outline : Points
        Three or more.
    most : int
        From 4.

    Returns
    -------
    Points
        The same where there are few already; else off by no more than must be.

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    >>> circle = tuple((100 + 80 * np.cos(t), 100 + 80 * np.sin(t)) for t in turn)
    >>> 6 < len(by_few_points(circle)) <= 16
    True
    >>> by_few_points(((0, 0), (9, 0), (9, 9)))
    ((0, 0), (9, 0), (9, 9))
    """
    bend_px = _FINEST_BEND_PX
    few = outline
    while len(few) > most:
        kept = simplified(np.array(outline, np.float64), bend_px)
        few = tuple((float(x), float(y)) for x, y in kept)
        bend_px *= 2**0.5
    return few


def printed(photo: Photo) -> tuple[Points, ...]:
    """Return the paper of the sheets and cards in a photo, (x, y) px.

    Examples
    --------
    >>> printed.__name__
    'printed'
    """
    with look_turn(photo.height_px * photo.width_px / 1e6):
        found = papers_in(photo.pixels, photo.lens_35mm)
    return tuple(xy(paper) for paper in found)


def small_outlined(
    photo: Photo, outline: Points | None, left_out: Iterable[Points], longest_px: int
) -> NDArray[np.uint8]:
    """Return a small picture of a photo with an outline and left-out areas on it.

    Parameters
    ----------
    photo : Photo
    outline : Points or None
        None draws none.
    left_out : iterable of Points
    longest_px : int
        Longest side of the picture.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
    """
    zoom = zoom_to(photo.pixels.shape, longest_px)
    lines = [] if outline is None else [row_col(outline)]
    areas = [row_col(area) for area in left_out]
    return overlay(photo.pixels, lines, dashed_px=areas, zoom=zoom)


def face_overlay(photo: Photo, found: FaceProposal) -> NDArray[np.uint8]:
    """Outline the face on its photo; left-out areas are dashed.

    Parameters
    ----------
    photo : Photo
    found : FaceProposal
        Of that photo.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
        As large as the photo.
    """
    return overlay(photo.pixels, [found.outline_px], dashed_px=found.left_out_px)
