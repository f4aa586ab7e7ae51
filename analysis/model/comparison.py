"""Trials: tables of pieces and what comparing them says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from analysis.checks import frozen, number, seal_arrays, sealed
from analysis.errors import InputError
from analysis.model.word_columns import WordColumns

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.model.notes import Note
    from analysis.model.word_columns import Levels

Verdict = Literal[
    "lower", "higher", "no_clear_difference", "not_enough_evidence", "cannot_separate"
]
AliasKind = Literal["parted", "range", "together", "before", "after", "nearly"]
Dealt = Literal["by_lot", "not_by_lot", "unknown"]
OUTCOMES = (
    "void_area_percent",
    "voids_per_m2",
    "largest_void_mm",
    "joint_band_percent",
    "open_face_percent",
    "honeycomb_percent",
    "sand_length_mm",
    "fin_length_mm",
    "arris_loss_mm2_per_m",
    "repair_minutes",
)
LEAST_POURS = 4  # per level, where a pour holds one level only
LEAST_MIXED_POURS = 3  # where pours hold both levels


class _Taken(Mapping[str, "NDArray[np.float64]"]):
    """Some rows of columns of numbers, each copied when it is first looked at."""

    __slots__ = ("_columns", "_known", "_rows")

    def __init__(
        self, columns: Mapping[str, NDArray[np.float64]], rows: NDArray[np.int64]
    ) -> None:
        self._columns, self._rows = columns, rows
        self._known: dict[str, NDArray[np.float64]] = {}

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        if name not in self._known:
            self._known[name] = frozen(self._columns[name][self._rows])
        return self._known[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)

    def __contains__(self, name: object) -> bool:
        return name in self._columns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceTable:
    """Rows of one piece (or one photo of a piece) each, as columns of length n.

    Attributes
    ----------
    text : mapping of str to ndarray of str, (n,)
        Every column as it was written, stripped; unknown is ``""``.
    number : mapping of str to ndarray of float64, (n,)
        The columns that hold numbers; unknown is NaN. Shares are in percent, as
        in the table.
    line : ndarray of int64, (n,)
        Where each row stood in the file; 1 is the heading.
    """

    text: Mapping[str, NDArray[np.str_]]
    number: Mapping[str, NDArray[np.float64]]
    line: NDArray[np.int64]

    def __post_init__(self) -> None:
        """Seal the columns."""
        if not isinstance(self.text, WordColumns):
            text = {key: sealed(value) for key, value in self.text.items()}
            object.__setattr__(self, "text", WordColumns(text))
        if not isinstance(self.number, _Taken):  # sealed as it is copied
            columns = {key: sealed(value) for key, value in self.number.items()}
            object.__setattr__(self, "number", MappingProxyType(columns))
        object.__setattr__(self, "line", sealed(self.line))

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.line)

    def levels(self, name: str) -> Levels:
        """Return a column by the words it holds, in order; found once for a table."""
        assert isinstance(self.text, WordColumns)  # noqa: S101 - made so above
        return self.text.levels(name)

    def taken(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> PieceTable:
        """Return some of the rows as a table of their own."""
        at = np.arange(len(self))[rows]
        return PieceTable(
            text=WordColumns(self.text, at),
            number=_Taken(self.number, at),
            line=frozen(self.line[at]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareOptions:
    """What to compare, and how.

    Attributes
    ----------
    by : str
        The factor whose levels are compared; ``joints_sealed`` is derived.
    levels : tuple of str
        Two or more levels, the first is the one the verdict is about; empty
        takes all that occur.
    within : tuple of str
        Factors whose levels are never mixed: compared inside each, then joined.
    adjust_for : tuple of str or None
        Factors and covariates whose effect is taken out; None chooses them as
        `analysis.compare.alongside` does.
    outcome : str
        One of `OUTCOMES`.
    ratio : float
        Difference the needed numbers are for, as a ratio of geometric means.
    power : float
        Chance of finding it, 0..1.
    seed : int
        Of the Monte Carlo permutations.
    few_units : bool
        A verdict may rest on one or two groups whose units are alike in all else, as
        the joints of a piece are; the number of ways to deal them out decides.
    """

    by: str
    levels: tuple[str, ...] = ()
    within: tuple[str, ...] = ()
    adjust_for: tuple[str, ...] | None = None
    outcome: str = "void_area_percent"
    ratio: float = 0.5
    power: float = 0.8
    seed: int = 20_011
    few_units: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be asked."""
        number(self.ratio, "Ratio", above=0, high=1000)
        if abs(np.log(self.ratio)) < np.log(1.02):
            msg = (
                f"Ratio must differ from 1 by at least 2 percent, {self.ratio:g} was "
                f"given: take for example 0.5 for half the void area."
            )
            raise InputError(msg)
        number(self.power, "Power", low=0.5, high=0.99)
        if self.outcome not in OUTCOMES:
            msg = (
                f"Outcome must be one of {', '.join(OUTCOMES)}; "
                f"{self.outcome!r} was given."
            )
            raise InputError(msg)
        if len(self.levels) == 1 or len(set(self.levels)) < len(self.levels):
            msg = (
                f"Levels must be two different ones or more, "
                f"{', '.join(self.levels)} was given: name each once."
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSummary:
    """One level of the factor: what its figure rests on.

    Attributes
    ----------
    name : str
        The level.
    n_pieces, n_pours : int
        Counts behind the comparison.
    geometric_mean : float or None
        Of the outcome, in its own unit (percent for shares); None with no piece.
    """

    name: str
    n_pieces: int
    n_pours: int
    geometric_mean: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """A factor that went along with the compared one.

    Attributes
    ----------
    factor : str
        Its name.
    kind : str
        ``parted``: no level of it met both; ``range``: its values did not overlap;
        ``together``: with others; ``before``, ``after``: in time; ``nearly``.
    names : tuple of str
        The compared levels, as they stand in a sentence.
    sides : tuple of tuple of str
        Its levels with the first and the second level, where it is ``parted``.
    spans : tuple of tuple of float
        Its least, median and largest value with either level, where it is ``range``.
    along : tuple of str
        All of those that went along ``together``.
    left : float
        Share of what the pours say that is left without it, where it is ``nearly``.
    """

    factor: str
    names: tuple[str, str]
    kind: AliasKind = "parted"
    sides: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    spans: tuple[tuple[float, float, float], ...] = ()
    along: tuple[str, ...] = ()
    left: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StratumEstimate:
    """The ratio inside one stratum alone, without a verdict.

    Attributes
    ----------
    name : str
        The stratum.
    ratio : float
        Geometric mean of the first level over the second.
    n_pours : tuple of int
        Pours of the first and the second level.
    """

    name: str
    ratio: float
    n_pours: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairResult:
    """Two levels compared.

    Attributes
    ----------
    unit : str
        What the test counts as one: ``pour``, ``piece within pour``,
        ``pour and piece within pour``, ``form`` or ``day``.
    levels : tuple of str
        The first is the one the verdict is about.
    ratio, ratio_low, ratio_high : float or None
        Area-weighted mean of the first over the second level, with its 95 % interval.
    p_value : float or None
        Two-sided, adjusted (Holm) where there are several pairs.
    method : Note
        How ratio, interval and p were got.
    groups : tuple of GroupSummary
        In the order of `levels`.
    verdict : str
        About the first level.
    aliases : tuple of Alias
        Factors that cannot be told from the compared one.
    strata : tuple of StratumEstimate
        Where the comparison was made inside strata.
    pieces_needed, pours_needed : int or None
        Per level, in all, to find the ratio that was asked for.
    why : tuple of Note
        Why there is no other verdict.
    rests_on : tuple of Note
        What was left out, compared apart or adjusted.
    misleading : tuple of Note
        What could mislead.
    needed : Note or None
        What it would take to find the ratio that was asked for.
    geometric_ratio : float or None
        Ratio of the geometric means, something small standing for zeros.
    adjusted_for : tuple of str
        What was taken out; ``cast_on`` is drift over time.
    verdict_unadjusted : str
        The verdict with nothing taken out but the units' own order.
    dealt : str
        ``by_lot``, ``not_by_lot`` or ``unknown``: it changes words, no verdict.
    """

    unit: str
    levels: tuple[str, str]
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    p_value: float | None
    method: Note
    groups: tuple[GroupSummary, GroupSummary]
    verdict: Verdict
    aliases: tuple[Alias, ...] = ()
    strata: tuple[StratumEstimate, ...] = ()
    pieces_needed: int | None = None
    pours_needed: int | None = None
    why: tuple[Note, ...] = ()
    rests_on: tuple[Note, ...] = ()
    misleading: tuple[Note, ...] = ()
    needed: Note | None = None
    geometric_ratio: float | None = None
    adjusted_for: tuple[str, ...] = ()
    verdict_unadjusted: Verdict = "not_enough_evidence"
    dealt: Dealt = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedPieces:
    """The pieces behind a comparison, for drawing: columns of one length n.

    Attributes
    ----------
    piece, pour, level, stratum : ndarray of str, (n,)
        Where each piece belongs.
    value : ndarray of float64, (n,)
        The outcome in its own unit, zeros as zeros.
    used : ndarray of bool, (n,)
        False where it had nothing like it to be compared with.
    """

    piece: NDArray[np.str_]
    pour: NDArray[np.str_]
    level: NDArray[np.str_]
    stratum: NDArray[np.str_]
    value: NDArray[np.float64]
    used: NDArray[np.bool_]

    def __post_init__(self) -> None:
        """Seal the columns."""
        seal_arrays(self)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """The answer to one question about a factor.

    Attributes
    ----------
    by, outcome : str
        What was compared, on what.
    levels : tuple of str
        All levels compared.
    head : PairResult
        The first level against the second.
    pairs : tuple of PairResult
        Every pair; the same one as `head` where there are two levels.
    pieces : ComparedPieces
        What it rests on.
    notes : tuple of Note
        What was left out of all pairs, and why.
    """

    by: str
    outcome: str
    levels: tuple[str, ...]
    head: PairResult
    pairs: tuple[PairResult, ...]
    pieces: ComparedPieces
    notes: tuple[Note, ...] = ()
