"""Sheets and files of the log: what the screens and the command line hand out."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import as_kept
from analysis.errors import NotInLogError, StruckfaceError
from analysis.grading.catalogue import OWN
from analysis.grading.wording import criterion_lines, grade_lines, grade_sentence
from analysis.model.afterwards import Repair
from analysis.model.reading import VoidCatalog
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.model.writing import day
from analysis.report.figure_words import UNITS
from analysis.report.paper import PAGES_MM
from analysis.report.piece_sheet import JudgedBy, PieceSheet, ShownFace
from analysis.report.piece_sheet import piece_sheet as laid_out
from analysis.services import grading
from analysis.services.photos import encoded, preview, read_photo, reading_overlay
from analysis.services.pieces import figure_of_piece
from analysis.storage.castings import list_castings
from analysis.storage.photo_store import photo_bytes
from analysis.storage.readings import load_reading
from analysis.storage.records import list_all, load
from analysis.vocabulary import NONE, NOT_APPLICABLE, spoken

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from analysis.model.grading import Judgement
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "PAGES_MM",
    "UNITS",
    "casting_named",
    "piece_sheet",
    "shown_face",
]

_LONGEST_PX = 1400
_EDGE = 0.04


def casting_named(log: Log, name: str) -> Casting:
    """Return the piece of this name, or of this number in the log.

    Raises
    ------
    NotInLogError
        There is none.
    """
    castings = list_castings(log)
    for casting in castings:
        if casting.piece.name == as_kept(name):
            return casting
    for casting in castings:
        if str(casting.piece.id) == name:
            return casting
    msg = f"There is no piece {name!r} in the log: check its name."
    raise NotInLogError(msg)


def piece_sheet(
    log: Log,
    casting: Casting,
    *,
    codes: Sequence[str] = (),
    by_hand: Mapping[str, float] | None = None,
    page: str = "A4",
    unit: str = "mm",
) -> bytes:
    """Return a piece's sheet as PDF.

    Parameters
    ----------
    log : Log
        The log.
    casting : Casting
        The piece.
    codes : sequence of str
        Criteria it is judged by; without any, its own target where it has one.
    by_hand : mapping of str to float, optional
        Figures measured on the piece.
    page, unit : str
        ``"A4"`` or ``"Letter"``; ``"mm"`` or ``"inch"``.

    Raises
    ------
    InputError
        No such criterion, page or unit.
    """
    piece = casting.piece
    offered = grading.choices(log, piece)
    own = [one.code for one in offered if one.code == OWN]
    chosen = [grading.judge_piece(log, casting, code, by_hand) for code in codes or own]
    figure = figure_of_piece(log, piece.id)
    judged = () if figure is None else figure.lines
    readings = tuple(load_reading(log, line.id) for line in judged)
    return laid_out(
        PieceSheet(
            name=piece.name,
            readings=readings,
            faces=tuple(
                shown_face(log, line, reading)
                for line, reading in zip(judged, readings, strict=True)
            ),
            judged=tuple(_judged_by(one) for one in chosen),
            made=_made(log, casting),
            repairs=_repairs(log, piece.id),
            note=piece.note,
            brought=None if readings or figure is None else figure.share,
        ),
        page=page,
        unit=unit,
    )


def shown_face(log: Log, line: ReadingLine, reading: Reading) -> ShownFace:
    """Return a measured face, cut out of its photo, with and without its voids."""
    says = _says(line)
    try:
        photo = read_photo(photo_bytes(log, line.photo_sha256), line.photo_name)
    except StruckfaceError:
        return ShownFace(outlined=b"", plain=b"", mm_across=None, says=says)
    outlined, cols = _cut(reading_overlay(photo, reading), reading)
    plain, _ = _cut(reading_overlay(photo, _bare(reading)), reading)
    scale = reading.scale
    return ShownFace(
        outlined=encoded(preview(outlined, _LONGEST_PX), "JPEG"),
        plain=encoded(preview(plain, _LONGEST_PX), "JPEG"),
        mm_across=None if scale is None else cols * scale.mm_per_px,
        says=says,
    )


def _bare(reading: Reading) -> Reading:
    none = VoidCatalog(
        **{
            item.name: getattr(reading.voids, item.name)[:0]
            for item in fields(VoidCatalog)
        }
    )
    return replace(reading, voids=none, honeycomb_px=())


def _cut(pixels: NDArray[np.uint8], reading: Reading) -> tuple[NDArray[np.uint8], int]:
    """Cut the face out with a little around it; return it and its columns."""
    outline = reading.face.outline_px
    if outline is None:
        return pixels, pixels.shape[1]
    size = np.array(pixels.shape[:2])
    edge = _EDGE * np.ptp(outline, axis=0).max()
    first = np.clip(np.floor(outline.min(axis=0) - edge), 0, size - 2).astype(int)
    end = np.clip(np.ceil(outline.max(axis=0) + edge) + 1, first + 1, size).astype(int)
    return pixels[first[0] : end[0], first[1] : end[1]], int(end[1] - first[1])


def _says(line: ReadingLine) -> str:
    use = line.use
    parts = [f"Photo {line.photo_name}"]
    parts += [spoken(use.stage)] if use.stage else []
    parts += [use.surface_state] if use.surface_state else []
    parts += [use.set_up] if use.set_up else []
    parts += [] if use.age_h is None else [f"{use.age_h:g} h after striking"]
    if line.taken_at:
        parts.append(f"taken {day(datetime.fromisoformat(line.taken_at).date())}")
    return ", ".join(parts)


def _judged_by(judgement: Judgement) -> JudgedBy:
    head, *what = criterion_lines(judgement.criterion)
    return JudgedBy(
        title=head,
        grade=grade_sentence(judgement),
        details=(*grade_lines(judgement), *what),
    )


def _made(log: Log, casting: Casting) -> tuple[tuple[str, str], ...]:
    piece, pour = casting.piece, casting.pour
    form = None if piece.form_id is None else load(log, Form, piece.form_id)
    line = piece.product_line_id or (form.product_line_id if form else None)
    use = f", casting {casting.form_use} in it" if casting.form_use else ""
    kind = f" ({form.form_type})" if form and form.form_type else ""
    seconds = "" if piece.vibration_s is None else f", {piece.vibration_s:g} s"
    method = _word(piece.vibration_method)
    return (
        ("Product line", "" if line is None else load(log, ProductLine, line).name),
        ("Pour", f"{pour.name}, cast on {day(pour.cast_on)}"),
        ("Form", "" if form is None else f"{form.name}{kind}{use}"),
        ("Joint sealing", _word(piece.joint_sealing, "none, joints left open")),
        ("Vibration", method + seconds if method else ""),
        ("Release agent", _word(piece.release_agent)),
        ("Mix", "" if pour.mix_id is None else load(log, Mix, pour.mix_id).name),
    )


def _repairs(log: Log, piece_id: int | None) -> tuple[str, ...]:
    found = []
    for one in list_all(log, Repair, piece_id=piece_id):
        parts = ["" if one.repaired_on is None else day(one.repaired_on)]
        parts += ["" if one.filler is None else f"filled with {one.filler}"]
        parts += ["" if one.minutes is None else f"{one.minutes:g} min"]
        parts += [one.note]
        found.append(", ".join(part for part in parts if part) or "repaired")
    return tuple(found)


def _word(value: str | None, none: str = "none") -> str:
    """Write a word of the log; not known is blank."""
    if value is None or value == NOT_APPLICABLE:
        return ""
    return none if value == NONE else value
