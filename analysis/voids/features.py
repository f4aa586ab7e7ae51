"""What speaks for and against each dark candidate being a void."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Candidates
    from analysis.voids.shapes import Pixels, Shapes

_SET = SETTINGS.features


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Features:
    """One figure per candidate; see VoidCatalog for what each means.

    Attributes
    ----------
    contrast, rim_sharpness, shading, colour_shift : ndarray of float64, (n,)
        As in the catalogue.
    thinness : ndarray of float64, (n,)
        Longest caliper width, squared, over area, as a share of that of a disc;
        equals the axis ratio of an ellipse.
    sharp_edge_px : float
        Width a sharp edge has in this photo, px.
    """

    contrast: NDArray[np.float64]
    rim_sharpness: NDArray[np.float64]
    shading: NDArray[np.float64]
    colour_shift: NDArray[np.float64]
    thinness: NDArray[np.float64]
    sharp_edge_px: float


def measure_features(
    candidates: Candidates,
    pixels: Pixels,
    shapes: Shapes,
    photo: NDArray[np.uint8],
    light: NDArray[np.float32],
    lamp_towards_rad: float | None,
) -> Features:
    """Collect the features on every candidate.

    Parameters
    ----------
    candidates : Candidates
    pixels : Pixels
        Of the same regions.
    shapes : Shapes
        Of the same regions.
    photo : ndarray of uint8, (rows, cols, 3)
        sRGB.
    light : ndarray of float32, (rows, cols)
        Linear light.
    lamp_towards_rad : float or None
        Direction towards the lamp; None when the light has no side.

    Returns
    -------
    Features
    """
    sharp = sharp_edge(candidates)
    return Features(
        contrast=np.clip(candidates.depth, 0.0, 1.0),
        rim_sharpness=np.clip(sharp / np.maximum(candidates.edge_px, 1e-6), 0.0, 1.0),
        shading=_shading(pixels, shapes, light, lamp_towards_rad),
        colour_shift=_colour_shift(candidates, pixels, shapes, photo),
        thinness=np.maximum(shapes.thinness(candidates.area_px), 1.0),
        sharp_edge_px=sharp,
    )


def sharp_edge(candidates: Candidates) -> float:
    """Width of the sharpest edges of the photo, from its own deep candidates."""
    deep = np.sort(candidates.edge_px[candidates.depth > _SET.deep_depth])
    if len(deep) < _SET.fewest_deep:
        return _SET.usual_edge_px
    # A fifth of the way up: the very sharpest may be noise.
    return max(_SET.sharpest_edge_px, float(deep[len(deep) // 5]))


def _shading(
    pixels: Pixels,
    shapes: Shapes,
    light: NDArray[np.float32],
    towards_rad: float | None,
) -> NDArray[np.float64]:
    """Correlate light with distance from the lamp's side inside each region."""
    if towards_rad is None:
        return np.zeros(pixels.count)
    size = pixels.total()
    away = -(
        (pixels.col - shapes.col_px[pixels.label]) * np.cos(towards_rad)
        + (pixels.row - shapes.row_px[pixels.label]) * np.sin(towards_rad)
    )
    value = light.ravel()[pixels.flat].astype(np.float64)
    value -= (pixels.total(value) / size)[pixels.label]
    # Both are of mean 0 in each region, `away` because it is counted from the centroid:
    # the product over the root of the squares is Pearson's correlation.
    spread = pixels.total(value**2) * pixels.total(away**2)
    shading: NDArray[np.float64] = pixels.total(value * away) / np.sqrt(
        np.maximum(spread, 1e-18)
    )
    return shading


def _colour_shift(
    candidates: Candidates, pixels: Pixels, shapes: Shapes, photo: NDArray[np.uint8]
) -> NDArray[np.float64]:
    """Distance of each region's chromaticity from that of points around it."""
    angle = np.arange(_SET.ring_points) * (2 * np.pi / _SET.ring_points)
    # One ray a direction, (n, 24): each point lies beyond how far the region itself
    # reaches that way, of which `support_px` holds every fifth degree.
    distance = (
        shapes.support_px[:: len(shapes.support_px) // _SET.ring_points].T
        + _SET.ring_px
    )
    row = np.rint(shapes.row_px[:, None] + distance * np.sin(angle)).astype(np.intp)
    col = np.rint(shapes.col_px[:, None] + distance * np.cos(angle)).astype(np.intp)
    rows, cols = candidates.labels.shape
    inside = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
    # Points on the photo in one list; `owner` is the region that each one is of.
    owner, at = np.nonzero(inside)
    flat = row[owner, at] * cols + col[owner, at]
    background = candidates.labels.ravel()[flat] == 0
    around = _chromaticity(photo, flat[background], owner[background], pixels.count)
    within = _chromaticity(photo, pixels.flat, pixels.label, pixels.count)
    shift: NDArray[np.float64] = np.hypot(*(within - around))
    return shift


def _chromaticity(
    photo: NDArray[np.uint8],
    flat: NDArray[np.intp],
    label: NDArray[np.intp] | NDArray[np.int32],
    count: int,
) -> NDArray[np.float64]:
    """Red and blue parts of the summed sRGB codes of each region, (2, n)."""
    codes = photo.reshape(-1, 3)[flat].astype(np.float64)
    # Sums before the ratio, so that dark px, whose own ratios are noise, weigh little.
    sums = np.stack([np.bincount(label, codes[:, c], count) for c in range(3)])
    whole = sums.sum(axis=0)
    parts = np.full((2, count), 1.0 / 3.0)
    np.divide(sums[[0, 2]], whole, out=parts, where=whole > 0)
    return parts
