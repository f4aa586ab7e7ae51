"""What a pour being logged holds, and how pieces come into it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.log import Piece, Pour
from analysis.services import records
from analysis.services.entry import from_texts, to_texts
from ui.widgets.entry import begin

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.log_views import Saved
    from analysis.services.entry import Texts
    from analysis.services.log import Log
    from ui.widgets.entry import Entry

TOPIC = "pour"
_MARK = "mark"
_COUNTED = "pieces so far"


def begin_like_last(log: Log) -> Entry:
    """Begin a pour with the pieces of the last one, made the same way."""
    found = records.pour_like_last(log)
    if found is None:
        return begin_empty(log)
    pour, pieces = found
    entry = _begin(pour)
    for piece in pieces:
        _put(entry, to_texts(piece))
    return entry


def begin_with(log: Log, form_id: int) -> Entry:
    """Begin a pour with one piece made as last time in its form."""
    name = records.next_names(log, Piece)[0]
    texts = to_texts(records.like_last(log, form_id, name=name))
    entry = begin_empty(log)
    _put(entry, texts)
    return entry


def begin_empty(log: Log) -> Entry:
    """Begin a pour with no piece; it goes on from the last one's mix and crew."""
    found = records.pour_like_last(log)
    name = records.next_names(log, Pour)[0]
    return _begin(found[0] if found else Pour(name=name, cast_on=records.today()))


def begin_ready(pour: Pour, pieces: Iterable[Piece], *, token: str) -> Entry:
    """Begin a pour that is laid out already, to be saved with this token."""
    entry = _begin(pour) | {"token": token}
    for piece in pieces:
        _put(entry, to_texts(piece))
    return begin(TOPIC, entry)


def _begin(pour: Pour) -> Entry:
    return begin(TOPIC, {TOPIC: to_texts(pour), "pieces": [], _COUNTED: 0})


def pieces_of(entry: Entry) -> list[Texts]:
    """Return the pieces, each the texts of its fields."""
    found: list[Texts] = entry["pieces"]
    return found


def mark_of(texts: Texts) -> str:
    """Return what tells a piece from the others, whatever it is called."""
    return texts[_MARK]


def add_piece(log: Log, entry: Entry, form_id: str) -> None:
    """Add a piece like the one here in that form, else like last time's."""
    pieces = pieces_of(entry)
    name = _free_name(log, pieces)
    here = [one for one in pieces if one["form_id"] == form_id]
    if here:
        texts = here[-1] | {"name": name}
    elif form_id:
        texts = to_texts(records.like_last(log, int(form_id), name=name))
    else:
        texts = to_texts(Piece(name=name, pour_id=0))
    _put(entry, texts)


def take_off(entry: Entry, mark: str) -> None:
    """Take a piece off the pour."""
    entry["pieces"] = [one for one in pieces_of(entry) if one[_MARK] != mark]


def save(log: Log, entry: Entry) -> Saved:
    """Keep the pour with all its pieces, or nothing; once, however often pressed."""
    pour = from_texts(Pour, entry[TOPIC])
    pieces = [from_texts(Piece, texts, pour_id=0) for texts in pieces_of(entry)]
    return records.add_pour_with_pieces(log, pour, pieces, save_token=entry["token"])


def _put(entry: Entry, texts: Texts) -> None:
    entry[_COUNTED] += 1
    pieces_of(entry).append(texts | {_MARK: str(entry[_COUNTED])})


def _free_name(log: Log, pieces: list[Texts]) -> str:
    taken = {one["name"].strip() for one in pieces}
    offered = records.next_names(log, Piece, count=len(pieces) + 1)
    return next(name for name in offered if name not in taken)
