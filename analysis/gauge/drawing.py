"""The order of a study, drawn by lot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.model.gauge import Cell, StudyPlan

if TYPE_CHECKING:
    from collections.abc import Sequence


def draw_study(
    kind: str,
    items: Sequence[int],
    people: Sequence[str],
    *,
    lights: Sequence[str] = (),
    repeats: int = 1,
    seed: int,
) -> StudyPlan:
    """Draw who measures what when.

    Each person goes through all items in an order of the own; the second time comes
    after the first of all items, so that nobody remembers. Lights come in blocks, in
    an order drawn for each person: nobody moves a lamp sixty times.

    Parameters
    ----------
    kind : str
        ``"again"`` or ``"shop"``.
    items : sequence of int
    people : sequence of str
    lights : sequence of str
        The usual one first; none for ``"again"``.
    repeats : int
    seed : int

    Raises
    ------
    InputError
        Too few of anything, or one named twice.

    Examples
    --------
    >>> plan = draw_study("again", [4, 9], ["one", "two"], repeats=2, seed=1)
    >>> len(plan.order), {cell.turn for cell in plan.order[:4]}
    (8, {0})
    """
    rng = np.random.default_rng(seed)
    order: list[Cell] = []
    names = tuple(" ".join(who.split()) for who in people)
    for turn in range(repeats):
        for at in rng.permutation(len(names)):
            blocks = [lights[k] for k in rng.permutation(len(lights))] or [""]
            order += [
                Cell(item=int(items[k]), who=names[at], light=light, turn=turn)
                for light in blocks
                for k in rng.permutation(len(items))
            ]
    return StudyPlan(
        kind=kind,
        items=tuple(int(item) for item in items),
        people=names,
        lights=tuple(lights),
        repeats=repeats,
        seed=seed,
        order=tuple(order),
    )
