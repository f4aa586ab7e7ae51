"""Where voids sit on a face, against voids laid at random over the same face.

Every question is a Monte Carlo test (Besag and Diggle 1977, J. R. Stat. Soc. C 26:327):
the voids keep their sizes and are laid anew at random over the measured cells, so
that edges, left-out areas and odd outlines need no correction of their own. Height is
asked of groups of near voids rather than of single ones, since a cluster has one place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial import KDTree

from analysis.errors import InputError
from analysis.model.diagnosis import Placement, Zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.diagnosis import FaceGrid

# With the face itself they make 1000, and 200: chances in whole thousandths, and in
# steps of 0.005 where each simulation has distances to measure.
SIMULATIONS = 999
_ROUNDING = 1e-9
NEIGHBOUR_SIMULATIONS = 199
FINE_MM, COARSE_MM = 6.0, 10.0
FEWEST = 8  # voids on a face, for the distances between them
TENTHS = 10
THIRDS = 3
GROUP_REACH = 0.5  # of the distance usual at random: nearer voids make one group
SEED = 3_571


class _PlacedVoids(NamedTuple):
    """All faces in one: cells end to end, voids by the cell they lie in."""

    at: NDArray[np.int64]  # (n,) cell of each void
    area: NDArray[np.float64]  # (n,) mm2
    group: NDArray[np.int64]  # (n,) near voids share one
    simulated: NDArray[np.int64]  # (simulations, n) cells
    simulated_group: NDArray[np.int64]  # (simulations, groups) cells
    group_area: NDArray[np.float64]
    cell_mm2: NDArray[np.float64]  # (cells,)


def place(grids: Sequence[FaceGrid], *, seed: int = SEED) -> Placement:
    """Describe where the voids of some faces sit.

    Parameters
    ----------
    grids : sequence of FaceGrid
        Of one piece, or of all pieces of a form.
    seed : int
        Of the simulations.

    Raises
    ------
    InputError
        No face, or a face without cells.

    Examples
    --------
    >>> from analysis.model.diagnosis import FaceGrid
    >>> cells = np.ones((30, 40), bool)
    >>> none = np.zeros((30, 40), bool)
    >>> grid = FaceGrid(cell_mm=5.0, on_face=cells, joint=np.zeros((30, 40), np.int64),
    ...     joint_names=(), sloped=none, by_insert=none, height=None, patch=none,
    ...     row=np.array([3.0]), col=np.array([4.0]), diameter_mm=np.array([3.0]))
    >>> place([grid]).fine_share
    1.0
    """
    if not grids or not all(grid.on_face.any() for grid in grids):
        msg = "No measured face was given: measure one, then ask where its voids sit."
        raise InputError(msg)
    random = np.random.default_rng(seed)
    placed = _placed_voids(grids, random)
    diameter = np.concatenate([grid.diameter_mm for grid in grids])
    ratio, chance = _neighbours(grids, random)
    patch = _joined(grids, "patch")
    total = float(placed.area.sum())
    coarse = float(placed.area[diameter >= COARSE_MM].sum())
    return Placement(
        voids=len(diameter),
        faces=len(grids),
        joints=_joints(grids, placed),
        thirds_per_m2=_thirds(grids, placed),
        top=_top(grids, placed),
        slope=_marked(grids, placed, "sloped", "slope"),
        insert=_marked(grids, placed, "by_insert", "insert"),
        neighbour_ratio=ratio,
        neighbour_p=chance,
        fine_share=float(np.mean(diameter < FINE_MM)) if len(diameter) else 0.0,
        coarse_share=coarse / total if total else 0.0,
        honeycomb_share=float(patch @ placed.cell_mm2 / placed.cell_mm2.sum()),
        honeycomb_at=_patch_joint(grids, patch),
    )


def _joined(grids: Sequence[FaceGrid], name: str) -> NDArray[np.float64]:
    """Return a layer of all faces, cells end to end."""
    parts = [
        np.asarray(getattr(grid, name)[grid.on_face], dtype=np.float64)
        for grid in grids
    ]
    return np.concatenate(parts)


def _placed_voids(
    grids: Sequence[FaceGrid], random: np.random.Generator
) -> _PlacedVoids:
    """Put each void into its cell, and lay voids and groups at random."""
    at, area, group, simulated, simulated_group, group_area = [], [], [], [], [], []
    first_cell = first_group = 0
    for grid in grids:
        cells = int(np.count_nonzero(grid.on_face))
        count = len(grid.diameter_mm)
        own = _cell_of(grid)
        sizes = np.pi / 4 * grid.diameter_mm**2
        groups = _groups(grid)
        many = int(groups.max(initial=-1)) + 1
        # Cells and groups are numbered on from face to face, but voids are laid anew
        # only over the cells of their own face.
        at.append(first_cell + own)
        area.append(sizes)
        group.append(first_group + groups)
        simulated.append(first_cell + random.integers(0, cells, (SIMULATIONS, count)))
        simulated_group.append(
            first_cell + random.integers(0, cells, (SIMULATIONS, many))
        )
        group_area.append(np.bincount(groups, sizes, minlength=many)[:many])
        first_cell += cells
        first_group += many
    return _PlacedVoids(
        at=np.concatenate(at),
        area=np.concatenate(area),
        group=np.concatenate(group),
        simulated=np.concatenate(simulated, axis=1),
        simulated_group=np.concatenate(simulated_group, axis=1),
        group_area=np.concatenate(group_area),
        cell_mm2=np.concatenate(
            [
                np.full(int(np.count_nonzero(grid.on_face)), grid.cell_mm**2)
                for grid in grids
            ]
        ),
    )


def _cell_of(grid: FaceGrid) -> NDArray[np.int64]:
    """Return the number of each void's cell; one beside the face takes the nearest."""
    rows, cols = np.nonzero(grid.on_face)
    if not len(grid.row):
        return np.empty(0, dtype=np.int64)
    # Listed in the order of `layer[on_face]`, so that the place found among them
    # is the void's place in every layer of `_joined`.
    _, nearest = KDTree(np.column_stack([rows, cols])).query(
        np.column_stack([grid.row, grid.col])
    )
    return np.asarray(nearest, dtype=np.int64)


def _groups(grid: FaceGrid) -> NDArray[np.int64]:
    """Join voids that lie much nearer to each other than usual at random."""
    count = len(grid.row)
    if count < 2:  # noqa: PLR2004
        return np.zeros(count, dtype=np.int64)
    # Mean distance to the nearest of points laid at random: half the root of the
    # area a point (Clark and Evans 1954, from memory). Single linkage, cut at a part
    # of it, makes one group of a whole chain of near voids.
    usual = 0.5 * np.sqrt(np.count_nonzero(grid.on_face) / count)
    tree = linkage(np.column_stack([grid.row, grid.col]), "single")
    named = fcluster(tree, GROUP_REACH * usual, "distance")
    return np.asarray(named - 1, dtype=np.int64)


def _zone(
    placed: _PlacedVoids,
    inside: NDArray[np.float64],
    outside: NDArray[np.float64],
    name: str,
    *,
    along: NDArray[np.float64] | None = None,
    height: NDArray[np.float64] | None = None,
) -> Zone | None:
    """Compare the void area of two sets of cells; None where one has no cells.

    With `height` the chance is that of lying so high, in groups; what lies in neither
    set, such as the band of a joint at the top, says nothing of it.
    """
    room = float(inside @ placed.cell_mm2), float(outside @ placed.cell_mm2)
    if not min(room) or not len(placed.at):
        return None
    here = float(placed.area @ inside[placed.at])
    there = float(placed.area @ outside[placed.at])
    share, rest = here / room[0], there / room[1]
    if height is not None:
        # A group's height is that of its area in the two sets; it is moved as one.
        # The fourth root of its area keeps one large group from deciding alone. `level`
        # is each group's sum of area times height, (groups,).
        either = inside + outside
        mine = placed.area * either[placed.at]
        group_area = np.bincount(placed.group, mine, len(placed.group_area))
        level = np.bincount(placed.group, mine * height[placed.at], len(group_area))
        if not group_area.any():
            return None
        weight = group_area**0.25
        observed = float(
            weight @ np.divide(level, group_area, where=group_area > 0, out=level)
        ) / float(weight.sum())
        # (simulations, groups) @ (groups,) weights: mean heights of the groups that
        # came to lie in the two sets; where none did, that of all their cells.
        lies = either[placed.simulated_group]
        met = lies @ weight
        usual = np.full(len(met), float(either @ height) / float(either.sum()))
        simulated = np.divide(
            (lies * height[placed.simulated_group]) @ weight,
            met,
            where=met > 0,
            out=usual,
        )
    else:
        weight = np.sqrt(placed.area)  # large voids are few: they would drown the rest
        observed = float(weight @ inside[placed.at])
        simulated = inside[placed.simulated] @ weight
    # The same voids in the same zone add up alike but for rounding: a tie is no find.
    reached = simulated >= observed - _ROUNDING * abs(observed)
    # The face itself is one of the draws: else the chance could come out as 0, and
    # the test would call faces odd more often than it says.
    chance = (1 + int(np.count_nonzero(reached))) / (SIMULATIONS + 1)
    held = placed.at[inside[placed.at] > 0]
    stretch = 1.0
    if along is not None:
        stretch = len(np.unique(along[held])) / len(np.unique(along[inside > 0]))
    return Zone(
        name=name,
        share=share,
        rest_share=rest,
        ratio=share / rest if rest else float("inf"),
        p_value=chance,
        stretch=stretch,
    )


def _joints(grids: Sequence[FaceGrid], placed: _PlacedVoids) -> tuple[Zone, ...]:
    names = list(dict.fromkeys(name for grid in grids for name in grid.joint_names))
    # 1 on cells neither sloped nor beside an insert: these are asked about apart.
    level = 1.0 - np.maximum(_joined(grids, "sloped"), _joined(grids, "by_insert"))
    open_face = level * (_joined(grids, "joint") == 0)
    found = []
    for name in names:
        inside, along = [], []
        for grid in grids:
            # -2 is in no grid: 0 is the open face, -1 a cell near two joints.
            number = (
                grid.joint_names.index(name) + 1 if name in grid.joint_names else -2
            )
            band = grid.on_face & (grid.joint == number)
            inside.append(band[grid.on_face])
            along.append(_tenths(band)[grid.on_face])
        zone = _zone(
            placed,
            level * np.concatenate(inside),
            open_face,
            name,
            along=np.concatenate(along),
        )
        if zone is not None:
            found.append(zone)
    return tuple(sorted(found, key=lambda zone: -zone.ratio))


def _tenths(band: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the tenth of a band, along its longer direction, that a cell is in."""
    tenth = np.zeros(band.shape)
    rows, cols = np.nonzero(band)
    if not len(rows):
        return tenth
    place = np.column_stack([rows, cols]) - [rows.mean(), cols.mean()]
    # The first right singular vector is the direction in which the cells spread
    # most: the joint may run at any angle.
    _, _, axes = np.linalg.svd(place, full_matrices=False)
    along = place @ axes[0]
    span = max(float(np.ptp(along)), 1.0)
    # The far end would begin an eleventh part; `// 1` floors.
    tenth[rows, cols] = (
        np.minimum((along - along.min()) / span * TENTHS, TENTHS - 1) // 1
    )
    return tenth


def _height(grids: Sequence[FaceGrid]) -> NDArray[np.float64] | None:
    parts = [grid.height[grid.on_face] for grid in grids if grid.height is not None]
    return np.concatenate(parts) if len(parts) == len(grids) else None


def _thirds(
    grids: Sequence[FaceGrid], placed: _PlacedVoids
) -> tuple[float, float, float] | None:
    height = _height(grids)
    if height is None:
        return None
    # The very top, height 1, is of the upper third; a third without cells has 0.
    third = np.minimum((height * THIRDS).astype(np.int64), THIRDS - 1)
    room = np.bincount(third, placed.cell_mm2, minlength=THIRDS) / 1e6
    count = np.bincount(third[placed.at], minlength=THIRDS)
    low, middle, high = np.divide(count, room, out=np.zeros(THIRDS), where=room > 0)
    return float(low), float(middle), float(high)


def _top(grids: Sequence[FaceGrid], placed: _PlacedVoids) -> Zone | None:
    """Compare the upper third with the lower two, away from the joints' bands."""
    height = _height(grids)
    if height is None:
        return None
    free = (_joined(grids, "joint") == 0) & (_joined(grids, "sloped") == 0)
    upper = height >= (THIRDS - 1) / THIRDS
    return _zone(
        placed,
        (upper & free).astype(np.float64),
        (~upper & free).astype(np.float64),
        "top third",
        height=height,
    )


def _marked(
    grids: Sequence[FaceGrid], placed: _PlacedVoids, layer: str, name: str
) -> Zone | None:
    inside, free = _joined(grids, layer), _joined(grids, "joint") == 0
    return _zone(placed, inside * free, (1.0 - inside) * free, name)


def _neighbours(
    grids: Sequence[FaceGrid], random: np.random.Generator
) -> tuple[float | None, float | None]:
    """Compare distances to the nearest void with those of voids laid at random."""
    usable = [grid for grid in grids if len(grid.row) >= FEWEST]
    if not usable:
        return None, None
    observed = 0.0
    simulated = np.zeros(NEIGHBOUR_SIMULATIONS)
    for grid in usable:
        count = len(grid.row)
        observed += _mean_distance(np.column_stack([grid.row, grid.col])) * count
        cells = np.column_stack(np.nonzero(grid.on_face)).astype(np.float64)
        for n in range(NEIGHBOUR_SIMULATIONS):
            picked = cells[random.integers(0, len(cells), count)]
            # Voids lie anywhere in their cells. Left on the grid of cells, those laid
            # at random would keep to its own distances, 0 where two share a cell.
            picked = picked + random.uniform(-0.5, 0.5, picked.shape)
            simulated[n] += _mean_distance(picked) * count
    chance = (1 + int(np.count_nonzero(simulated <= observed))) / (
        NEIGHBOUR_SIMULATIONS + 1
    )
    return observed / float(simulated.mean()), chance


def _mean_distance(places: NDArray[np.float64]) -> float:
    # The nearest of each is the void itself, so the second one is taken.
    distance, _ = KDTree(places).query(places, k=2)
    return float(distance[:, 1].mean())


def _patch_joint(grids: Sequence[FaceGrid], patch: NDArray[np.float64]) -> str:
    if not patch.any():
        return ""
    # By the layer's numbers: 0 is no joint, and -1, near two, takes the last name.
    names = np.concatenate(
        [
            np.array(["", *grid.joint_names, ""])[grid.joint[grid.on_face]]
            for grid in grids
        ]
    )
    inside, count = np.unique(names[patch > 0], return_counts=True)
    most = int(np.argmax(count))
    return str(inside[most]) if count[most] > patch.sum() / 2 else ""
