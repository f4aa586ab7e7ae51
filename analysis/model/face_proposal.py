"""What of a photo is face, as it was found before anyone looked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import number, points
from analysis.errors import FaceError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceProposal:
    """A face outline and left-out areas, to be accepted or corrected.

    Attributes
    ----------
    outline_px : ndarray of float64, (n, 2)
        (row, col), n of 3 or more; the photo's own frame where all of it is face.
    left_out_px : tuple of ndarray
        Like `outline_px`: paper, rulers, hands, holes and the like on the face.
    sure : float
        0 to 1: the chance that the outline overlaps the face by 93 % or more.
    face_share : float
        Share of the photo that would be measured, 0 to 1.
    whole : bool
        All of the photo is face, but for what is left out.
    """

    outline_px: NDArray[np.float64]
    left_out_px: tuple[NDArray[np.float64], ...]
    sure: float
    face_share: float
    whole: bool

    def __post_init__(self) -> None:
        """Seal the polygons."""
        outline = points(self.outline_px, "Face outline", least=3, error=FaceError)
        object.__setattr__(self, "outline_px", outline)
        areas = tuple(
            points(area, "Left-out area", least=3, error=FaceError)
            for area in self.left_out_px
        )
        object.__setattr__(self, "left_out_px", areas)
        number(self.sure, "How sure the face is", low=0, high=1, error=FaceError)
        number(self.face_share, "Share of the photo", low=0, high=1, error=FaceError)
