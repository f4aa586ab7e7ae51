"""Words of the library of pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import percent
from analysis.services.strike import place_sentence
from ui import words

if TYPE_CHECKING:
    from analysis.model.library import LibraryCard, LibraryPage

SEARCH = "Search"
SEARCH_EXAMPLE = "Search for a piece, pour or form"
FILTERS = "Filter and sort"
ORDER = "Order"
ORDERS = {
    "newest": "Newest first",
    "oldest": "Oldest first",
    "name": "By name",
    "most voids": "Most voids first",
    "fewest voids": "Fewest voids first",
}
ANY = "Any"
SEALINGS = {
    "sealed": "Sealed",
    "open": "Open",
    "mixed": "Some sealed, some open",
    "no joints": "Form has no joints",
    "not recorded": "Not recorded",
}
TARGET = "Finish target"
PLACES = {
    "inside": "Inside its target",
    "above": "More voids than its target",
    "below": "Fewer voids than its target",
    "doubtful": "Too close to its target to tell",
    "no target": "No target set",
    "not measured": "Not measured",
}
FROM = "Cast from"
TO = "Cast until"
CLEAR = "Clear filters"
NOTHING_FOUND = "No piece meets all of this."
NO_PHOTO = "No photo"
PAGE_BEFORE = "Page before"
PAGE_AFTER = "Next page"


def found_line(page: LibraryPage) -> str:
    """Say how many pieces were found, and which of them are shown.

    Examples
    --------
    >>> from analysis.model.library import LibraryPage
    >>> found_line(LibraryPage(cards=(), count=1, start=0))
    '1 piece'
    """
    noun = "piece" if page.count == 1 else "pieces"
    if page.count == len(page.cards) or not page.cards:
        return f"{page.count:,} {noun}"
    last = page.start + len(page.cards)
    return f"{page.start + 1:,} to {last:,} of {page.count:,} {noun}"


def figure_line(card: LibraryCard) -> str:
    """Say a piece's void share with its interval, how it lies to its target, briefly.

    Parameters
    ----------
    card : LibraryCard
        Of the piece.
    """
    if card.share is None:
        return words.NO_ORDINARY if card.shown else words.NO_READING
    if card.lines and not any(line.void_count for line in card.lines):
        told = "No voids"
    elif card.share_low is None or card.share_high is None:
        told = without_photo(card.share)
    else:
        low, high = percent(card.share_low), percent(card.share_high)
        told = f"{percent(card.share)} % void area ({low} to {high})"
    photos = len(card.lines)
    reviewed = any(line.reviewed_by is not None for line in card.lines)
    told += f", {photos} photos" if photos > 1 else ""
    return told + (", reviewed" if reviewed else "")


def without_photo(share: float) -> str:
    """Say a void share that came with a table.

    Examples
    --------
    >>> without_photo(0.0075)
    '0.75 % void area, without a photo'
    """
    return f"{percent(share)} % void area, without a photo"


def place_line(card: LibraryCard) -> str:
    """Say what the strike card says first; empty without a target or a figure."""
    if card.place in {"no target", "not measured"}:
        return ""
    return place_sentence(card)


def alt_of(card: LibraryCard) -> str:
    """Say what a card's picture shows."""
    return f"{words.PHOTO} {card.casting.piece.name}: its face is outlined"
