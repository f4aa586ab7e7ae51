"""Like with like: what may be pooled, compared and followed together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

# One of these only; a share is another thing at another stage or by another method.
ONE_ONLY = ("stage", "method_version")
LIGHT = "light"  # compared inside each
SIZE = "smallest_counted_mm"  # and inside classes of these
SMALLEST_ALIKE = 1.5  # smallest counted sizes this near are one
AS_STRUCK = ("as struck", "as_struck", "as-struck")


def is_as_struck(stage: str) -> bool:
    """Tell whether a stage is the first, however it is written.

    Examples
    --------
    >>> is_as_struck("As struck"), is_as_struck("filled")
    (True, False)
    """
    return stage.casefold() in AS_STRUCK


def first_choice(values: NDArray[np.str_], among: Iterable[str]) -> str:
    """Return the value to keep to: as struck, else the one with most rows.

    Parameters
    ----------
    values : ndarray of str, (n,)
        A column whose values are not mixed.
    among : iterable of str
        Those that can answer the question; one or more.

    Examples
    --------
    >>> first_choice(np.array(["filled", "filled", "as struck"]), ["as struck",
    ...                                                            "filled"])
    'as struck'
    """
    return max(among, key=lambda one: (is_as_struck(one), int((values == one).sum())))


def size_class(smallest: NDArray[np.float64]) -> NDArray[np.int64]:
    """Sort smallest counted sizes into numbered classes; 0 is unknown.

    Examples
    --------
    >>> size_class(np.array([0.5, 0.6, 2.0, np.nan])).tolist()
    [1, 1, 2, 0]
    """
    classes = np.zeros(len(smallest), dtype=np.int64)
    # Held against the first of its class, not the one before: or a chain of sizes, each
    # like the next, would be one class from end to end.
    start, number = 0.0, 0
    for size in np.unique(smallest[~np.isnan(smallest)]).tolist():
        if number == 0 or size > SMALLEST_ALIKE * start:
            start, number = size, number + 1
        classes[smallest == size] = number
    return classes


def like_columns(table: PieceTable, by: str) -> dict[str, NDArray[np.str_]]:
    r"""Return what must be alike and is not: light and the smallest counted size.

    Parameters
    ----------
    table : PieceTable
        One row per piece.
    by : str
        What is asked about, which is not to be alike.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,light\n1,A,lamp\n2,A,sky\n")
    >>> list(like_columns(table, "mix"))
    ['light']
    """
    columns: dict[str, NDArray[np.str_]] = {}
    if LIGHT in table.text and by != LIGHT and len(table.levels(LIGHT).names) > 1:
        columns[LIGHT] = table.text[LIGHT]
    sizes = table.number.get(SIZE)
    if sizes is not None and by != SIZE:
        classes = size_class(sizes)
        if len(classes) and np.ptp(classes):
            columns[SIZE] = classes.astype(np.str_)
    return columns


def common_size(sizes: Iterable[float | None]) -> float | None:
    """Return the size from which a set is counted alike: its largest, mm.

    Examples
    --------
    >>> common_size([0.5, None, 2.0]), common_size([None])
    (2.0, None)
    """
    return max((size for size in sizes if size is not None), default=None)
