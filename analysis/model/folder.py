"""Photos of a folder: how each is to be measured, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from analysis.model.log import PhotoUse

if TYPE_CHECKING:
    from datetime import datetime

    from analysis.model.card import Code
    from analysis.model.photo import PhotoFacts
    from analysis.model.points import Points
    from analysis.model.reading import Reading
    from analysis.model.set_up import SetUp
    from analysis.model.workshop import Form

MEASURED, SKIPPED, FAILED = OUTCOMES = ("measured", "skipped", "failed")
# What of a photo is taken for the face where no outline is given.
WHOLE, FOUND = FACES = ("whole", "found")


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderFile:
    """A photo's file in a folder.

    Attributes
    ----------
    path : str
        From the folder, parted by ``/``.
    byte_count : int
        Of the file.
    changed_ns : int
        When it was last written to, ns since 1970.
    """

    path: str
    byte_count: int
    changed_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfPhoto:
    """How one photo is to be measured, as side-car and folder names say.

    Attributes
    ----------
    piece : str
        Name of the piece; empty where a card in the photo is to tell.
    by_folder : bool
        The piece is told by the folder's name only: a card in the photo goes first.
    mm_per_px : float or None
        None looks for a sheet or card in the photo.
    face : str
        One of ``FACES``: the whole photo, told as a doubt, or the face that is found
        in it.
    outline : tuple of (float, float), or None
        (x, y) px of the upright photo; goes before `face`.
    left_out : tuple of tuple of (float, float)
        Left-out areas, each like `outline`.
    form_face, up : str
        The form's name of the face, and its side that was up in the form.
    smallest_mm : float or None
        Smallest counted size asked for.
    use : PhotoUse
        Purpose, stage, surface state and set-up.
    form : Form or None
        Of the piece, where it was named beforehand: its kind of face.
    reads_set_up : bool
        The log keeps how faces are photographed, so the photo's set-up is read off.
    problem : str
        Why it cannot be measured as asked, in a sentence; empty where it can.
    """

    piece: str = ""
    by_folder: bool = False
    mm_per_px: float | None = None
    face: str = WHOLE
    outline: Points | None = None
    left_out: tuple[Points, ...] = ()
    form_face: str = ""
    up: str = ""
    smallest_mm: float | None = None
    use: PhotoUse = field(default_factory=lambda: PhotoUse(stage="as_struck"))
    # Not in a save's token, which is made of the words of this value: a form that is
    # told its kind later has no photo saved twice.
    form: Form | None = field(default=None, repr=False)
    reads_set_up: bool = field(default=False, repr=False)
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FolderReading:
    """What a worker made of one photo.

    Attributes
    ----------
    facts : PhotoFacts or None
        None where the file could not be read.
    codes : tuple of Code
        Of the cards in it.
    reading : Reading or None
        None where it could not be measured.
    set_up : SetUp or None
        As the photo tells it, where it was asked for.
    problem : str
        Why not, in a sentence.
    """

    facts: PhotoFacts | None = None
    codes: tuple[Code, ...] = ()
    reading: Reading | None = None
    set_up: SetUp | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderOutcome:
    """What came of one file.

    Attributes
    ----------
    file : FolderFile
    state : str
        One of ``OUTCOMES``.
    problem : str
        Why it failed or was skipped.
    reading_id : int or None
        Of what was saved, or had been.
    asked : str
        Tells one way of asking for it from another; empty where an older program
        told of it.
    unlike_kept : str
        What differs from how its form's face is photographed, in a sentence; empty
        where nothing does, or nothing is kept.
    """

    file: FolderFile
    state: str
    problem: str = ""
    reading_id: int | None = None
    asked: str = ""
    unlike_kept: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderRun:
    """How far a folder is.

    Attributes
    ----------
    folder : str
        Its path.
    photos, measured, skipped, failed : int
        Photos in it, and what came of them so far.
    started_at, changed_at : datetime
        Of this run; and when it last told of a photo.
    ended_at : datetime or None
        None while it goes on, or was cut off.
    latest : tuple of (str, str)
        Digest and name of the photos measured last, latest first.
    """

    folder: str
    photos: int
    measured: int
    skipped: int
    failed: int
    started_at: datetime
    changed_at: datetime
    ended_at: datetime | None
    latest: tuple[tuple[str, str], ...]
