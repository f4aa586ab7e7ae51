"""Intervals and p of a log ratio by Student's t."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.distributions import t_ppf, t_sf

if TYPE_CHECKING:
    from analysis.compare.gls import Fit


def t_interval(answer: Fit) -> tuple[float, float] | None:
    """Return the 95 % interval of the log ratio by Student's t, None if there is none.

    Examples
    --------
    >>> import numpy as np
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
    reach = float(t_ppf(0.975, answer.df)) * answer.standard_error
    return answer.log_ratio - reach, answer.log_ratio + reach


def t_p_value(answer: Fit) -> float | None:
    """Return the two-sided p of the log ratio by Student's t.

    Examples
    --------
    >>> import numpy as np
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
    return 2 * float(t_sf(abs(answer.log_ratio) / answer.standard_error, answer.df))
