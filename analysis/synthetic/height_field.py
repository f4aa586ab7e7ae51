"""Pits, fins and skin as a height field, and how lamp and sky light it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.synthetic.filters import resized, softened
from analysis.synthetic.noise import fractal
from analysis.synthetic.rims import Rims, windows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.pits import Pits
    from analysis.synthetic.recipe import FaceRecipe
    from analysis.synthetic.scene import Lamp

RIM_ROUNDING_MM = 0.05
FLOOR_ROUGH_MM = 2.0
FLOOR_BUMPS = 0.025
STEEPEST = 4.0
TALL_MM = 0.2
FIN_STEPS = 8
# On the lamp's disc, (up, aside) of its radius: a square at two thirds of it.
LAMP_POINTS = np.array([[0.6, 0.3], [-0.3, 0.6], [-0.6, -0.3], [0.3, -0.6]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief:
    """The openings of the pits, on the subdivided grid.

    Attributes
    ----------
    depth_mm : ndarray of float32, (rows, cols)
        Below the face plane, 0 or more.
    coverage : ndarray of float32, (rows, cols)
        How much of each cell is open, 0..1.
    owner : ndarray of int32, (rows, cols)
        1-based number of the pit a cell belongs to, 0 for none.
    """

    depth_mm: NDArray[np.float32]
    coverage: NDArray[np.float32]
    owner: NDArray[np.int32]


def subdivided(rims: Rims, parts: int) -> Rims:
    """Return the rims on a grid of `parts` cells to a px.

    Examples
    --------
    >>> disc = Rims(row_px=np.array([2.0]), col_px=np.array([2.0]),
    ...             diameter_px=np.array([3.0]), harmonics=np.zeros((1, 5), complex))
    >>> subdivided(disc, 2).row_px
    array([4.5])
    """
    return Rims(
        row_px=(rims.row_px + 0.5) * parts - 0.5,
        col_px=(rims.col_px + 0.5) * parts - 0.5,
        diameter_px=rims.diameter_px * parts,
        harmonics=rims.harmonics,
    )


def carve(
    recipe: FaceRecipe, pits: Pits, rims: Rims, rng: np.random.Generator
) -> Relief:
    """Return the pits as holes: each a ball's cap, its floor rough when it is wide.

    Examples
    --------
    >>> from analysis.synthetic.pits import scatter
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> from analysis.synthetic.recipe import Pit
    >>> recipe = FaceRecipe(height_px=60, width_px=60, mm_per_px=0.1,
    ...     placed=(Pit(row_mm=3, col_mm=3, diameter_mm=2, depth_ratio=0.5),))
    >>> pits, rims, _ = scatter(recipe, np.random.default_rng(1))
    >>> relief = carve(recipe, pits, rims, np.random.default_rng(1))
    >>> bool(abs(relief.depth_mm.max() - 1.0) < 0.3)
    True
    """
    parts = recipe.supersample
    shape = (recipe.height_px * parts, recipe.width_px * parts)
    cell_mm = recipe.mm_per_px / parts
    depth, coverage = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    owner = np.zeros(shape, np.int32)
    if len(pits) == 0:
        return Relief(depth_mm=depth, coverage=coverage, owner=owner)
    fine = subdivided(rims, parts)
    # One field of bumps for all floors: each takes a window of it from its own place.
    side = 2 * int(np.ceil(4 * fine.reach_px.max())) + 256
    rough = fractal((side, side), FLOOR_ROUGH_MM / cell_mm, 3, rng)
    shift = rng.integers(0, 128, (len(pits), 2))
    # Half depth over radius; balls cut above their equator hang over, which no
    # height field shows, so deeper pits stretch a half ball.
    steep = 2.0 * pits.depth_ratio
    cap = np.minimum(steep, 1.0)
    # Radius of the ball whose cap of that height spans an opening of radius 1, and
    # how far its centre lies above the face.
    ball = (1 + cap**2) / (2 * cap)
    rise = ball - cap
    depth_unit = 0.5 * pits.diameter_mm * np.maximum(steep, 1.0)
    bumps_mm = np.where(pits.in_honeycomb, 0.45, FLOOR_BUMPS * pits.diameter_mm)
    unevenness = np.minimum(bumps_mm / (depth_unit * cap), 0.25)
    for k, at, share, radius in windows(fine, shape):
        inner = np.float32(ball[k] ** 2) - np.minimum(radius, 1) ** 2
        hole = np.sqrt(np.maximum(inner, 0)) - np.float32(rise[k])
        hole *= np.float32(depth_unit[k])
        top, left = shift[k]
        bumps = rough[top : top + hole.shape[0], left : left + hole.shape[1]]
        hole *= np.maximum(1 + np.float32(unevenness[k]) * bumps, np.float32(0.2))
        # Where two pits meet, a cell is of the one that is more open and deeper there.
        mine = share * (1 + hole) > coverage[at] * (1 + depth[at])
        owner[at][mine] = k + 1
        np.maximum(depth[at], hole, out=depth[at])
        np.maximum(coverage[at], share, out=coverage[at])
    return Relief(depth_mm=depth, coverage=coverage, owner=owner)


def lit(
    recipe: FaceRecipe,
    relief: Relief,
    pits: Pits,
    height_mm: NDArray[np.float32] | None,
    tone: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Return light times inner tone per px; 1 on the flat, open face.

    The lamp falls by Lambert's cosine. A point in a pit sees the lamp when its ray
    leaves the face plane through an opening. A cap of a ball sees the same share of
    sky from all its points, 1 / (1 + t²) with t = depth / radius, and sends its own
    light round as an integrating sphere does.

    Parameters
    ----------
    recipe : FaceRecipe
        Lamp, scale and reflectance.
    relief : Relief
        The pits.
    pits : Pits
        Their depth ratios, for the sky.
    height_mm : ndarray of float32, (rows, cols), or None
        Fins and skin above the face plane, per px.
    tone : ndarray of float64, (n,)
        Reflectance inside each pit over that of the face.

    Returns
    -------
    ndarray of float32, (height_px, width_px)
    """
    parts, lamp = recipe.supersample, recipe.lamp
    cell_mm = recipe.mm_per_px / parts
    size = (recipe.height_px, recipe.width_px)
    depth = relief.depth_mm
    if height_mm is not None:
        skin = resized(height_mm, depth.shape, cv2.INTER_LINEAR)
        depth = depth - skin * (1 - relief.coverage)
    depth = softened(depth, RIM_ROUNDING_MM / cell_mm)
    azimuth, elevation = np.radians([lamp.azimuth_deg, lamp.elevation_deg])
    side = 1.0 / np.tan(elevation)
    direct = _lambert(depth, cell_mm, azimuth, side)
    if height_mm is not None and height_mm.max() > TALL_MM:
        fins = np.maximum(height_mm - np.float32(TALL_MM), 0)
        seen = fin_shadow(fins, lamp, recipe.mm_per_px)
        direct *= resized(seen, depth.shape, cv2.INTER_LINEAR)
    sky_share = 1.0 - lamp.lamp_share
    if len(pits) == 0:
        light = direct * np.float32(lamp.lamp_share) + np.float32(sky_share)
        return resized(light, size, cv2.INTER_AREA)
    cover = softened(relief.coverage, max(RIM_ROUNDING_MM / cell_mm, 0.6))
    at = np.flatnonzero((cover > 0).ravel())
    inside, deep = cover.ravel()[at], np.maximum(depth.ravel()[at], 0)
    seen = _lamp_seen(lamp, cover, at, (deep / cell_mm).astype(np.float32))
    steep = 2.0 * pits.depth_ratio
    closed = steep**2 / (1 + steep**2)
    paste = float(np.mean(recipe.surface.reflectance)) * tone
    # Light of 1 comes in by the opening, 1 - closed of the cap's area; each time round
    # the cap catches `closed` of it and sends back `paste`: a geometric series.
    round_trip = closed * paste * (1 - closed) / (1 - paste * closed)
    owner = relief.owner.ravel()[at]
    ambient = np.append(0.0, sky_share * (1 - closed) + round_trip).astype(np.float32)
    # Owner 0: cells that only the softened rim reaches.
    ambient[0] = sky_share
    inner = np.append(1.0, tone).astype(np.float32)
    sun = np.float32(lamp.lamp_share) * direct.ravel()[at]
    open_light = sun + np.float32(sky_share)
    pit_light = (sun * seen + ambient[owner]) * inner[owner]
    light = direct * np.float32(lamp.lamp_share) + np.float32(sky_share)
    light.ravel()[at] = open_light + inside * (pit_light - open_light)
    return resized(light, size, cv2.INTER_AREA)


def _lamp_seen(
    lamp: Lamp,
    cover: NDArray[np.float32],
    at: NDArray[np.intp],
    deep: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Return how much of the lamp's disc each cell of a pit sees, 0..1.

    `deep` is the depth in cells. The disc is stood for by four points on it.
    """
    row, col = np.divmod(at, cover.shape[1])
    spots = LAMP_POINTS * lamp.radius_deg if lamp.radius_deg else np.zeros((1, 2))
    seen = np.zeros(len(at), np.float32)
    for up, aside in spots:
        elevation = np.radians(min(max(lamp.elevation_deg + up, 1.0), 179.0))
        # A degree of azimuth shrinks towards the zenith.
        turn = aside / max(np.cos(np.radians(lamp.elevation_deg)), 0.1)
        azimuth = np.radians(lamp.azimuth_deg + turn)
        # So far from the cell, towards the lamp, its ray leaves the face plane: where
        # the face is open there, light comes in.
        away = deep / np.float32(np.tan(elevation))
        exit_col = (col + away * np.float32(np.cos(azimuth))).astype(np.float32)
        exit_row = (row + away * np.float32(np.sin(azimuth))).astype(np.float32)
        seen += _looked_up(cover, exit_row, exit_col)
    seen /= np.float32(len(spots))
    return seen


def fin_shadow(
    height_mm: NDArray[np.float32], lamp: Lamp, mm_per_px: float
) -> NDArray[np.float32]:
    """Return how much of the lamp each px of the face sees past fins, 0..1.

    Examples
    --------
    >>> from analysis.synthetic.scene import Lamp
    >>> ridge = np.zeros((9, 40), np.float32)
    >>> ridge[:, 20] = 2.0
    >>> seen = fin_shadow(ridge, Lamp(azimuth_deg=0, elevation_deg=45), 0.5)
    >>> seen[4, 10], seen[4, 18], seen[4, 30]
    (np.float32(1.0), np.float32(0.0), np.float32(1.0))
    """
    rise = np.tan(np.radians(min(lamp.elevation_deg, 89.0)))
    reach_px = float(height_mm.max()) / rise / mm_per_px
    azimuth = np.radians(lamp.azimuth_deg)
    hidden = np.zeros_like(height_mm)
    # Marches towards the lamp: the picture is drawn back by `far`, so that each px
    # meets what stands there, less what the ray has risen on the way.
    for far in np.linspace(0, reach_px, FIN_STEPS + 1)[1:]:
        shift = np.array(
            [[1, 0, -far * np.cos(azimuth)], [0, 1, -far * np.sin(azimuth)]]
        )
        tall = cv2.warpAffine(
            height_mm, shift, height_mm.shape[::-1], borderMode=cv2.BORDER_REPLICATE
        )
        above = np.asarray(tall, np.float32) - height_mm
        np.maximum(hidden, above - np.float32(far * mm_per_px * rise), out=hidden)
    seen: NDArray[np.float32] = 1 - np.clip(hidden / np.float32(0.5 * mm_per_px), 0, 1)
    return seen


def _lambert(
    depth: NDArray[np.float32], cell_mm: float, azimuth: float, side: float
) -> NDArray[np.float32]:
    """Return the lamp's light on each slope over that on the flat."""
    # Sobel's 3 x 3 kernel gives 8 times the slope of a cell. The cosine is told over
    # that on the flat, sin(elevation): slopes then go with `side`, its cotangent.
    gain = 1.0 / (8.0 * cell_mm)
    across = np.asarray(cv2.Sobel(depth, cv2.CV_32F, 1, 0, scale=gain), np.float32)
    down = np.asarray(cv2.Sobel(depth, cv2.CV_32F, 0, 1, scale=gain), np.float32)
    facing = across * np.float32(side * np.cos(azimuth))
    facing += down * np.float32(side * np.sin(azimuth))
    facing += 1
    facing /= np.sqrt(across * across + down * down + 1)
    clipped: NDArray[np.float32] = np.clip(facing, 0, STEEPEST)
    return clipped


def _looked_up(
    image: NDArray[np.float32], row: NDArray[np.float32], col: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Return bilinear values at scattered points, in rows that cv2 accepts."""
    # `remap` refuses sides of 32,767 and more (from memory): the points are folded.
    width = 8192
    pad = -len(row) % width
    shape = (-1, width)
    values = cv2.remap(
        image,
        np.pad(col, (0, pad)).reshape(shape),
        np.pad(row, (0, pad)).reshape(shape),
        cv2.INTER_LINEAR,
    )
    return np.asarray(values, np.float32).ravel()[: len(row)]
