"""A photo of a batch that waits to be checked or measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.points import Points

from dataclasses import dataclass

GIVEN, CHECK, READY, DONE, FAILED = STATES = (
    "given",
    "check",
    "ready",
    "done",
    "failed",
)
# Why a piece is proposed.
BY_CARD, BY_FORM_CARD, BY_TIME, ONLY_ONE, BY_HAND, UNKNOWN = WHYS = (
    "card",
    "form_card",
    "time",
    "only_one",
    "by_hand",
    "unknown",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was seen in a photo when it was given, and how it is to be measured.

    Attributes
    ----------
    piece_ids, form_ids : tuple of int
        What the cards in it lead to.
    has_scale : bool
        A card gives its scale.
    outline : tuple of (float, float), or None
        (x, y) px of the view that is measured; None for all of it.
    stage : str
        Of the face when it was photographed.
    giving : str
        Tells this giving of the photo from an earlier one.
    giver : str
        Tells who gave it from others; empty where that is not known.
    pair_sha256 : str
        The photo proposed as the second of a pair in two lights; empty for none.
    compared : tuple of str
        Photos compared with it, whatever came of it.
    second_sha256, first_sha256 : str
        Said to be measured with this one, as its second or its first.
    """

    piece_ids: tuple[int, ...] = ()
    form_ids: tuple[int, ...] = ()
    has_scale: bool = False
    outline: Points | None = None
    stage: str = "as_struck"
    giving: str = ""
    giver: str = ""
    pair_sha256: str = ""
    compared: tuple[str, ...] = ()
    second_sha256: str = ""
    first_sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingPhoto:
    """A photo given in a batch, with what is proposed or said of it.

    Attributes
    ----------
    id : int
        Of its row.
    sha256, name : str
        Of the file.
    taken_at : str or None
        Camera time, ISO 8601.
    piece_id : int or None
        The piece proposed or chosen.
    state : str
        One of `STATES`: given, to be checked, ready to be measured, done, failed.
    why : str
        One of `WHYS`.
    asked : Asked
        What was seen in it, and how it is to be measured.
    problem : str
        What is wrong with it, in a sentence; empty where nothing is.
    reading_id : int or None
        What came of it.
    """

    id: int
    sha256: str
    name: str
    taken_at: str | None
    piece_id: int | None
    state: str
    why: str
    asked: Asked
    problem: str
    reading_id: int | None
