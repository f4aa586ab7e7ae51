"""The library of pieces: searched, sorted, shown a page at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.checks import number
from analysis.imaging.thumbnail import thumbnail
from analysis.model.library import LibraryCard, LibraryPage
from analysis.pieces.target import interval_of, line_of, place_to
from analysis.storage.library import faces_of, library_rows, neighbours
from analysis.storage.packing import unpack_face
from analysis.storage.photo_store import photo_bytes
from analysis.storage.thumbnails import keep_thumbnail, kept_thumbnail

if TYPE_CHECKING:
    from typing import Any

    from analysis.model.library import LibraryAsk
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.services.log import Log
    from analysis.storage.library import LibraryRows

__all__ = [
    "PAGE",
    "faces_of",
    "kept_picture",
    "library_page",
    "neighbours",
    "small_picture",
]

PAGE = 24
_LARGEST_PAGE = 200


def library_page(
    log: Log, ask: LibraryAsk, *, start: int = 0, size: int = PAGE
) -> LibraryPage:
    """Return a page of the pieces that meet what was asked.

    Parameters
    ----------
    log : Log
        The log.
    ask : LibraryAsk
        Which pieces, in which order.
    start : int
        Place of the first from 0; behind the last, the page that holds the last.
    size : int
        Cards on a page, 1 to 200.

    Raises
    ------
    InputError
        The size is out of range.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.model.library import LibraryAsk
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     library_page(open_log(folder), LibraryAsk()).count
    0
    """
    number(size, "Cards on a page", low=1, high=_LARGEST_PAGE)
    start = max(0, start)
    rows = library_rows(log, ask, start=start, size=size)
    if start and not rows.castings:
        start = max(0, (rows.count - 1) // size * size)
        rows = library_rows(log, ask, start=start, size=size)
    cards = tuple(_card(one, rows) for one in rows.castings)
    return LibraryPage(cards=cards, count=rows.count, start=start)


def _card(casting: Casting, rows: LibraryRows) -> LibraryCard:
    key = casting.piece.id or 0
    form = rows.forms.get(casting.piece.form_id or 0)
    lines, every = rows.standing.get(key, ()), rows.lines.get(key, ())
    target = rows.targets.get(line_of(casting.piece, form) or 0)
    brought = rows.brought.get(key)
    found = interval_of(lines)
    share = brought if found is None else found[0]
    return LibraryCard(
        casting=casting,
        form=None if form is None else form.name,
        lines=lines,
        share=share,
        share_low=None if found is None else found[1],
        share_high=None if found is None else found[2],
        target=target,
        place=place_to(target, lines, brought),
        shown=next(iter((*lines, *every)), None),
    )


def kept_picture(
    log: Log, line: ReadingLine, face: dict[str, Any] | None
) -> bytes | None:
    """Return the small picture of a reading's photo, None where it is yet to be made.

    Parameters
    ----------
    log : Log
        The log.
    line : ReadingLine
        Whose photo.
    face : dict or None
        From `faces_of`.
    """
    return kept_thumbnail(log, line.photo_sha256, face)


def small_picture(log: Log, line: ReadingLine, face: dict[str, Any] | None) -> bytes:
    """Return the small picture of a reading's photo, made and kept if need be.

    Raises
    ------
    StruckfaceError
        The photo is gone or cannot be read.
    """
    kept = kept_picture(log, line, face)
    if kept is not None:
        return kept
    data = photo_bytes(log, line.photo_sha256)
    outlined = None if face is None else unpack_face(face)
    made = thumbnail(data, line.photo_name, outlined)
    keep_thumbnail(log, line.photo_sha256, face, made)
    return made
