"""Where faces hold few voids and those of one level are larger: shares, not logarithms.

The logarithm of a share that rests on few voids lies low, the lower the smaller the
face: two levels alike in truth differ then by their faces alone. A share itself does
not lean: its mean is the same for every size of face.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.compare.design import codes, means

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.rows import Chosen

SHARES = frozenset(
    {
        "void_area_percent",
        "joint_band_percent",
        "open_face_percent",
        "honeycomb_percent",
        "voids_per_m2",
    }
)
FEW = 60.0  # voids of the smaller units, up to which logarithms lean
SOME_CLEAN = 0.05
LEANS_BELOW = 0.15


def areas_of(chosen: Chosen) -> NDArray[np.float64]:
    r"""Return the face area of each piece, 1 where none is known.

    Examples
    --------
    >>> from analysis.compare.rows import Chosen
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,face_area_mm2\n1,A,5000\n2,A,\n")
    >>> areas_of(Chosen(table=table, value=np.ones(2), notes=())).tolist()
    [5000.0, 5000.0]
    """
    area = chosen.table.number.get("face_area_mm2")
    if area is None or np.isnan(area).all():
        return np.ones(len(chosen.value))
    return np.where(np.isnan(area), np.nanmedian(area), area)


def pooled_shares(
    chosen: Chosen,
    outcome: str,
    x: NDArray[np.float64],
    cluster: NDArray[np.int64],
) -> NDArray[np.float64] | None:
    r"""Return shares over their mean where logarithms would lean, None elsewhere.

    Pieces of a cluster with one level are pooled by area.

    Examples
    --------
    >>> from analysis.compare.rows import Chosen
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},{(1 + n % 2) * 9000},{n % 3}" for n in range(12)]
    >>> head = "piece,pour,face_area_mm2,void_count"
    >>> table = read_table(chr(10).join([head, *rows]))
    >>> value = table.number["void_count"] / table.number["face_area_mm2"]
    >>> pieces = Chosen(table=table, value=value, notes=())
    >>> x = np.arange(12) % 2 * 1.0
    >>> found = pooled_shares(pieces, "void_area_percent", x, np.arange(12))
    >>> round(float(found[1]), 2)
    0.75
    """
    if outcome not in SHARES or not len(x) or not 0 < x.mean() < 1:
        return None
    area = areas_of(chosen)
    mean = float(chosen.value @ area / area.sum())
    side, _ = means(x, cluster)
    mixed = ((side > 0) & (side < 1))[cluster]
    # Pieces of a mixed cluster stand alone; pieces of another are one unit.
    unit = codes(cluster, np.where(mixed, np.arange(1, len(x) + 1), 0))
    if mean <= 0 or not _few(chosen, unit) or not _sized(area, x, unit):
        return None
    total = np.bincount(unit, area)
    return np.asarray((np.bincount(unit, chosen.value * area) / total)[unit] / mean)


def _few(chosen: Chosen, unit: NDArray[np.int64]) -> bool:
    """Tell whether units hold few voids, or some hold none."""
    amount = np.bincount(unit, chosen.value)
    if float((amount <= 0).mean()) > SOME_CLEAN:
        return True
    count = chosen.table.number.get("void_count")
    if count is None or np.isnan(count).any():
        return False
    return float(np.quantile(np.bincount(unit, count), 0.25)) < FEW


def _sized(
    area: NDArray[np.float64], x: NDArray[np.float64], unit: NDArray[np.int64]
) -> bool:
    """Tell whether the faces of one level are larger than those of the other."""
    size, _ = means(np.column_stack([np.log(area), x]), unit)
    if float(np.ptp(size[:, 0])) < 1e-6 or float(np.ptp(size[:, 1])) == 0:  # noqa: PLR2004
        return False
    first, second = (size[size[:, 1] == level, 0] for level in (1.0, 0.0))
    if min(len(first), len(second)) < 2:  # noqa: PLR2004
        return True
    if max(float(np.ptp(first)), float(np.ptp(second))) < 1e-6:  # noqa: PLR2004
        return True  # each level has faces of one size
    # From their moments: faces of one level may differ in the last digit alone.
    moments = [n for one in (first, second) for n in _moments(one)]
    welch = scipy.stats.ttest_ind_from_stats(*moments, equal_var=False)
    return bool(welch.pvalue < LEANS_BELOW)


def _moments(values: NDArray[np.float64]) -> tuple[float, float, int]:
    return float(values.mean()), float(values.std(ddof=1)), len(values)
