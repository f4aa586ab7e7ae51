"""Draws a face from its recipe and keeps its truth beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.checks import number, one_of, seal_arrays
from analysis.errors import InputError
from analysis.synthetic.exposure import photographed
from analysis.synthetic.filters import resized
from analysis.synthetic.height_field import carve, lit
from analysis.synthetic.pits import scatter
from analysis.synthetic.rims import covered
from analysis.synthetic.skin import faded, relief_mm, tint

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.recipe import FaceRecipe

HALF = 0.5
FORMATS = {"PNG": ".png", "JPEG": ".jpg", "TIFF": ".tif", "WEBP": ".webp"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnFace:
    """A drawn face and its truth.

    Attributes
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    coverage : ndarray of float32, (rows, cols)
        Share of each px that lies in the opening of a pit, 0..1.
    labels : ndarray of int32, (rows, cols)
        1-based number of the pit where half a px or more is open, else 0. Very
        small pits may own no px.
    true_void_share : float
        Openings of all pits over the face, 0..1; overlaps count once.
    row_px, col_px : ndarray of float64, (n,)
        Centres of the pits.
    area_mm2 : ndarray of float64, (n,)
        Opening of each; where two overlap, each px counts for one of them.
    equivalent_diameter_mm, depth_mm : ndarray of float64, (n,)
        From `area_mm2`; greatest depth below the face before roughness.
    in_honeycomb : ndarray of bool, (n,)
        Belongs to a honeycomb patch.
    honeycomb : ndarray of bool, (rows, cols)
        Extent of the patches, stones and all.
    recipe : FaceRecipe
        What it was drawn from.
    """

    pixels: NDArray[np.uint8]
    coverage: NDArray[np.float32]
    labels: NDArray[np.int32]
    true_void_share: float
    row_px: NDArray[np.float64]
    col_px: NDArray[np.float64]
    area_mm2: NDArray[np.float64]
    equivalent_diameter_mm: NDArray[np.float64]
    depth_mm: NDArray[np.float64]
    in_honeycomb: NDArray[np.bool_]
    honeycomb: NDArray[np.bool_]
    recipe: FaceRecipe

    def __post_init__(self) -> None:
        """Seal the arrays."""
        seal_arrays(self)

    @property
    def mm_per_px(self) -> float:
        """Scale."""
        return self.recipe.mm_per_px

    @property
    def smallest_counted_mm(self) -> float:
        """The larger of 0.5 mm and 4 px across."""
        return max(0.5, 4 * self.mm_per_px)

    def share_of(self, smallest_mm: float = 0.0) -> float:
        """Return the share of pits of at least `smallest_mm` across, 0..1."""
        big = self.equivalent_diameter_mm >= smallest_mm
        return float(self.area_mm2[big].sum() / self.recipe.face_area_mm2)

    def count_of(self, smallest_mm: float = 0.0) -> int:
        """Return how many pits are at least `smallest_mm` across."""
        whole = (self.equivalent_diameter_mm >= smallest_mm) & (self.area_mm2 > 0)
        return int(np.count_nonzero(whole))


def draw_face(recipe: FaceRecipe, *, seed: int) -> DrawnFace:
    """Draw a face.

    Places, colour and camera noise draw from streams of their own, so that another
    lamp or camera shows the same face.

    Parameters
    ----------
    recipe : FaceRecipe
        What to draw.
    seed : int
        0 or more; the same seed draws the same face.

    Returns
    -------
    DrawnFace
        Pixels and truth.

    Raises
    ------
    InputError
        The seed is no whole number of 0 or more.

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> from analysis.synthetic.recipe import Pit
    >>> recipe = FaceRecipe(height_px=100, width_px=100, mm_per_px=0.1,
    ...                     placed=(Pit(row_mm=5, col_mm=5, diameter_mm=4),))
    >>> face = draw_face(recipe, seed=1)
    >>> round(100 * face.true_void_share, 1)
    12.6
    """
    whole: object = seed
    if isinstance(whole, bool) or not isinstance(whole, int) or whole < 0:
        msg = f"A seed must be a whole number of 0 or more, {seed!r} was given."
        raise InputError(msg)
    streams = np.random.SeedSequence(seed).spawn(4)
    places, depths, colours, sensor = map(np.random.default_rng, streams)
    pits, rims, patches = scatter(recipe, places)
    shape = (recipe.height_px, recipe.width_px)
    extent = covered(patches, shape)
    broken = faded(extent, recipe.mm_per_px)
    relief = carve(recipe, pits, rims, depths)
    # Overhang, dirt and damp, which no height field shows, darken the inside; a
    # fresh skin does not.
    tone = depths.uniform(0.25, 1.0, len(pits)) * (1 - 0.4 * pits.in_honeycomb)
    light = lit(recipe, relief, pits, relief_mm(recipe, broken, colours), tone)
    coverage = resized(relief.coverage, shape, cv2.INTER_AREA)
    scene = tint(recipe, broken, colours)
    _bare(scene, coverage, recipe.surface.reflectance)
    scene *= light[..., None]
    pixels = photographed(scene, recipe.camera, sensor)
    # Open shares of cells, summed by owner; entry 0 is of no pit.
    cells = np.bincount(
        relief.owner.ravel(), weights=relief.coverage.ravel(), minlength=len(pits) + 1
    )
    cell_mm = recipe.mm_per_px / recipe.supersample
    area = np.asarray(cells[1:] * cell_mm**2, np.float64)
    return DrawnFace(
        pixels=pixels,
        coverage=coverage,
        labels=_labels(relief.owner, coverage, recipe.supersample),
        true_void_share=float(area.sum() / recipe.face_area_mm2),
        row_px=rims.row_px,
        col_px=rims.col_px,
        area_mm2=area,
        equivalent_diameter_mm=np.sqrt(4 * area / np.pi),
        depth_mm=pits.depth_ratio * pits.diameter_mm,
        in_honeycomb=pits.in_honeycomb,
        honeycomb=extent >= HALF,
        recipe=recipe,
    )


def _bare(
    scene: NDArray[np.float32],
    coverage: NDArray[np.float32],
    paste: tuple[float, float, float],
) -> None:
    """Show bare paste inside the pits: grains and bloom lie on the face only."""
    row, col = np.nonzero(coverage)
    share = coverage[row, col, None]
    scene[row, col] += share * (np.array(paste, np.float32) - scene[row, col])


def _labels(
    owner: NDArray[np.int32], coverage: NDArray[np.float32], parts: int
) -> NDArray[np.int32]:
    """Return the highest owner among each px's cells where it is half open."""
    rows, cols = coverage.shape
    cells = owner.reshape(rows, parts, cols, parts)
    labels = np.zeros(coverage.shape, np.int32)
    row, col = np.nonzero(coverage >= HALF)
    # (n, parts, parts): the cells of each of n px; axes 1 and 3 run within a px.
    labels[row, col] = cells[row, :, col, :].max(axis=(1, 2))
    return labels


def encode(face: DrawnFace, file_format: str = "PNG", *, quality: int = 92) -> bytes:
    """Return the picture as a file's bytes.

    Parameters
    ----------
    face : DrawnFace
        The face.
    file_format : str
        PNG, JPEG, TIFF or WEBP.
    quality : int
        Of JPEG and WebP, 1 to 100.

    Raises
    ------
    InputError
        Another format, or a quality out of range.

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> face = draw_face(FaceRecipe(height_px=8, width_px=8, mm_per_px=1), seed=1)
    >>> encode(face)[1:4]
    b'PNG'
    """
    return encode_pixels(face.pixels, file_format, quality=quality)


def encode_pixels(
    pixels: NDArray[np.uint8], file_format: str = "PNG", *, quality: int = 92
) -> bytes:
    """Return sRGB pixels as a file's bytes; see `encode`.

    Examples
    --------
    >>> encode_pixels(np.zeros((8, 8, 3), np.uint8), "JPEG")[:2].hex()
    'ffd8'
    """
    suffix = FORMATS[one_of(file_format, "File format", FORMATS)]
    level = int(number(quality, "Quality", low=1, high=100))
    options = {
        "JPEG": [cv2.IMWRITE_JPEG_QUALITY, level],
        "WEBP": [cv2.IMWRITE_WEBP_QUALITY, level],
    }.get(file_format, [])
    _, packed = cv2.imencode(suffix, pixels[..., ::-1], options)
    return packed.tobytes()
