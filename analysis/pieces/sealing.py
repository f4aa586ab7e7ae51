"""Whether a piece's joints were sealed: one meaning everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.pieces.columns import each_word
from analysis.vocabulary import MIXED, NOT_APPLICABLE, SEALINGS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SEALED, OPEN, _, NO_JOINTS, NOT_RECORDED = SEALINGS
# How people write that a joint was left open.
NOT_SEALED = ("none", "open", "no", "unsealed")
# Of the derived column: a form without joints has neither.
JOINTS_SEALED = "joints_sealed"
_DERIVED = {SEALED: "yes", OPEN: "no", MIXED: MIXED, NO_JOINTS: "", NOT_RECORDED: ""}


def sealing_of(kind: str) -> str:
    """Tell from the kind of sealing whether the joints were sealed.

    Parameters
    ----------
    kind : str
        As recorded; empty where not known.

    Returns
    -------
    str
        One of `SEALINGS`.

    Examples
    --------
    >>> [sealing_of(kind) for kind in ("tape", "None", "mixed", "not applicable", "")]
    ['sealed', 'open', 'mixed', 'no joints', 'not recorded']
    """
    word = " ".join(kind.casefold().split())
    if not word:
        return NOT_RECORDED
    if word in {NOT_APPLICABLE, MIXED}:
        return MIXED if word == MIXED else NO_JOINTS
    return OPEN if word in NOT_SEALED else SEALED


def sealings_of(kinds: NDArray[np.str_]) -> NDArray[np.str_]:
    """Tell it of a column.

    Examples
    --------
    >>> import numpy as np
    >>> sealings_of(np.array(["none", "silicone", "", "mixed"])).tolist()
    ['open', 'sealed', 'not recorded', 'mixed']
    """
    return each_word(kinds, sealing_of)


def joints_sealed(kind: str) -> str:
    """Return the derived column's word for a kind of sealing.

    Returns
    -------
    str
        ``yes``, ``no``, ``mixed``, or ``""`` where the kind is not known or the form
        has no joints.

    Examples
    --------
    >>> [joints_sealed(kind) for kind in ("tape", "none", "mixed", "not applicable")]
    ['yes', 'no', 'mixed', '']
    """
    return _DERIVED[sealing_of(kind)]


def joints_sealed_of(kinds: NDArray[np.str_]) -> NDArray[np.str_]:
    """Return the derived column of a column of kinds.

    Examples
    --------
    >>> import numpy as np
    >>> joints_sealed_of(np.array(["tape", ""])).tolist()
    ['yes', '']
    """
    return each_word(kinds, joints_sealed)
