"""How a folder is to be measured, and what that asks of each photo in it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from analysis.model.folder import AskedOfPhoto
from analysis.services.folders.side_car import NO_SIDE_CAR, SideCar, line_for
from analysis.services.folders.walk import told_by_names
from analysis.services.log import digest

if TYPE_CHECKING:
    import re
    from collections.abc import Collection, Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderWish:
    """How a folder is to be measured.

    Attributes
    ----------
    side_car : SideCar
        What it says of single photos.
    usual : AskedOfPhoto
        What holds for photos of which nothing else is said.
    names : str
        Pattern of the folders' names; empty takes the usual one.
    resume : bool
        Files that are as they were when the log was told of them, and asked for in the
        same way, are not read again; what failed is told again, not tried again.
    """

    side_car: SideCar = NO_SIDE_CAR
    usual: AskedOfPhoto = field(default_factory=AskedOfPhoto)
    names: str = ""
    resume: bool = False


def asked_of(
    path: str,
    wish: FolderWish,
    pattern: re.Pattern[str],
    names: Mapping[str, int],
    pieces: Collection[str],
) -> AskedOfPhoto:
    """Put together what side-car, folder names and the usual say of a photo.

    Parameters
    ----------
    path : str
        From the folder.
    wish : FolderWish
    pattern : re.Pattern
        That of the wish's names.
    names : mapping of str to int
        How many photos of the folder bear each name.
    pieces : collection of str
        That the log knows.

    Examples
    --------
    >>> from analysis.services.folders.walk import name_pattern
    >>> pattern = name_pattern("{piece}/*")
    >>> asked_of("007/a.jpg", FolderWish(), pattern, {}, {"007"}).piece
    '007'
    """
    line = line_for(path, wish.side_car.lines, names)
    usual = wish.usual
    asked = line or usual
    told = told_by_names(path, pattern)
    if not asked.piece and (wish.names or told.get("piece") in pieces):
        asked = replace(asked, piece=told.get("piece", ""), by_folder=True)
    use = asked.use
    if line is None and "stage" in told:
        use = replace(use, stage=told["stage"])
    problem = asked.problem
    if asked.piece and asked.piece not in pieces and not problem:
        problem = f"Piece {asked.piece} is not in the log: import the pieces first."
    return replace(
        asked,
        mm_per_px=usual.mm_per_px if asked.mm_per_px is None else asked.mm_per_px,
        smallest_mm=asked.smallest_mm or usual.smallest_mm,
        form_face=asked.form_face or told.get("form_face", ""),
        use=replace(use, set_up=use.set_up or told.get("set_up") or usual.use.set_up),
        problem=problem,
    )


def save_token(sha256: str, asked: AskedOfPhoto) -> str:
    """Return the save's token: the same photo, asked alike, is saved once.

    Examples
    --------
    >>> save_token("ab", AskedOfPhoto()) == save_token("ab", AskedOfPhoto(piece="007"))
    False
    """
    return f"folder {digest(repr((sha256, asked)).encode())}"


def mark_of(asked: AskedOfPhoto) -> str:
    """Return what tells one way of asking from another.

    Examples
    --------
    >>> mark_of(AskedOfPhoto()) == mark_of(AskedOfPhoto(mm_per_px=0.2))
    False
    """
    return digest(repr(asked).encode())[:16]
