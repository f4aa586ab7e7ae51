"""Pieces that stand for their level, to be looked at side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Container

    from analysis.model.comparison import Comparison, PairResult


def typical_pieces(
    comparison: Comparison,
    pair: PairResult | None = None,
    *,
    among: Container[str] | None = None,
) -> dict[str, str]:
    r"""Return for each of two levels the piece nearest to its geometric mean.

    Parameters
    ----------
    comparison : Comparison
        The answer.
    pair : PairResult, optional
        Two of its levels, by default the first two.
    among : container of str, optional
        Names of the pieces that may be taken, such as those with a photo.

    Returns
    -------
    dict of str to str
        Level and piece; a level without such a piece is left out.

    Examples
    --------
    >>> from analysis.model.comparison import CompareOptions
    >>> from analysis.compare.compare import compare
    >>> from analysis.pieces.table import read_table
    >>> rows = "1,A,x,0.1\n2,A,x,0.3\n3,A,x,0.9\n4,B,y,0.7\n"
    >>> table = read_table("piece,pour,mix,void_area_percent\n" + rows)
    >>> typical_pieces(compare(table, CompareOptions(by="mix")))
    {'x': '2', 'y': '4'}
    """
    shown, found = comparison.pieces, {}
    for group in (pair or comparison.head).groups:
        rows = np.flatnonzero((shown.level == group.name) & shown.used)
        if among is not None:
            rows = rows[[name in among for name in shown.piece[rows].tolist()]]
        if not len(rows) or group.geometric_mean is None:
            continue
        least = max(group.geometric_mean / 100, 1e-9)
        away = np.log(np.maximum(shown.value[rows], least) / group.geometric_mean)
        found[group.name] = str(shown.piece[rows[np.argmin(np.abs(away))]])
    return found
