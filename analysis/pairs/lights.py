"""Where the two lamps stand, told by the pits themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.pairs.planes import Planes
    from analysis.pairs.spots import PairCandidates

# Lamps closer than this leave pits and grains alike.
LEAST_ANGLE_DEG = 25.0
_LEAST_PX, _THINNEST = 20.0, 8.0
_LEAST_AGREEMENT, _SIGMAS, _FEWEST = 0.12, 4.0, 5
# A pit is shaded this strongly in any one light; a grain is not.
_SHADED = 0.45


@dataclass(frozen=True, slots=True, kw_only=True)
class Lights:
    """Directions towards the lamps in the first photo's picture.

    Attributes
    ----------
    first_rad, second_rad : float or None
        From the column axis towards the row axis; None where nothing tells it.
    sure : bool
        Enough spots agree on both to refuse a pair by it.
    """

    first_rad: float | None
    second_rad: float | None
    sure: bool

    @property
    def angle_deg(self) -> float | None:
        """Angle between them, 0 to 180; None where nothing tells it."""
        if self.first_rad is None or self.second_rad is None:
            return None
        apart = np.degrees(self.first_rad - self.second_rad)
        return float(abs((apart + 180.0) % 360.0 - 180.0))


def lights_of(
    found: PairCandidates, planes: Planes, chosen: NDArray[np.bool_] | None = None
) -> Lights:
    """Estimate both lamps from the shading inside dark spots.

    Where the lamps stand alike no relief shows, so that pits are told by their strong
    shading instead.

    Parameters
    ----------
    found : PairCandidates
    planes : Planes
    chosen : ndarray of bool, (n,), optional
        Spots known to be pits; without them all round spots shaded in both photos.
    """
    # 1 for a disc, more the longer and more ragged it is.
    thin = found.shapes.thinness(found.spots.area_px)
    usable = (found.spots.area_px >= _LEAST_PX) & (thin < _THINNEST)
    if chosen is not None:
        usable = usable & chosen if (usable & chosen).any() else chosen
    shading = [_shading(found, plane) for plane in (planes.first, planes.second)]
    if chosen is None:
        usable &= np.minimum(*np.abs(shading)) > _SHADED
    sides = [_agreed(vectors[usable]) for vectors in shading]
    if chosen is not None and not usable.any():
        return Lights(first_rad=None, second_rad=None, sure=False)
    sure = all(side[1] for side in sides)
    if chosen is None and not sure:
        return Lights(first_rad=None, second_rad=None, sure=False)
    # In a pit it grows lighter away from the lamp: its near wall is in shade.
    first, second = (float(np.angle(-side[0])) for side in sides)
    return Lights(first_rad=first, second_rad=second, sure=sure)


def _shading(
    found: PairCandidates, plane: NDArray[np.float32]
) -> NDArray[np.complex128]:
    """Correlation of light with column and, as the imaginary part, row in each spot."""
    pixels, shapes = found.pixels, found.shapes
    value = plane.ravel()[pixels.flat].astype(np.float64)
    # Sums by spot, all spots at once. Light loses its mean here, and offsets from the
    # centroid have none, so that the sums below are correlations.
    value -= (pixels.total(value) / np.maximum(pixels.total(), 1.0))[pixels.label]
    power = pixels.total(value**2)

    def along(offset: NDArray[np.float64]) -> NDArray[np.float64]:
        spread = np.sqrt(np.maximum(power * pixels.total(offset**2), 1e-18))
        return np.asarray(pixels.total(value * offset) / spread)

    across = along(pixels.col - shapes.col_px[pixels.label])
    down = along(pixels.row - shapes.row_px[pixels.label])
    return across + 1j * down


def _agreed(vectors: NDArray[np.complex128]) -> tuple[complex, bool]:
    """Mean direction in which spots grow lighter, and whether they agree on it."""
    if len(vectors) == 0:
        return 0j, False
    mean = complex(vectors.mean())
    # Standard error of the mean vector, rows and columns together.
    error = float(np.sqrt(np.mean(np.abs(vectors - mean) ** 2) / len(vectors)))
    agree = (
        len(vectors) >= _FEWEST
        and abs(mean) > _LEAST_AGREEMENT
        and abs(mean) > _SIGMAS * error
    )
    return mean, agree
