"""Where the pits lie and how deep they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from analysis.synthetic.rims import Rims, draw_harmonics

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.recipe import FaceRecipe, Honeycomb, Joint, PitPopulation

ROUNDS = 40
RAGGED_FROM_MM = 6.0
CLUMP_OF = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pits:
    """Pits as columns of one length n.

    Attributes
    ----------
    row_mm, col_mm, diameter_mm : ndarray of float64, (n,)
        Centre, and diameter of the circle of the opening's area.
    depth_ratio : ndarray of float64, (n,)
        Depth over diameter.
    irregularity : ndarray of float64, (n,)
        Of the rim.
    stretch : ndarray of complex128, (n,)
        Second harmonic that makes the rim long.
    movable : ndarray of bool, (n,)
        May be moved out of another pit's way.
    in_honeycomb : ndarray of bool, (n,)
        Belongs to a honeycomb patch.
    """

    row_mm: NDArray[np.float64]
    col_mm: NDArray[np.float64]
    diameter_mm: NDArray[np.float64]
    depth_ratio: NDArray[np.float64]
    irregularity: NDArray[np.float64]
    stretch: NDArray[np.complex128]
    movable: NDArray[np.bool_]
    in_honeycomb: NDArray[np.bool_]

    def __len__(self) -> int:
        """Count the pits."""
        return len(self.row_mm)

    def taken(self, which: NDArray[np.bool_]) -> Pits:
        """Return the pits where `which` is true."""
        return Pits(**{name: getattr(self, name)[which] for name in self.__slots__})


def _joined(parts: list[Pits]) -> Pits:
    return Pits(
        **{
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in Pits.__slots__
        }
    )


def _column(values: object, dtype: type = float) -> NDArray[np.float64]:
    return np.array(values, dtype=dtype)


def _placed(recipe: FaceRecipe) -> Pits:
    given = recipe.placed
    return Pits(
        row_mm=_column([pit.row_mm for pit in given]),
        col_mm=_column([pit.col_mm for pit in given]),
        diameter_mm=_column([pit.diameter_mm for pit in given]),
        depth_ratio=_column([pit.depth_ratio for pit in given]),
        irregularity=_column([pit.irregularity for pit in given]),
        stretch=np.zeros(len(given), complex),
        movable=np.zeros(len(given), bool),
        in_honeycomb=np.zeros(len(given), bool),
    )


def _diameters(
    count: int, population: PitPopulation, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Draw log-normal diameters, cut (not clipped) at the limits."""
    low, high = np.log(population.smallest_mm), np.log(population.largest_mm)
    middle = np.log(population.median_mm)
    log = middle + population.spread * rng.standard_normal(count)
    for _ in range(ROUNDS):
        outside = (log < low) | (log > high)
        if not outside.any():
            break
        log[outside] = middle + population.spread * rng.standard_normal(outside.sum())
    drawn: NDArray[np.float64] = np.exp(np.clip(log, low, high))
    return drawn


def _scattered(
    recipe: FaceRecipe, population: PitPopulation, rng: np.random.Generator
) -> Pits:
    count = int(rng.poisson(population.per_m2 * recipe.face_area_mm2 * 1e-6))
    diameter = _diameters(count, population, rng)
    big = np.clip(diameter / RAGGED_FROM_MM, 0, 2)
    span = population.depth_high - population.depth_low
    depth = population.depth_low + span * rng.random(count) * (1 - 0.4 * big)
    height = (recipe.height_px - 1) * recipe.mm_per_px
    width = (recipe.width_px - 1) * recipe.mm_per_px
    # A power above 1 draws places towards 0, the top of the picture.
    fall = rng.random(count) ** (1 + population.towards_top)
    row, col = fall * height, rng.random(count) * width
    # About a dozen of them to a middle, so that clumps grow in number, not in size.
    clumped = rng.random(count) < population.clump_share
    if clumped.any():
        middle = rng.random((1 + clumped.sum() // CLUMP_OF, 2)) * [height, width]
        spots = middle[rng.integers(0, len(middle), clumped.sum())]
        spots += population.clump_mm * rng.standard_normal(spots.shape)
        row[clumped], col[clumped] = spots.T
    # A rim of 1 + c cos 2t is about (1 + c) / (1 - c) times as long as wide.
    long = (population.elongation - 1) / (population.elongation + 1)
    axis = np.radians(population.elongation_deg)
    touching = rng.random(count) < population.touching_share
    movable = np.ones(count, bool)
    if count > 1:
        host = rng.integers(0, count, count)
        angle = rng.random(count) * 2 * np.pi
        reach = 0.46 * (diameter + diameter[host])
        # None touches one that itself touches, nor itself: hosts stay where they are.
        # Centres at 0.46, not 0.5, of both diameters let the openings overlap a little.
        touching &= ~touching[host]
        movable[touching] = movable[host[touching]] = False
        row = np.where(touching, row[host] + reach * np.sin(angle), row)
        col = np.where(touching, col[host] + reach * np.cos(angle), col)
    return Pits(
        row_mm=row,
        col_mm=col,
        diameter_mm=diameter,
        depth_ratio=depth,
        irregularity=population.irregularity * (1 + 0.5 * big),
        # Re(c e^{2it}) is largest where 2t is minus the angle of c: at the axis.
        stretch=np.full(count, long * np.exp(-2j * axis)),
        movable=movable,
        in_honeycomb=np.zeros(count, bool),
    )


def _along_joint(recipe: FaceRecipe, joint: Joint, rng: np.random.Generator) -> Pits:
    start, end = np.array(joint.start_mm), np.array(joint.end_mm)
    length = float(np.hypot(*(end - start)))
    count = int(rng.poisson(joint.leak_pits_per_m * length * 1e-3))
    along = (end - start) / length
    across = np.array([-along[1], along[0]])
    band = max(joint.leak_width_mm, 2 * recipe.mm_per_px)
    t, u = rng.random(count) * length, 0.5 * band * rng.standard_normal(count)
    spots = start + t[:, None] * along + u[:, None] * across
    return Pits(
        row_mm=spots[:, 0],
        col_mm=spots[:, 1],
        diameter_mm=np.clip(1.4 * np.exp(0.55 * rng.standard_normal(count)), 0.4, 6),
        depth_ratio=0.25 + 0.4 * rng.random(count),
        irregularity=np.full(count, 0.22),
        stretch=np.zeros(count, complex),
        movable=np.zeros(count, bool),
        in_honeycomb=np.zeros(count, bool),
    )


def honeycomb_rims(recipe: FaceRecipe, rng: np.random.Generator) -> Rims:
    """Return the outlines of the honeycomb patches, px.

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> from analysis.synthetic.recipe import Honeycomb
    >>> recipe = FaceRecipe(height_px=90, width_px=90, mm_per_px=0.5, honeycomb=(
    ...     Honeycomb(row_mm=20, col_mm=20, diameter_mm=20),))
    >>> honeycomb_rims(recipe, np.random.default_rng(1)).diameter_px
    array([40.])
    """
    given, scale = recipe.honeycomb, recipe.mm_per_px
    return Rims(
        row_px=_column([patch.row_mm for patch in given]) / scale,
        col_px=_column([patch.col_mm for patch in given]) / scale,
        diameter_px=_column([patch.diameter_mm for patch in given]) / scale,
        harmonics=draw_harmonics(np.full(len(given), 0.22), rng),
    )


def _in_patch(
    recipe: FaceRecipe, patch: Honeycomb, rims: Rims, k: int, rng: np.random.Generator
) -> Pits:
    """Fill a patch with ragged voids until their areas add up to its fill."""
    area = np.pi / 4 * patch.diameter_mm**2
    # Mean square of a log-normal diameter: the median's times e^(2 s^2).
    mean_area = np.pi / 4 * patch.void_median_mm**2 * np.exp(2 * 0.45**2)
    count = max(1, int(rng.poisson(patch.fill * area / mean_area)))
    angle = rng.random(count) * 2 * np.pi
    wave = np.ones(count)
    for j, c in enumerate(rims.harmonics[k]):
        wave += np.real(c * np.exp(1j * (j + 2) * angle))
    # Area within r grows as r squared: without the root the middle would be crowded.
    radius = np.sqrt(rng.random(count)) * wave * rims.base_px[k] * recipe.mm_per_px
    diameter = patch.void_median_mm * np.exp(0.45 * rng.standard_normal(count))
    return Pits(
        row_mm=patch.row_mm + radius * np.sin(angle),
        col_mm=patch.col_mm + radius * np.cos(angle),
        diameter_mm=np.clip(diameter, 0.5, 0.35 * patch.diameter_mm),
        depth_ratio=0.35 + 0.45 * rng.random(count),
        irregularity=np.full(count, 0.27),
        stretch=np.zeros(count, complex),
        movable=np.zeros(count, bool),
        in_honeycomb=np.ones(count, bool),
    )


def _parted(
    pits: Pits, height_mm: float, width_mm: float, rng: np.random.Generator
) -> Pits:
    """Move scattered pits until they are clear of others; drop those that cannot be."""
    row, col = pits.row_mm.copy(), pits.col_mm.copy()
    # 1.35 leaves room for the ragged part of both rims.
    reach = 0.5 * 1.35 * pits.diameter_mm
    clash = np.zeros(len(pits), bool)
    for _ in range(ROUNDS):
        clash[:] = False
        pairs = _near_pairs(row, col, reach)
        first, second = pairs[:, 0], pairs[:, 1]
        # Of a pair the smaller moves, or the other where it may not: their sum less the
        # one index is the other.
        smaller = np.where(reach[first] < reach[second], first, second)
        other = first + second - smaller
        loser = np.where(pits.movable[smaller], smaller, other)
        clash[loser[pits.movable[loser]]] = True
        if not clash.any():
            break
        row[clash] = rng.random(clash.sum()) * height_mm
        col[clash] = rng.random(clash.sum()) * width_mm
    moved = Pits(
        **{
            name: {"row_mm": row, "col_mm": col}.get(name, getattr(pits, name))
            for name in Pits.__slots__
        }
    )
    return moved.taken(~clash)


def _near_pairs(
    row: NDArray[np.float64], col: NDArray[np.float64], reach: NDArray[np.float64]
) -> NDArray[np.intp]:
    """Return index pairs closer than the sum of their reaches.

    Worked from the large pits down: a pit looks for smaller ones within twice its
    own reach, so that a few large ones do not make every small one look far.
    """
    tree = cKDTree(np.column_stack([row, col]))
    # The sum of two reaches is at most twice the larger one: from the larger pit, at
    # least, every pair is found.
    near = tree.query_ball_point(np.column_stack([row, col]), 2 * reach)
    first = np.repeat(np.arange(len(row)), [len(hits) for hits in near])
    second = np.array([hit for hits in near for hit in hits], dtype=np.intp)
    gap = np.hypot(row[first] - row[second], col[first] - col[second])
    keep = (first != second) & (gap < reach[first] + reach[second])
    return np.column_stack([first[keep], second[keep]])


def scatter(recipe: FaceRecipe, rng: np.random.Generator) -> tuple[Pits, Rims, Rims]:
    """Return the pits, their rims and the honeycomb outlines.

    Scattered pits lie wholly inside the picture; pits given by `Pit` stay where
    they were put.

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> recipe = FaceRecipe(height_px=90, width_px=90, mm_per_px=0.5)
    >>> len(scatter(recipe, np.random.default_rng(1))[0])
    0
    """
    patches = honeycomb_rims(recipe, rng)
    parts = [_placed(recipe)]
    for k, patch in enumerate(recipe.honeycomb):
        parts.append(_in_patch(recipe, patch, patches, k, rng))
    parts.extend(_along_joint(recipe, joint, rng) for joint in recipe.joints)
    parts.extend(_scattered(recipe, population, rng) for population in recipe.pits)
    scale = recipe.mm_per_px
    height_mm, width_mm = recipe.height_px * scale, recipe.width_px * scale
    pits = _joined(parts)
    if pits.movable.any():
        pits = _parted(pits, height_mm, width_mm, rng)
    rims = Rims(
        row_px=pits.row_mm / scale,
        col_px=pits.col_mm / scale,
        diameter_px=pits.diameter_mm / scale,
        harmonics=draw_harmonics(pits.irregularity, rng, pits.stretch),
    )
    reach = rims.reach_px
    inside = (
        (rims.row_px - reach > 0)
        & (rims.col_px - reach > 0)
        & (rims.row_px + reach < recipe.height_px - 1)
        & (rims.col_px + reach < recipe.width_px - 1)
    )
    inside[: len(recipe.placed)] = True
    kept = Rims(
        row_px=rims.row_px[inside],
        col_px=rims.col_px[inside],
        diameter_px=rims.diameter_px[inside],
        harmonics=rims.harmonics[inside],
    )
    return pits.taken(inside), kept, patches
