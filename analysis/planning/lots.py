"""Lots: which piece gets which level, and in what order forms are filled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.model.plan import TWO, Assignment

if TYPE_CHECKING:
    from collections.abc import Sequence


def deal_inside(
    random: np.random.Generator,
    levels: tuple[str, str],
    forms: Sequence[str | None],
    pieces: int,
    pours: int,
) -> tuple[Assignment, ...]:
    """Deal both levels inside each pour; forms swap levels from pour to pour.

    Examples
    --------
    >>> import numpy as np
    >>> lots = deal_inside(np.random.default_rng(1), ("a", "b"), ("A", "B"), 1, 2)
    >>> lots[0].level != lots[1].level, lots[0].level != lots[2].level
    (True, True)
    """
    uses, lean = np.zeros(len(forms)), np.zeros(len(forms))
    assigned = []
    for pour in range(1, pours + 1):
        lot = random.random(len(forms))
        # The last key rules: least used forms first, by lot among those alike.
        cast = np.lexsort((lot, uses))[: TWO * pieces]
        uses[cast] += 1
        # Who had more of the first level gets the second one now.
        order = cast[np.lexsort((random.random(len(cast)), lean[cast]))]
        first = np.sort(order[:pieces])
        # In all +1 for the first level, -1 for the second.
        lean[order] -= 1
        lean[first] += 2
        filled = random.permutation(len(cast)) + 1
        assigned += [
            Assignment(
                pour=pour,
                piece=place + 1,
                form=forms[form],
                level=levels[0] if form in first else levels[1],
                order=int(filled[place]),
            )
            for place, form in enumerate(np.sort(cast).tolist())
        ]
    return tuple(assigned)


def deal_pours(
    random: np.random.Generator,
    levels: tuple[str, str],
    forms: Sequence[str | None],
    pieces: int,
    pours: int,
) -> tuple[Assignment, ...]:
    """Deal one level to each pour; two pours that follow one another have both.

    Examples
    --------
    >>> import numpy as np
    >>> lots = deal_pours(np.random.default_rng(1), ("a", "b"), ("A", "B"), 1, 2)
    >>> [lot.pour for lot in lots]
    [1, 2]
    """
    assigned = []
    for pour in range(1, pours + 1):
        if pour % TWO:
            pair = random.permutation(TWO)
        filled = random.permutation(pieces) + 1
        assigned += [
            Assignment(
                pour=pour,
                piece=place + 1,
                form=forms[place],
                level=levels[int(pair[(pour + 1) % TWO])],
                order=int(filled[place]),
            )
            for place in range(pieces)
        ]
    return tuple(assigned)
