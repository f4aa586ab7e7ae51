"""What a workshop looks at first: today's pours, what waits, what is out of target."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from analysis.model.log import Pour
from analysis.model.waiting import CHECK, FAILED, GIVEN, READY
from analysis.services.plans import kept_plans
from analysis.storage.castings import list_castings
from analysis.storage.library import places_since
from analysis.storage.reading_lines import lines_of_pieces
from analysis.storage.records import list_all
from analysis.storage.waiting import list_waiting

if TYPE_CHECKING:
    from analysis.services.log import Log
    from analysis.services.plans import KeptPlan

LATELY_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class PourToday:
    """A pour of today, how many pieces it has and how many of them were measured."""

    pour: Pour
    pieces: int
    measured: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """What is to be seen first.

    Attributes
    ----------
    empty : bool
        No pour is logged and no photo waits.
    pours : tuple of PourToday
        Cast today, latest first.
    to_check, to_measure, failed : int
        Photos that wait for a person, for the machine, and those with trouble.
    lately : datetime.date or None
        Pieces cast since this day are counted as lately: 30 days up to the newest
        pour; None without a pour.
    lately_measured : int
        Those of them that have a figure and a target.
    above, below : int
        Those outside their target.
    trials : tuple of KeptPlan
        Kept plans with a pour still to be cast.
    """

    empty: bool
    pours: tuple[PourToday, ...]
    to_check: int
    to_measure: int
    failed: int
    lately: date | None
    lately_measured: int
    above: int
    below: int
    trials: tuple[KeptPlan, ...]


def overview(log: Log, today: date) -> Overview:
    """Return what a workshop looks at first.

    Parameters
    ----------
    log : Log
        The log.
    today : datetime.date
        The workshop's day.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     overview(open_log(folder), date(2026, 3, 31)).empty
    True
    """
    pours = list_all(log, Pour)
    states = Counter(one.state for one in list_waiting(log))
    newest = max((one.cast_on for one in pours), default=None)
    # A log from before years were checked may hold the first day there is.
    lately = newest and date.fromordinal(max(newest.toordinal() - LATELY_DAYS, 1))
    places = Counter() if lately is None else places_since(log, lately)
    figured = ("inside", "doubtful", "above", "below")
    return Overview(
        empty=not pours and not states,
        pours=tuple(_today(log, one) for one in pours if one.cast_on == today),
        to_check=states[CHECK],
        to_measure=states[GIVEN] + states[READY],
        failed=states[FAILED],
        lately=lately,
        lately_measured=sum(places[one] for one in figured),
        above=places["above"],
        below=places["below"],
        trials=tuple(one for one in kept_plans(log) if len(one.cast) < one.plan.pours),
    )


def _today(log: Log, pour: Pour) -> PourToday:
    keys = [one.piece.id or 0 for one in list_castings(log, pour_id=pour.id)]
    measured = {line.piece_id for line in lines_of_pieces(log, keys)}
    return PourToday(pour=pour, pieces=len(keys), measured=len(measured))
