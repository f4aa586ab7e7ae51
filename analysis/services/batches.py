"""Following the finish over pours, and forms over their uses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import NotInLogError
from analysis.model.log import Pour
from analysis.model.monitoring import Change, TrackOptions
from analysis.model.workshop import Form
from analysis.monitoring.baseline import FEWEST_POURS
from analysis.monitoring.charts import track
from analysis.monitoring.intake import take_in
from analysis.monitoring.output import bugholes_out, pour_means, thinned
from analysis.monitoring.status import chart_status, track_sentence
from analysis.pieces.sealing import sealings_of as sealings_of_kinds
from analysis.services.tables import table_from_log
from analysis.storage.castings import list_castings
from analysis.storage.records import list_all
from analysis.storage.stamp import stamp

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.batch_marks import BatchMark
    from analysis.model.comparison import PieceTable
    from analysis.model.log_views import Casting
    from analysis.model.monitoring import ChartStatus, PieceColumns, Track
    from analysis.services.log import Log

__all__ = [
    "Batches",
    "batches",
    "castings_at",
    "form_names",
    "line_names",
    "lines_of",
    "measured_pieces",
    "pieces_of_log",
    "sealings_of",
    "stages_of",
    "stamp",
]

AIR = "air_c"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batches:
    """What the batches page draws.

    Attributes
    ----------
    track : Track
        The chart.
    status : ChartStatus
        Its answer.
    sentence : str
        The answer in words.
    drawn : ndarray of int64
        Points to draw: every signal is among them.
    bugholes_out : ndarray of bool, (points,)
        Where the bugholes per m2 lie beyond their limits.
    air_c : ndarray of float64, (points,)
        Mean air temperature of each pour, degrees C; NaN where not known.
    """

    track: Track
    status: ChartStatus
    sentence: str
    drawn: NDArray[np.int64]
    bugholes_out: NDArray[np.bool_]
    air_c: NDArray[np.float64]


def measured_pieces(table: PieceTable) -> PieceColumns | None:
    r"""Return the measured pieces of a table, None where there is none.

    Examples
    --------
    >>> from analysis.services.tables import table_from_csv
    >>> table = table_from_csv("piece,pour,void_area_percent\n1,A,0.4\n")
    >>> len(measured_pieces(table))
    1
    """
    shares = table.number.get("void_area_percent")
    if shares is None or np.isnan(shares).all():
        return None
    return take_in(table).pieces


def pieces_of_log(log: Log) -> PieceColumns | None:
    """Return the measured pieces of a log, None where there is none."""
    return measured_pieces(table_from_log(log))


def batches(
    pieces: PieceColumns,
    marked: tuple[BatchMark, ...] = (),
    *,
    form: str | None = None,
    product_line: str | None = None,
    stage: str | None = None,
    sealing: str | None = None,
    rules: tuple[str, ...] | None = None,
    most: int = 600,
) -> Batches:
    """Follow pieces pour by pour.

    Parameters
    ----------
    pieces : PieceColumns
        From `measured_pieces`.
    marked : tuple of BatchMark
        From `analysis.services.batch_marks.marks`, for the same form and product line.
    form, product_line, stage, sealing : str, optional
        Follow these only; sealing is one of `SEALINGS`. Unlike stages and sealings are
        never mixed: by default those with most pours are followed.
    rules : tuple of str, optional
        Names of run rules to judge by; by default those on from the start.
    most : int
        Points to draw besides signals, breaks and gaps.

    Returns
    -------
    Batches
        Chart, answer and what to draw.

    Raises
    ------
    InputError
        No piece is left.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> batches(pieces([0.01, 0.02])).sentence
    'Too early to tell: 2 pours so far, 8 are needed.'
    """
    changes = tuple(
        Change(from_day=mark.from_day, what=mark.note)
        for mark in marked
        if mark.kind == "change"
    )
    options = TrackOptions(
        form=form,
        product_line=product_line,
        stage=stage,
        sealing=sealing,
        changes=changes,
        rules=rules,
    )
    result = track(pieces, options)
    frozen = _frozen(result, marked)
    if frozen is not None:
        result = track(pieces, replace(options, baseline=frozen))
    out = bugholes_out(result)
    return Batches(
        track=result,
        status=chart_status(result),
        sentence=track_sentence(result),
        drawn=np.union1d(thinned(result, most), np.flatnonzero(out)),
        bugholes_out=out,
        air_c=pour_means(pieces, result, AIR),
    )


def _frozen(result: Track, marked: tuple[BatchMark, ...]) -> tuple[str, ...] | None:
    """Name the pours the user froze, the newest mark of each stretch between breaks.

    None where too few of them are left on the chart.
    """
    points = result.points
    chosen = np.zeros(len(points), dtype=bool)
    for mark in marked[::-1]:
        if mark.kind != "baseline":
            continue
        first, last = np.datetime64(mark.from_day), np.datetime64(mark.to_day)
        inside = (points.cast_on >= first) & (points.cast_on <= last)
        inside &= ~np.isin(points.era, points.era[chosen])
        for era in np.unique(points.era[inside]):
            of_era = inside & (points.era == era)
            if int(of_era.sum()) >= FEWEST_POURS:
                chosen |= of_era
    return tuple(points.pour[chosen].tolist()) if chosen.any() else None


def line_names(pieces: PieceColumns) -> tuple[str, ...]:
    """Return the product lines, the one with most pieces first.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> line_names(pieces([0.1] * 3, product_line=["a", "b", "b"]))
    ('b', 'a')
    """
    return _by_number(pieces.product_line)


def lines_of(table: PieceTable, wanted: TrackOptions) -> tuple[str, ...]:
    r"""Return the product lines to follow each by itself; none where there is one.

    Examples
    --------
    >>> from analysis.services.tables import table_from_csv
    >>> rows = "1,A,0.4,pot\n2,A,0.3,bench\n3,B,0.3,bench\n"
    >>> table = table_from_csv("piece,pour,void_area_percent,product_line\n" + rows)
    >>> lines_of(table, TrackOptions())
    ('bench', 'pot')
    """
    pieces = measured_pieces(table)
    if wanted.product_line is not None or wanted.form is not None or pieces is None:
        return ()
    names = tuple(name for name in line_names(pieces) if name)
    return names if len(names) > 1 else ()


def form_names(pieces: PieceColumns, product_line: str | None) -> tuple[str, ...]:
    """Return the forms of a product line, the one with most pieces first.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> form_names(pieces([0.1] * 3, form=["a", "b", "b"]), None)
    ('b', 'a')
    """
    if product_line is None:
        return _by_number(pieces.form)
    return _by_number(pieces.form[pieces.product_line == product_line])


def stages_of(pieces: PieceColumns) -> tuple[str, ...]:
    """Return the stages, the one with most pieces first.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> stages_of(pieces([0.1] * 3, stage=["ground", "as struck", "ground"]))
    ('ground', 'as struck')
    """
    return _by_number(pieces.stage)


def sealings_of(pieces: PieceColumns) -> tuple[str, ...]:
    """Return how joints were sealed, out of `SEALINGS`, the commonest first.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> sealings_of(pieces([0.1] * 3, joint_sealing=["none", "tape", "silicone"]))
    ('sealed', 'open')
    """
    return _by_number(sealings_of_kinds(pieces.joint_sealing))


def _by_number(column: NDArray[np.str_]) -> tuple[str, ...]:
    names, counts = np.unique(column[column != ""], return_counts=True)
    return tuple(names[np.argsort(-counts, kind="stable")].tolist())


def castings_at(
    log: Log, pieces: PieceColumns, result: Track, at: int
) -> tuple[Casting, ...]:
    """Return the pieces of a pour that came out of the forms its point stands for.

    Parameters
    ----------
    log : Log
        The log.
    pieces : PieceColumns
        The table the track was made from.
    result : Track
        From `batches`.
    at : int
        The point.

    Returns
    -------
    tuple of Casting
        In the order they were added.

    Raises
    ------
    NotInLogError
        There is no such pour any more.
    """
    rows = result.piece_rows[result.pour_of_piece == at]
    names = set(pieces.form[rows].tolist())
    forms = {one.id for one in list_all(log, Form) if one.name in names}
    forms |= {None} if "" in names else set()
    pour = str(result.points.pour[at])
    for found in list_all(log, Pour, name=pour):
        cast = list_castings(log, pour_id=found.id)[::-1]
        return tuple(one for one in cast if one.piece.form_id in forms)
    msg = f"Pour {pour} was removed from the log: choose another."
    raise NotInLogError(msg)
