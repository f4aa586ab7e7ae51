"""Which piece a photo most likely shows: names filled in, so that saving is one tap."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from analysis.model.log import Piece, Pour
from analysis.services import records
from analysis.services.log import list_readings, pours

if TYPE_CHECKING:
    from datetime import date

    from analysis.services.log import Log

# Struck and photographed later than this, a piece is no longer the one at hand.
_LATELY = timedelta(days=14)
_POURS_LOOKED_AT = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedPiece:
    """A piece to save a reading with; the person may change all of it.

    Attributes
    ----------
    piece_id : int or None
        A piece of the log; None proposes a new one.
    piece_name, pour_name : str
        Of the new piece and its pour; empty where the log has them.
    pour_id, form_id : int or None
        The new piece's; None where its pour is new, its form not known.
    """

    piece_id: int | None = None
    piece_name: str = ""
    pour_id: int | None = None
    pour_name: str = ""
    form_id: int | None = None


def proposed_piece(
    log: Log, *, sha256: str = "", today: date | None = None
) -> ProposedPiece:
    """Propose the piece a photo shows.

    The one it was saved with before; else the first piece cast lately that has no
    reading; else a new one: the next number, today's pour, the form cast last.

    Parameters
    ----------
    log : Log
    sha256 : str
        Of the photo.
    today : date, optional
        The local day, if it is another than now.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     found = proposed_piece(open_log(folder))
    >>> found.piece_name, found.pour_name, found.form_id
    ('1', '1', None)
    """
    day = today or records.today()
    if sha256:
        for line in list_readings(log, sha256=sha256):
            return ProposedPiece(piece_id=line.piece_id)
    known = pours(log)
    lately = [one for one in known if day - _LATELY <= one.cast_on <= day]
    for pour in lately[:_POURS_LOOKED_AT]:
        for casting in records.list_castings(log, pour_id=pour.id)[::-1]:
            piece_id = casting.piece.id or 0
            if not list_readings(log, piece_id=piece_id):
                return ProposedPiece(piece_id=piece_id)
    name = records.next_names(log, Piece)[0]
    form_id = _last_form(log, known)
    if known and known[0].cast_on == day:
        return ProposedPiece(piece_name=name, pour_id=known[0].id, form_id=form_id)
    return ProposedPiece(
        piece_name=name,
        pour_name=records.next_names(log, Pour)[0],
        form_id=form_id,
    )


def _last_form(log: Log, known: tuple[Pour, ...]) -> int | None:
    """Return the form cast last, None where that is not known."""
    for pour in known[:_POURS_LOOKED_AT]:
        for casting in records.list_castings(log, pour_id=pour.id):
            return casting.piece.form_id
    return None
