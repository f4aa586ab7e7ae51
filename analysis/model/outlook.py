"""Values of looking ahead: the next piece, and the form it is cast in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import number, seal_arrays
from analysis.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.notes import Note

ADVICE = ("too_early", "no_sign", "re_seal", "refinish", "retire")


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetBand:
    """A band of void shares that counts as first quality.

    Attributes
    ----------
    low, high : float
        0..1, low below high.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse an empty band."""
        number(self.low, "Lower finish target", low=0, high=1)
        number(self.high, "Upper finish target", low=0, high=1)
        if not self.low < self.high:
            msg = (
                f"The lower finish target {self.low:g} is not below the upper "
                f"{self.high:g}: give the lower one first."
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """Chance that the next piece meets the finish target.

    Attributes
    ----------
    chance, low, high : float or None
        0..1 with its 95 % interval; None with too few pours.
    firsts, firsts_low, firsts_high : float
        Share of pieces within the target so far, with its 95 % interval.
    n_pours, n_pieces : int
        What it rests on.
    limited_by : str
        ``level``, ``pour_to_pour``, ``piece_to_piece``, ``nothing`` or
        ``not_known``: what stands most in the way.
    if_mended : float or None
        Chance if that one thing were put right: the level halved (or moved to the
        best place in a band with a lower end), or that spread gone.
    notes : tuple of Note
        What a reader must know.
    """

    chance: float | None
    low: float | None
    high: float | None
    firsts: float
    firsts_low: float
    firsts_high: float
    n_pours: int
    n_pieces: int
    limited_by: str
    if_mended: float | None
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Void share against form use.

    Attributes
    ----------
    n_castings : int
        Castings it rests on.
    ratio_per_10_uses, ratio_low, ratio_high : float
        Factor on the share over ten uses (1 is no change), 95 % interval.
    p_value : float
        Against no change with use, for a rise; by permutation.
    shape : str
        What fits best: ``none``, ``steady_rise``, ``rise_after`` or ``step_at``.
    change_at_use : float or None
        Where the rise starts or the step lies.
    """

    n_castings: int
    ratio_per_10_uses: float
    ratio_low: float
    ratio_high: float
    p_value: float
    shape: str
    change_at_use: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FormWear:
    """What the castings of a form, or of a form type, say about its wear.

    Attributes
    ----------
    name : str
        Form or form type.
    of_type : bool
        Whether it is a form type: its forms are fitted with a slope in common.
    uses : float
        Highest form use seen.
    advice : str
        One of `ADVICE`.
    evidence : Note
        Why.
    face, joint_band : Trend or None
        Open face (the whole face where no joint was marked); joint band. None with
        too few castings.
    remaining_low, remaining, remaining_high : float or None
        Castings until the fitted finish leaves the target, 95 % interval; None
        where the data do not carry it, `remaining_high` None is 'no end in sight'.
    use, share : ndarray of float64, (castings,)
        What was fitted: form use, and void share (geometric mean of the casting).
    joint_use, joint_share : ndarray of float64, (joint castings,)
        The same of the joint band; empty where no joint was marked.
    notes : tuple of Note
        What a reader must know.
    """

    name: str
    of_type: bool
    uses: float
    advice: str
    evidence: Note
    face: Trend | None
    joint_band: Trend | None
    remaining_low: float | None
    remaining: float | None
    remaining_high: float | None
    use: NDArray[np.float64]
    share: NDArray[np.float64]
    joint_use: NDArray[np.float64]
    joint_share: NDArray[np.float64]
    notes: tuple[Note, ...]

    def __post_init__(self) -> None:
        """Seal the columns."""
        seal_arrays(self)
