"""Forms over their uses."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from analysis.monitoring.wear import form_wear, refinished_at

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.monitoring import PieceColumns
    from analysis.model.outlook import FinishTarget, FormWear


def wear(
    pieces: PieceColumns,
    *,
    targets: dict[str, FinishTarget] | None = None,
    refinished: dict[str, date] | None = None,
    by_type: bool = False,
) -> dict[str, FormWear]:
    """Judge the wear of every form, or of every form type of several forms.

    Parameters
    ----------
    pieces : PieceColumns
        From `measured_pieces`.
    targets : dict of str to FinishTarget, optional
        Product line and its finish target.
    refinished : dict of str to date, optional
        Form and the first day of casting after it was refinished.
    by_type : bool
        Judge form types: a slope in common, so that few castings of each form do.

    Returns
    -------
    dict of str to FormWear
        By form or form type, the product line with most castings; empty where no
        piece has both a form and a form use.

    Examples
    --------
    >>> from analysis.monitoring.example import pieces
    >>> table = pieces([0.01] * 3, form=["a"] * 3, form_use=[1, 2, 3])
    >>> wear(table)["a"].advice
    'too_early'
    """
    known = (pieces.form != "") & np.isfinite(pieces.form_use)
    if by_type:
        known &= np.isin(pieces.form_type, _types_of_several_forms(pieces))
    at = refinished_at(pieces, refinished or {})
    found: dict[str, FormWear] = {}
    for line in np.unique(pieces.product_line[known]):
        rows = known & (pieces.product_line == line)
        target = (targets or {}).get(str(line))
        for one in form_wear(
            pieces.take(rows), by_type=by_type, target=target, refinished=at
        ):
            before = found.get(one.name)
            if before is None or len(one.use) > len(before.use):
                found[one.name] = one
    return found


def _types_of_several_forms(pieces: PieceColumns) -> list[str]:
    pairs = set(zip(pieces.form_type.tolist(), pieces.form.tolist(), strict=True))
    count = Counter(kind for kind, form in pairs if kind and form)
    return [kind for kind, forms in count.items() if forms > 1]
