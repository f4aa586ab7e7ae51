"""Whether a factor matters, and whether the answer turns round inside it."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.confounding import candidates
from analysis.compare.design import codes, means
from analysis.distributions import f_sf
from analysis.model.notes import note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import CompareOptions, PieceTable
    from analysis.model.notes import Note

MATTERS_BELOW = 0.1
MOST_LEVELS = 12
SLIGHT = log(1.05)


def matters(table: PieceTable, factor: str, y: NDArray[np.float64]) -> bool:
    """Tell whether pours differ by a factor, blind to the compared levels.

    One-way analysis of variance on the means of each pour at each level of the
    factor.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},{'pot' if n % 2 else 'bench'}" for n in range(8)]
    >>> table = read_table(chr(10).join(["piece,pour,form_type", *rows]))
    >>> y = np.array([0, 5, 0.1, 5.2, 0.2, 5.1, 0.3, 5.0])
    >>> matters(table, "form_type", y), matters(table, "form_type", np.sort(y) * 0)
    (True, False)
    """
    names, level = table.levels(factor)
    levels = len(names)
    if (names == "").any() or not 1 < levels <= MOST_LEVELS:
        return False
    # Means per pour and level: pieces of a pour are not independent.
    cell = codes(level, table.levels("pour").code)
    both, _ = means(np.column_stack([y, level]), cell)
    mean, home = both[:, 0], np.rint(both[:, 1])
    groups = [mean[home == name] for name in range(levels)]
    if len(mean) <= levels or float(np.ptp(mean)) < 1e-9:  # noqa: PLR2004
        return False
    inside = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    whole = float(((mean - mean.mean()) ** 2).sum())
    if inside <= 1e-12 * whole:
        return True
    rest = len(mean) - levels  # analysis of variance in one way
    f = (whole - inside) / (levels - 1) / (inside / rest)
    return bool(f_sf(f, levels - 1, rest) < MATTERS_BELOW)


def log_ratio(
    pour: NDArray[np.int64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    stratum: NDArray[np.int64],
) -> float | None:
    """Return the log ratio within strata, each pour weighing the same in its own.

    A quick look, not the estimate of the comparison: pours' means are compared
    inside each stratum, strata weigh by the pours they set against each other.

    Examples
    --------
    >>> x, y = np.array([1.0, 0, 0]), np.array([0, 1.0, 2.0])
    >>> log_ratio(np.arange(3), x, y, np.zeros(3, dtype=np.int64))
    -1.5
    """
    cell = codes(stratum, x.astype(np.int64), pour)
    mean, _ = means(np.column_stack([y, x, stratum]), cell)
    side, home = mean[:, 1] > 0, np.rint(mean[:, 2]).astype(np.int64)
    strata = int(stratum.max(initial=0)) + 1
    n = [np.bincount(home[rows], minlength=strata) for rows in (side, ~side)]
    total = [np.bincount(home[rows], mean[rows, 0], strata) for rows in (side, ~side)]
    both = (n[0] > 0) & (n[1] > 0)
    if not both.any():
        return None
    gap = total[0][both] / n[0][both] - total[1][both] / n[1][both]
    # The precision of a difference of two means of n0 and n1 pours alike in spread.
    weight = n[0][both] * n[1][both] / (n[0][both] + n[1][both])
    return float(weight @ gap / weight.sum())


def contradictions(
    table: PieceTable,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    options: CompareOptions,
    within: tuple[str, ...],
) -> tuple[Note, ...]:
    """Warn where the answer taken together turns round within a factor.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.pieces.table import read_table
    >>> rows = [("pot", 1, 1.0)] + [("pot", 0, 1.5)] * 4
    >>> rows += [("bench", 1, 5.0)] * 4 + [("bench", 0, 5.5)]
    >>> lines = [f"{n},{n},{kind}" for n, (kind, _, _) in enumerate(rows)]
    >>> table = read_table(chr(10).join(["piece,pour,line", *lines]))
    >>> x = np.array([row[1] for row in rows], dtype=float)
    >>> y = np.array([row[2] for row in rows])
    >>> (found,) = contradictions(table, x, y, CompareOptions(by="mix"), ())
    >>> found.code, found.values[0]
    ('turns_round', ('name', 'line'))
    """
    pour = table.levels("pour").code
    together = log_ratio(pour, x, y, np.zeros(len(y), dtype=np.int64))
    if together is None:
        return ()
    found = []
    for factor in dict.fromkeys((*within, *candidates(table, options.by))):
        stratum = table.levels(factor).code
        if not 0 < stratum.max(initial=0) < MOST_LEVELS:
            continue
        inside = log_ratio(pour, x, y, stratum)
        if inside is None or min(abs(inside), abs(together)) < SLIGHT:
            continue
        if inside * together < 0:
            ratios = {"over_all": exp(together), "inside": exp(inside)}
            found.append(note("turns_round", name=factor, **ratios))
    return tuple(found)
