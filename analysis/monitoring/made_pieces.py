"""Small made-up tables for the examples in this room."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.model.monitoring import PieceColumns

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike


def pieces(
    shares: ArrayLike,
    *,
    pours: Sequence[str] | None = None,
    **columns: ArrayLike,
) -> PieceColumns:
    """Pieces cast a week apart, of one kind, with everything else not known.

    Parameters
    ----------
    shares : array_like, (n,)
        Void shares, 0..1.
    pours : sequence of str, optional
        Pour of each; None gives each its own, P0001 and so on.
    **columns : array_like
        Other columns of `PieceColumns`.

    Returns
    -------
    PieceColumns
        One row per share.

    Examples
    --------
    >>> pieces([0.01, 0.02]).pour.tolist()
    ['P0001', 'P0002']
    """
    share = np.asarray(shares, dtype=np.float64)
    n = len(share)
    names = np.array(pours or [f"P{i:04d}" for i in range(1, n + 1)])
    _, place = np.unique(names, return_inverse=True)
    text = np.full(n, "", dtype="U40")
    unknown = np.full(n, np.nan)
    values: dict[str, ArrayLike] = {
        "pour": names,
        "form": text,
        "form_type": text,
        "product_line": text,
        "stage": text,
        "joint_sealing": text,
        "method_version": text,
        "cast_on": np.datetime64("2024-01-01") + 7 * place,
        "form_use": unknown,
        "void_share": share,
        "joint_band_share": unknown,
        "open_face_share": unknown,
        "face_area_mm2": unknown,
        "void_count": unknown,
        "smallest_counted_mm": unknown,
    }
    arrays = {name: np.asarray(x) for name, x in (values | columns).items()}
    return PieceColumns(**arrays)  # type: ignore[arg-type]
