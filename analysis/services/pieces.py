"""What stands for a piece: its readings, and the one figure they give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.pieces.figures import pooled_share
from analysis.pieces.standing import standing_readings, stands_for
from analysis.storage.piece_table import brought_shares
from analysis.storage.reading_lines import list_readings

if TYPE_CHECKING:
    from analysis.model.log_views import ReadingLine
    from analysis.services.log import Log


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFigure:
    """A piece's void share and what it rests on.

    Attributes
    ----------
    share : float
        0..1; photos of the piece pooled by area.
    lines : tuple of ReadingLine
        The readings that stand for it, latest first; empty where the figure came with
        a table.
    """

    share: float
    lines: tuple[ReadingLine, ...] = ()


def standing_lines(log: Log, piece_id: int | None) -> tuple[ReadingLine, ...]:
    """Return the readings that stand for a piece, latest first.

    As the pieces are pooled for comparing: see `analysis.pieces.standing`.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     standing_lines(open_log(folder), 1)
    ()
    """
    return stands_for(list_readings(log, piece_id=piece_id or 0))


def lines_to_show(log: Log, piece_id: int | None) -> tuple[ReadingLine, ...]:
    """Return all readings of a piece: those that stand for it first, then the latest.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lines_to_show(open_log(folder), 1)
    ()
    """
    lines = list_readings(log, piece_id=piece_id or 0)
    first = stands_for(lines)
    return (*first, *(line for line in lines if line not in first))


def figures_of_pieces(log: Log) -> dict[int, PieceFigure]:
    """Return each piece's figure, measured or brought in with a table, by its key.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     figures_of_pieces(open_log(folder))
    {}
    """
    found = {
        piece_id: PieceFigure(share=share)
        for piece_id, share in brought_shares(log).items()
    }
    for piece_id, lines in standing_readings(list_readings(log)).items():
        share = pooled_share(lines)
        if share is not None:
            found[piece_id] = PieceFigure(share=share, lines=lines)
    return found


def figure_of_piece(log: Log, piece_id: int | None) -> PieceFigure | None:
    """Return a piece's figure, None where there is none.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     figure_of_piece(open_log(folder), 1) is None
    True
    """
    lines = standing_lines(log, piece_id)
    share = pooled_share(lines)
    if share is not None:
        return PieceFigure(share=share, lines=lines)
    brought = brought_shares(log).get(piece_id or 0)
    return None if brought is None else PieceFigure(share=brought)
