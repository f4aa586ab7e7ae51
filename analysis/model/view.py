"""How a photo is looked at: straightened, or unrolled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number, one_of, sealed
from analysis.errors import ScaleError
from analysis.model.photo import SCALE_METHODS

if TYPE_CHECKING:
    from numpy.typing import NDArray

LARGEST_UNCERTAINTY = 0.5
VIEW_KINDS = ("straightened", "unrolled")
_LARGEST_VIEW_PX = 65_000


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A picture made from the photo before measuring; it can be made again.

    Attributes
    ----------
    kind : str
        One of `VIEW_KINDS`.
    height_px, width_px : int
        Size of the picture.
    mm_per_px : float
        Of the picture, alike everywhere on the face, more than 0.
    numbers : tuple of float
        What the picture is made by: for ``"straightened"`` the homography from
        (x, y, 1) px of the picture to px of the photo, row by row, and where the
        lens's bend was corrected also the bend, (x, y) of the photo's middle and half
        its diagonal, px (`analysis.imaging.lens_bend`); for ``"unrolled"`` see
        `analysis.imaging.round_piece`.
    """

    kind: str
    height_px: int
    width_px: int
    mm_per_px: float
    numbers: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse impossible pictures."""
        one_of(self.kind, "Kind of view", VIEW_KINDS, error=ScaleError)
        for side in (self.height_px, self.width_px):
            number(
                side,
                "Side of the view",
                low=1,
                high=_LARGEST_VIEW_PX,
                unit="px",
                error=ScaleError,
            )
        number(self.mm_per_px, "Scale", above=0, unit="mm per px", error=ScaleError)
        for value in self.numbers:
            number(value, "A view's number", error=ScaleError)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """A flat face seen by the camera.

    Attributes
    ----------
    photo_to_mm : ndarray of float64, (3, 3)
        Homography from (x, y, 1) px of the upright photo to mm on the face.
    centre_px : tuple of float
        (row, col) of the photo where the scale is best known.
    relative_uncertainty : float
        Standard uncertainty of lengths there, as a share, 0 to 0.5.
    method : str
        ``"sheet"`` or ``"corners"``.
    """

    photo_to_mm: NDArray[np.float64]
    centre_px: tuple[float, float]
    relative_uncertainty: float
    method: str

    def __post_init__(self) -> None:
        """Seal the matrix and refuse an impossible one."""
        matrix = np.asarray(self.photo_to_mm, dtype=np.float64)
        if matrix.shape != (3, 3) or not np.isfinite(matrix).all():
            msg = (
                f"A view needs a 3 x 3 matrix of numbers, {matrix.shape} was given: "
                "mark the sheet or the corners again."
            )
            raise ScaleError(msg)
        object.__setattr__(self, "photo_to_mm", sealed(matrix))
        number(
            self.relative_uncertainty,
            "Uncertainty of the scale",
            low=0,
            high=LARGEST_UNCERTAINTY,
            error=ScaleError,
        )
        one_of(self.method, "Kind of scale", SCALE_METHODS, error=ScaleError)
