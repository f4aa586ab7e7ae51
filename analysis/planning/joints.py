"""Joints of one piece as what a lot is drawn for: the fewest pieces that answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from analysis.compare.power import power_of_blocks
from analysis.model.plan import TWO, Assignment

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from analysis.model.plan import OwnedForm

LEAST_JOINTS = 4
MOST_PIECES = 6
# Of log shares between the bands of one piece's joints, places among them; own
# judgement until a log gives it: pieces of one pour are supposed to differ by 0.35.
SUPPOSED_BETWEEN_JOINTS = 0.5


class JointPlan(NamedTuple):
    """How many pieces, joints of each level in a piece, and the chance of a verdict."""

    pieces: int
    joints_per_level: int
    chance: float
    forms: tuple[OwnedForm, ...]


def plan_joints(
    forms: Sequence[OwnedForm], ratio: float, power: float
) -> JointPlan | None:
    """Return the fewest pieces whose joints answer, None where joints are too few.

    Parameters
    ----------
    forms : sequence of OwnedForm
        Of one type.
    ratio, power : float
        Difference to be found, and the chance of finding it.

    Examples
    --------
    >>> from analysis.model.plan import OwnedForm
    >>> eight = OwnedForm(name="A", joints=tuple("abcdefgh"))
    >>> plan_joints([eight], 0.2, 0.8)[:2]
    (1, 4)
    >>> plan_joints([OwnedForm(name="A", joints=("left",))], 0.2, 0.8) is None
    True
    """
    jointed = tuple(form for form in forms if len(form.joints) >= LEAST_JOINTS)
    if not jointed:
        return None
    each = min(len(form.joints) for form in jointed) // TWO
    for pieces in range(1, MOST_PIECES + 1):
        chance = power_of_blocks(pieces, each, SUPPOSED_BETWEEN_JOINTS, ratio)
        if chance >= power:
            return JointPlan(pieces, each, chance, jointed)
    return None


def deal_joints(
    random: np.random.Generator, levels: tuple[str, str], plan: JointPlan
) -> tuple[Assignment, ...]:
    """Draw half of the joints of each piece for each level; a form swaps next time.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.model.plan import OwnedForm
    >>> plan = JointPlan(2, 2, 0.8, (OwnedForm(name="A", joints=tuple("abcd")),))
    >>> lots = deal_joints(np.random.default_rng(1), ("tape", "none"), plan)
    >>> len(lots), sorted(one.level for one in lots[:4])
    (8, ['none', 'none', 'tape', 'tape'])
    >>> all(a.level != b.level for a, b in zip(lots[:4], lots[4:], strict=True))
    True
    """
    dealt: list[Assignment] = []
    before: dict[str, list[str]] = {}
    for piece in range(plan.pieces):
        form = plan.forms[piece % len(plan.forms)]
        turned = before.pop(form.name, None)
        if turned is None:
            half = len(form.joints) // TWO
            drawn = [levels[0]] * half + [levels[1]] * (len(form.joints) - half)
            own = [drawn[n] for n in random.permutation(len(drawn)).tolist()]
            before[form.name] = own
        else:
            own = [levels[1] if level == levels[0] else levels[0] for level in turned]
        dealt += [
            Assignment(
                pour=piece + 1,
                piece=1,
                form=form.name,
                level=level,
                order=place,
                joint=joint,
            )
            for place, (joint, level) in enumerate(
                zip(form.joints, own, strict=True), 1
            )
        ]
    return tuple(dealt)
