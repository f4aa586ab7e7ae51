"""Whether a factor matters, and whether the answer turns round inside it."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from analysis.trials.confounding import candidates, dealt_to
from analysis.trials.design import label_codes, lay_out
from analysis.trials.gls import fit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.trials import CompareOptions, PieceTable

MATTERS_BELOW = 0.1
MOST_LEVELS = 12
SLIGHT = log(1.05)


def matters(table: PieceTable, factor: str, y: NDArray[np.float64]) -> bool:
    """Tell whether pours differ by a factor, blind to the compared levels.

    One-way analysis of variance on the means of each pour at each level of the
    factor.

    Examples
    --------
    >>> from analysis.trials.table import read_table
    >>> rows = [f"{n},{n},{'pot' if n % 2 else 'bench'}" for n in range(8)]
    >>> table = read_table(chr(10).join(["piece,pour,form_type", *rows]))
    >>> y = np.array([0, 5, 0.1, 5.2, 0.2, 5.1, 0.3, 5.0])
    >>> matters(table, "form_type", y), matters(table, "form_type", np.sort(y) * 0)
    (True, False)
    """
    cells = table.text[factor]
    levels = np.unique(cells)
    if not 1 < len(levels) <= MOST_LEVELS or (cells == "").any():
        return False
    keys = np.column_stack([cells, table.text["pour"]])
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    inverse = inverse.reshape(-1)
    mean = np.bincount(inverse, y) / np.bincount(inverse)
    groups = [mean[cells[first] == level] for level in levels]
    if len(mean) <= len(levels) or float(np.ptp(mean)) < 1e-9:  # noqa: PLR2004
        return False
    inside = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    if inside <= 1e-12 * float(((mean - mean.mean()) ** 2).sum()):
        return True
    return bool(stats.f_oneway(*groups).pvalue < MATTERS_BELOW)


def log_ratio(
    table: PieceTable,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    factor: str | None,
) -> float | None:
    r"""Return the log ratio taken together, or within the levels of a factor.

    Examples
    --------
    >>> from analysis.trials.table import read_table
    >>> table = read_table("piece,pour\n1,A\n2,B\n3,C\n")
    >>> round(log_ratio(table, np.array([1.0, 0, 0]), np.array([0, 1.0, 2]), None), 9)
    -1.5
    """
    stratum = np.zeros(len(y), dtype=np.int64)
    if factor is not None:
        stratum = label_codes(table.text[factor])
    answer = fit(lay_out(y, x, label_codes(table.text["pour"]), stratum))
    return None if answer is None else answer.log_ratio


def contradictions(
    table: PieceTable,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    options: CompareOptions,
    within: tuple[str, ...],
) -> tuple[str, ...]:
    """Warn where the answer taken together turns round within a factor.

    Examples
    --------
    >>> from analysis.model.trials import CompareOptions
    >>> from analysis.trials.table import read_table
    >>> rows = [("pot", 1, 1.0)] + [("pot", 0, 1.5)] * 4
    >>> rows += [("bench", 1, 5.0)] * 4 + [("bench", 0, 5.5)]
    >>> lines = [f"{n},{n},{kind}" for n, (kind, _, _) in enumerate(rows)]
    >>> table = read_table(chr(10).join(["piece,pour,line", *lines]))
    >>> x = np.array([row[1] for row in rows], dtype=float)
    >>> y = np.array([row[2] for row in rows])
    >>> notes = contradictions(table, x, y, CompareOptions(by="mix"), ())
    >>> notes[0].split(":")[0]
    'Beware of line'
    """
    together = log_ratio(table, x, y, None)
    if together is None:
        return ()
    found = []
    for factor in dict.fromkeys((*within, *candidates(table, options.by))):
        levels = len(np.unique(table.text[factor]))
        if not 1 < levels <= MOST_LEVELS or dealt_to(table, factor, x) is not None:
            continue
        inside = log_ratio(table, x, y, factor)
        if inside is None or min(abs(inside), abs(together)) < SLIGHT:
            continue
        if inside * together < 0:
            found.append(
                f"Beware of {factor}: taken together the ratio is "
                f"{exp(together):.2f}, within its levels it is {exp(inside):.2f}."
            )
    return tuple(found)
