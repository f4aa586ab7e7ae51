"""Student's t that bears unequal spreads, for designs with columns taken out.

The variance is that of MacKinnon and White (J. Econometrics 29, 1985, 305; HC2): each
unit's own residual over what its leverage leaves of it; for two plain groups that is
Welch's. The degrees of freedom are those of Bell and McCaffrey (Survey Methodology 28,
2002, 169).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.compare.design import means
from analysis.distributions import t_sf

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.gls import Fit

SMALL = 1e-9


class Robust(NamedTuple):
    """Standard error and degrees of freedom of the log ratio, and two-sided p."""

    standard_error: float
    df: float
    p_value: float


def _unit_rows(
    answer: Fit, columns: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.bool_]]:
    """Return one weighted row per unit, its cluster, and whether it is a piece."""
    design = answer.design
    mean, _ = means(columns, design.cluster)
    # Rows of unit variance: a pour's mean over its own error, a piece of a mixed pour
    # by its distance from the pour's mean. Plain least squares on them is the fit.
    pour = mean[design.cluster] * np.sqrt(answer.pour_weight)[design.cluster][:, None]
    piece = (columns - mean[design.cluster]) / np.sqrt(answer.piece_variance)
    every = np.where(design.mixed[:, None], piece, pour)
    first = np.zeros(int(design.unit.max()) + 1, dtype=np.int64)
    first[design.unit] = np.arange(len(design))
    return every[first], design.cluster[first], design.mixed[first]


def robust_t(answer: Fit) -> Robust | None:
    """Test the log ratio with spreads that may differ; None where it cannot be.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> from analysis.compare.gls import fit
    >>> x = np.repeat([1.0, 0.0], [4, 6])
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0, 3, 4])
    >>> rows = np.arange(10)
    >>> found = robust_t(fit(lay_out(y, x, rows, np.zeros(10, dtype=np.int64))))
    >>> welch = (np.var(y[:4], ddof=1) / 4 + np.var(y[4:], ddof=1) / 6) ** 0.5
    >>> bool(np.isclose(found.standard_error, welch))
    True
    """
    design = answer.design
    given = np.column_stack([design.y, design.x, design.nuisance])
    rows, cluster, mixed = _unit_rows(answer, given)
    y, columns = rows[:, 0], rows[:, 1:]
    penalty = np.concatenate([[0.0], design.penalty])
    inverse = np.linalg.pinv(
        columns.T @ columns + np.diag(penalty), rcond=1e-10, hermitian=True
    )
    hat = columns @ inverse @ columns.T
    own = (columns @ inverse)[:, 0]  # what each row adds to the estimate
    # Residuals are (C - H) y: C takes off the means of mixed pours, which `_unit_rows`
    # took off before; of single-level pours it is the identity.
    centring = np.eye(len(y))
    if mixed.any():
        same = (cluster[:, None] == cluster) & mixed[:, None] & mixed
        centring -= same / np.maximum(same.sum(axis=1), 1)[:, None]
    left = centring - hat
    keep = np.clip(np.diag(left), SMALL, None)
    residual = y - columns @ (inverse @ (columns.T @ y))
    scaled = own / np.sqrt(keep)
    variance = float(((scaled * residual) ** 2).sum())
    if variance <= 0 or float(own @ own) <= 0:
        return None
    # The variance is a square form in independent errors with the eigenvalues of G,
    # `gram`: Satterthwaite's match of two moments gives (tr G)^2 / tr G^2.
    gram = scaled[:, None] * left * scaled
    df = float(np.trace(gram)) ** 2 / max(float((gram**2).sum()), SMALL**2)
    error = variance**0.5
    p = 2 * float(t_sf(abs(answer.log_ratio) / error, max(df, 1.0)))
    return Robust(error, max(df, 1.0), p)
