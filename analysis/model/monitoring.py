"""Values of following the finish over pours."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import one_of, seal_arrays, sealed
from analysis.errors import TableError
from analysis.vocabulary import SEALINGS

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analysis.model.notes import Note

LIKE_WITH_LIKE = ("product_line", "stage", "joint_sealing")
STATUSES = ("too_early", "steady", "one_pour", "drifting", "over")


def _seal_columns(value: object) -> int:
    """Seal every array of a value and return their one length."""
    seal_arrays(value)
    columns = [getattr(value, item.name) for item in fields(value)]  # type: ignore[arg-type]
    lengths = {one.shape[-1] for one in columns if isinstance(one, np.ndarray)}
    if len(lengths) != 1:
        msg = (
            f"The columns must have one length, {sorted(lengths)} were given: "
            "give every column a row per piece."
        )
        raise TableError(msg)
    return int(lengths.pop())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceColumns:
    """Pieces to be followed, as columns of one length n. A row is a piece.

    Attributes
    ----------
    pour, form, form_type, product_line, stage : ndarray of str, (n,)
        Names; empty where not known. Every piece has a pour.
    joint_sealing : ndarray of str, (n,)
        As recorded: ``none`` or ``open`` for open joints, ``mixed``, else what
        they were sealed with; empty where not known.
    method_version : ndarray of str, (n,)
        Version of the measuring steps; empty where not known.
    cast_on : ndarray of datetime64[D], (n,)
        Day of casting, a calendar day without a zone; NaT where not known.
    form_use : ndarray of float64, (n,)
        The n-th casting in that form, 1 or more; NaN where not known.
    void_share : ndarray of float64, (n,)
        0..1, never NaN.
    joint_band_share, open_face_share : ndarray of float64, (n,)
        0..1; NaN where not known.
    face_area_mm2, void_count, smallest_counted_mm : ndarray of float64, (n,)
        NaN where not known.
    settings : tuple of (str, ndarray of str)
        Further settings by column, each (n,); empty text where not known.
    amounts : tuple of (str, ndarray of float64)
        Further settings that are numbers, by column (seconds of each way of
        vibrating apart), each (n,); NaN where not known.
    """

    pour: NDArray[np.str_]
    form: NDArray[np.str_]
    form_type: NDArray[np.str_]
    product_line: NDArray[np.str_]
    stage: NDArray[np.str_]
    joint_sealing: NDArray[np.str_]
    method_version: NDArray[np.str_]
    cast_on: NDArray[np.datetime64]
    form_use: NDArray[np.float64]
    void_share: NDArray[np.float64]
    joint_band_share: NDArray[np.float64]
    open_face_share: NDArray[np.float64]
    face_area_mm2: NDArray[np.float64]
    void_count: NDArray[np.float64]
    smallest_counted_mm: NDArray[np.float64]
    settings: tuple[tuple[str, NDArray[np.str_]], ...] = ()
    amounts: tuple[tuple[str, NDArray[np.float64]], ...] = ()

    def __post_init__(self) -> None:
        """Seal the columns; refuse ragged ones and shares out of bounds."""
        length = _seal_columns(self)
        for group in ("settings", "amounts"):
            named = tuple((name, sealed(x)) for name, x in getattr(self, group))
            object.__setattr__(self, group, named)
            for name, column in named:
                if column.shape != (length,):
                    msg = (
                        f"Column {name} has shape {column.shape}, the others have "
                        f"{length} rows: give it a row per piece."
                    )
                    raise TableError(msg)
        if not ((self.void_share >= 0) & (self.void_share <= 1)).all():
            msg = (
                "A void share outside 0 to 1 was given: leave out the pieces "
                "without a measurement and give shares, not percent."
            )
            raise TableError(msg)
        if (self.pour == "").any():
            msg = "A piece without a pour was given: name the pour of every piece."
            raise TableError(msg)

    def __len__(self) -> int:
        """Count the pieces."""
        return len(self.pour)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> PieceColumns:
        """Return the chosen rows."""
        columns = {
            f.name: getattr(self, f.name)[rows]
            for f in fields(self)
            if f.name not in {"settings", "amounts"}
        }
        return PieceColumns(
            **columns,
            settings=tuple((name, x[rows]) for name, x in self.settings),
            amounts=tuple((name, x[rows]) for name, x in self.amounts),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A deliberate change after which pours are judged anew.

    Attributes
    ----------
    from_day : date
        First day of casting after the change.
    what : str
        In the maker's words, e.g. ``"new mix"``.
    """

    from_day: date
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackOptions:
    """What to follow and how.

    Attributes
    ----------
    form, form_type, product_line, stage, sealing : str or None
        Keep only these pieces; sealing is one of `SEALINGS`.
    together : tuple of str
        Names out of `LIKE_WITH_LIKE` that may be mixed because the user asked.
    baseline : tuple of str or None
        Pours the user froze as the baseline; None takes the first stable ones.
    changes : tuple of Change
        Deliberate changes: the baseline starts anew at each.
    rules : tuple of str or None
        Names of the rules to use; None takes those on by default.
    """

    form: str | None = None
    form_type: str | None = None
    product_line: str | None = None
    stage: str | None = None
    sealing: str | None = None
    together: tuple[str, ...] = ()
    baseline: tuple[str, ...] | None = None
    changes: tuple[Change, ...] = ()
    rules: tuple[str, ...] | None = None

    def __post_init__(self) -> None:
        """Refuse words that are not known."""
        for name in self.together:
            one_of(name, "What may be mixed", LIKE_WITH_LIKE)
        if self.sealing is not None:
            one_of(self.sealing, "Joint sealing", SEALINGS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A run rule.

    Attributes
    ----------
    name : str
        What it sees, in words.
    source : str
        Where it was published.
    """

    name: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PourPoints:
    """Pours in order of casting, as columns of one length n.

    Attributes
    ----------
    pour : ndarray of str, (n,)
        Names.
    cast_on : ndarray of datetime64[D], (n,)
        NaT where not known.
    n_pieces : ndarray of int64, (n,)
        Pieces behind each value.
    era : ndarray of int64, (n,)
        0, 1, ...: a new one starts at each deliberate change.
    in_baseline : ndarray of bool, (n,)
        Whether the pour is one the limits come from.
    value, centre, lower, upper : ndarray of float64, (n,)
        Share of the pour (geometric mean of its pieces), centre line and limits,
        0..1; NaN where there are no limits yet.
    jump, jump_upper : ndarray of float64, (n,)
        Moving range of the natural log from the pour before, and its limit.
    smoothed : ndarray of float64, (n,)
        Exponentially weighted mean of the pours so far, 0..1.
    bugholes_per_m2, bugholes_centre, bugholes_lower, bugholes_upper : ndarray
        u chart of the counts, float64, (n,); NaN where counts are not known.
    signals : ndarray of bool, (rules, n)
        Which rule is broken at which pour.
    """

    pour: NDArray[np.str_]
    cast_on: NDArray[np.datetime64]
    n_pieces: NDArray[np.int64]
    era: NDArray[np.int64]
    in_baseline: NDArray[np.bool_]
    value: NDArray[np.float64]
    centre: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    jump: NDArray[np.float64]
    jump_upper: NDArray[np.float64]
    smoothed: NDArray[np.float64]
    bugholes_per_m2: NDArray[np.float64]
    bugholes_centre: NDArray[np.float64]
    bugholes_lower: NDArray[np.float64]
    bugholes_upper: NDArray[np.float64]
    signals: NDArray[np.bool_]

    def __post_init__(self) -> None:
        """Seal the columns."""
        _seal_columns(self)

    def __len__(self) -> int:
        """Count the pours."""
        return len(self.pour)


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where the baseline starts anew.

    Attributes
    ----------
    at : int
        Index of the first point after it.
    reasons : tuple of Note
        Why; 1 or more.
    """

    at: int
    reasons: tuple[Note, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch of the calendar without a pour.

    Attributes
    ----------
    at : int
        Index of the first point after it.
    days : int
        From the pour before to this one.
    """

    at: int
    days: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """The finish followed pour by pour.

    Attributes
    ----------
    of : tuple of (str, str)
        What the charted pieces have in common: name and value.
    points : PourPoints
        The pours.
    rules : tuple of Rule
        Rules in use, in the order of the rows of ``points.signals``.
    breaks : tuple of Break
        Where the baseline starts anew.
    gaps : tuple of Gap
        Long stretches without a pour.
    false_alarm_rate : float or None
        Share of steady pours after the baseline these rules would mark by chance,
        from simulation; None where there are no limits or it was not simulated.
    spread_factor : float or None
        How many times wider than Poisson the limits of the bughole counts are, 1
        or more; None without counts.
    notes : tuple of Note
        What a reader must know.
    piece_rows : ndarray of int64, (pieces,)
        Rows of the pieces charted, in the table given.
    pour_of_piece : ndarray of int64, (pieces,)
        Index of the point of each of these rows.
    """

    of: tuple[tuple[str, str], ...]
    points: PourPoints
    rules: tuple[Rule, ...]
    breaks: tuple[Break, ...]
    gaps: tuple[Gap, ...]
    false_alarm_rate: float | None
    spread_factor: float | None
    notes: tuple[Note, ...]
    piece_rows: NDArray[np.int64]
    pour_of_piece: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartStatus:
    """Where the newest pours stand against their baseline.

    Attributes
    ----------
    state : str
        One of `STATUSES`; ``over`` is a signal that newer pours do not bear out.
    n_pours : int
        Pours since the last break.
    at : int or None
        Index of the latest point with a signal.
    more_voids : bool or None
        Whether it lies above the centre line.
    times : float or None
        Its share (of a drift: the smoothed share) over the centre line.
    """

    state: str
    n_pours: int
    at: int | None = None
    more_voids: bool | None = None
    times: float | None = None

    def __post_init__(self) -> None:
        """Refuse a state that is not known."""
        one_of(self.state, "State of the chart", STATUSES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A setting that is not what it was before.

    Attributes
    ----------
    setting : str
        Its column; `analysis.monitoring.note_words.setting_words` names it.
    level : str or None
        The most unlike level of a named setting; None for a number.
    now, before : float
        At the signal and in the pours before: pours with that level; of a number the
        median.
    of_now, of_before : int
        Pours at the signal and before it.
    p_value : float
        How often a difference this large comes up when pours are shuffled; a rank
        for looking, no proof of a cause.
    """

    setting: str
    level: str | None
    now: float
    before: float
    of_now: int
    of_before: int
    p_value: float
