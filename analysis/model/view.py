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
