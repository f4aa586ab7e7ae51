"""One piece on paper, for the customer and the file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.flags import FLAG_WORDS
from analysis.model.writing import moment, percent
from analysis.report.figure_words import area, headline, length
from analysis.report.paper import big, facts, finished, heading, lines, new_paper
from analysis.report.paper_pictures import picture, scale_bar

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.reading import Reading
    from analysis.report.paper import Paper

NO_STRENGTH = "A photo of a surface says nothing about strength."
_GAP_MM = 6.0
_TALLEST_MM = 78.0
_MOST_PHOTOS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownFace:
    """A measured face as it is printed.

    Attributes
    ----------
    outlined, plain : bytes
        JPEG of the face with its voids outlined, and as photographed; empty where the
        photo cannot be read.
    mm_across : float or None
        From side to side of both; None without a scale.
    says : str
        Photo, stage, state and light.
    """

    outlined: bytes
    plain: bytes
    mm_across: float | None
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedBy:
    """One judgement in words.

    Attributes
    ----------
    title, grade : str
        Of the criterion, its version with it; the grade as a sentence.
    details : tuple of str
        What was judged, and what the criterion counts.
    """

    title: str
    grade: str
    details: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceSheet:
    """All that stands on a piece's sheet.

    Attributes
    ----------
    name : str
        Of the piece.
    readings : tuple of Reading
        Those it is judged by.
    faces : tuple of ShownFace
        As many as there are readings, in their order.
    judged : tuple of JudgedBy
        What it was judged by.
    made : tuple of (str, str)
        How it was made, name and value.
    repairs : tuple of str
        What was done to it after striking.
    note : str
        The maker's.
    brought : float or None
        Void share that came with a table, where no photo was measured.
    """

    name: str
    readings: tuple[Reading, ...]
    faces: tuple[ShownFace, ...]
    judged: tuple[JudgedBy, ...]
    made: tuple[tuple[str, str], ...]
    repairs: tuple[str, ...]
    note: str = ""
    brought: float | None = None


def piece_sheet(sheet: PieceSheet, *, page: str = "A4", unit: str = "mm") -> bytes:
    """Lay out a piece's sheet as PDF.

    Parameters
    ----------
    sheet : PieceSheet
        What stands on it.
    page, unit : str
        ``"A4"`` or ``"Letter"``; ``"mm"`` or ``"inch"``.

    Returns
    -------
    bytes
        One page, more only where there are several photos or long texts.

    Examples
    --------
    >>> bare = PieceSheet(
    ...     name="7", readings=(), faces=(), judged=(), made=(), repairs=()
    ... )
    >>> piece_sheet(bare)[:4]
    b'%PDF'
    """
    paper = new_paper(f"Piece {sheet.name}", page=page)
    if sheet.readings:
        told, sure, rest = headline(sheet.readings, unit)
        big(paper, told)
        lines(paper, [sure, rest])
    else:
        if sheet.brought is not None:
            big(paper, f"{percent(sheet.brought)} % void area")
            lines(paper, ["Brought in with a table, without a photo: no interval."])
        lines(paper, ["No face of this piece has been measured yet."])
    paper.ln(2)
    for face in sheet.faces[:1]:
        _face(paper, face, unit)
    if sheet.judged:
        _judged(paper, sheet.judged)
    heading(paper, "How it was made")
    facts(paper, sheet.made)
    heading(paper, "Repair")
    lines(paper, sheet.repairs or ["No repair is logged."])
    if sheet.note:
        heading(paper, "Note")
        lines(paper, [sheet.note])
    _measured(paper, sheet.readings, unit)
    lines(paper, (NO_STRENGTH,), small=True)
    for face in sheet.faces[1:_MOST_PHOTOS]:
        paper.ln(3)
        _face(paper, face, unit)
    left = len(sheet.faces) - _MOST_PHOTOS
    if left > 0:
        lines(paper, [f"{left} more measured photos are in the log."], small=True)
    return finished(paper)


def _face(paper: Paper, face: ShownFace, unit: str) -> None:
    width = (paper.epw - _GAP_MM) / 2
    if not face.outlined:
        lines(paper, [f"{face.says}. The photo itself cannot be read."])
        return
    if paper.will_page_break(_TALLEST_MM + 14):
        paper.add_page()
    top = paper.get_y()
    left = picture(
        paper,
        face.outlined,
        width_mm=width,
        tallest_mm=_TALLEST_MM,
        alt="Counted voids outlined",
    )
    paper.set_y(top)
    picture(
        paper,
        face.plain,
        width_mm=width,
        tallest_mm=_TALLEST_MM,
        at_mm=left[2] + _GAP_MM,
        alt="The face as photographed",
    )
    if face.mm_across is not None:
        scale_bar(paper, left, mm_across=face.mm_across, unit=unit)
    lines(
        paper,
        [f"Left: counted voids outlined. Right: the same face. {face.says}."],
        small=True,
    )


def _judged(paper: Paper, judged: Sequence[JudgedBy]) -> None:
    heading(paper, "Judged by")
    for one in judged:
        lines(paper, [one.title], bold=True)
        lines(paper, [one.grade[:1].upper() + one.grade[1:]])
        lines(paper, one.details, small=True)
        paper.ln(1)


def _measured(paper: Paper, readings: Sequence[Reading], unit: str) -> None:
    """Say how it was measured, and what to mind."""
    if not readings:
        return
    heading(paper, "How it was measured")
    flags = sorted({flag for one in readings for flag in one.light_flags | one.flags})
    lines(paper, [FLAG_WORDS[flag][0] for flag in flags], small=True, bullet="-")
    lines(paper, [_how(one, unit) for one in readings[:_MOST_PHOTOS]], small=True)


def _how(reading: Reading, unit: str) -> str:
    summary = reading.summary
    count = summary.void_count
    parts = ["1 void" if count == 1 else f"{count:,} voids"]
    if summary.largest_void_mm and count:
        parts.append(f"the largest {length(summary.largest_void_mm, unit)}")
    if summary.face_area_mm2 is not None:
        parts.append(f"on {area(summary.face_area_mm2, unit)}")
    scale = reading.scale
    parts.append(
        "no scale" if scale is None else f"{scale.mm_per_px:.4g} mm per px of the photo"
    )
    return (
        f"{', '.join(parts)}; measured {moment(reading.measured_at)} UTC, "
        f"method {reading.method_version}, photo {reading.photo_sha256[:12]}."
    )
