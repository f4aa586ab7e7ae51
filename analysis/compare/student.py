"""Intervals and p of a log ratio by Student's t."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

if TYPE_CHECKING:
    from analysis.compare.gls import Fit


def t_interval(answer: Fit, level: float = 0.95) -> tuple[float, float] | None:
    """Return the interval of the log ratio by Student's t, None if there is none.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> from analysis.compare.gls import fit
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> low, high = t_interval(answer)
    >>> round(low, 3), round(high, 3)
    (-4.234, 0.234)
    """
    if answer.standard_error <= 0:
        return None
    reach = float(stats.t.ppf(0.5 + level / 2, answer.df)) * answer.standard_error
    return answer.log_ratio - reach, answer.log_ratio + reach


def t_p_value(answer: Fit) -> float | None:
    """Return the two-sided p of the log ratio by Student's t.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> from analysis.compare.gls import fit
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> round(t_p_value(answer), 4)
    0.071
    """
    if answer.standard_error <= 0:
        return None
    return 2 * float(
        stats.t.sf(abs(answer.log_ratio) / answer.standard_error, answer.df)
    )


def wide_interval(answer: Fit, *, few: bool) -> tuple[float, float] | None:
    """Return a wide interval of the log ratio for groups with many zeros.

    Zeros hide how small the shares are, and make one level look steadier than it
    is. So both levels get the larger of the two spreads, with Welch's degrees of
    freedom (of the smaller group where `few`), and a 97 % limit. By simulation this
    holds the true ratio at least 94 times in 100; the plain interval does not.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> from analysis.compare.gls import fit
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 0, 0, 0.1, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> wide_interval(answer, few=False)[1] > t_interval(answer)[1]
    True
    """
    first, second = answer.residual[answer.x > 0], answer.residual[answer.x == 0]
    if answer.standard_error <= 0 or min(len(first), len(second)) < 2:  # noqa: PLR2004
        return None
    parts = [float(np.var(side, ddof=1)) / len(side) for side in (first, second)]
    dfs = [len(side) - 1 for side in (first, second)]
    trust = sum(part**2 / df for part, df in zip(parts, dfs, strict=True))
    if trust <= 0:
        return None
    df = min(dfs) if few else max(sum(parts) ** 2 / trust, 1.0)
    scale = answer.standard_error**2 * answer.information
    most = max(part * (df_ + 1) for part, df_ in zip(parts, dfs, strict=True))
    error = answer.standard_error * max(most / scale, 1.0) ** 0.5
    reach = float(stats.t.ppf(0.985, df)) * error
    return answer.log_ratio - reach, answer.log_ratio + reach
