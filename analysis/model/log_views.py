"""What the log answers with: outcomes of a save, lines of lists, rows of tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from analysis.model.field_values import with_columns

if TYPE_CHECKING:
    from datetime import date, datetime

    from analysis.model.log import PhotoUse, Piece, Pour


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """Outcome of a save.

    Attributes
    ----------
    id : int
        Of the record.
    already_saved : bool
        True when this save token had been used: nothing was written again.
    """

    id: int
    already_saved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """A stored reading in brief, for lists. Shares are 0..1.

    Attributes
    ----------
    id, piece_id : int
        Of the reading and its piece.
    photo_sha256, photo_name : str
        The photo measured.
    use : PhotoUse
        What the photo shows.
    reviews_id : int or None
        The reading this one is a person's review of.
    measured_at, saved_at : datetime.datetime
        UTC.
    taken_at : str or None
        Camera time as the file states it, ISO; with a zone only if it has one.
    method_version : str
        Version of the measuring steps.
    void_share, void_share_low, void_share_high : float
        With the interval of measurement.
    void_count : int
        Counted voids.
    smallest_counted_mm : float or None
        None without a scale.
    face_area_px, void_area_px : float
        Areas measured, px².
    face_area_mm2, largest_void_mm : float or None
        None without a scale.
    joint_band_share, open_face_share, honeycomb_share : float or None
        0..1; None without joints.
    joint_length_mm, sand_length_mm, fin_length_mm, arris_loss_mm2_per_m :
        What joints left beside voids; None without joints or scale.
    light_flags : tuple of str
        Doubts about the light.
    version : int
        Counts the edits.
    reviewed_by : str or None
        Who signed the review; None for an automatic reading.
    reviewed_at : datetime.datetime or None
        UTC.
    """

    id: int
    piece_id: int
    photo_sha256: str
    photo_name: str
    use: PhotoUse
    reviews_id: int | None
    measured_at: datetime
    saved_at: datetime
    taken_at: str | None
    method_version: str
    void_share: float
    void_share_low: float
    void_share_high: float
    void_count: int
    smallest_counted_mm: float | None
    face_area_px: float = 0.0
    face_area_mm2: float | None = None
    void_area_px: float = 0.0
    largest_void_mm: float | None = None
    joint_band_share: float | None = None
    open_face_share: float | None = None
    honeycomb_share: float | None = None
    joint_length_mm: float | None = None
    sand_length_mm: float | None = None
    fin_length_mm: float | None = None
    arris_loss_mm2_per_m: float | None = None
    light_flags: tuple[str, ...] = ()
    version: int = 1
    reviewed_by: str | None = None
    reviewed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Casting:
    """A piece with the pour it was cast in.

    Attributes
    ----------
    piece : Piece
        The piece.
    pour : Pour
        Its pour.
    form_use : int or None
        Which casting in its form it was, the starting count included.
    """

    piece: Piece
    pour: Pour
    form_use: int | None


class CastingName(NamedTuple):
    """What a piece is called in a list, and the form it came out of.

    Attributes
    ----------
    piece, pour : str
        Names.
    cast_on : datetime.date
        Local day.
    form_id : int or None
        None without a form.
    """

    piece: str
    pour: str
    cast_on: date
    form_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A word of a vocabulary.

    Attributes
    ----------
    id : int
        Given by the log.
    vocabulary, name : str
        Which list, and the word as it is today.
    uses : int
        Records that hold it, merged words included.
    """

    id: int
    vocabulary: str
    name: str
    uses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TermChange:
    """One change of a vocabulary: ``added``, ``renamed``, ``merged``, ``parted``.

    Attributes
    ----------
    vocabulary, change, before, after : str
        What happened to which word; `before` is empty for a new word.
    changed_at : datetime.datetime
        UTC.
    """

    vocabulary: str
    change: str
    before: str
    after: str
    changed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
@with_columns
class PieceRow:
    """One piece in the table that comparing and following read. Blank is None.

    A field of a pour, a piece or a form that has a column has it here too, written out
    or not.

    Attributes
    ----------
    piece, pour : str
        Names.
    cast_on : datetime.date
        Local day.
    form, form_type : str or None
        The form's name and type.
    form_use : int or None
        Which casting in the form it was.
    joint_sealing, release_agent, vibration_method : str or None
        Words; ``"none"`` is a level, None is not known.
    vibration_s, strokes, passes : float or None
        Of the one method that has them, where steps follow one another.
    void_area_percent : float or None
        Void area over face area times 100, photos of the piece pooled by area.
    face_area_mm2 : float or None
        Sum over the photos; None without a scale.
    void_count : int or None
        Sum over the photos.
    product_line, stage, light, consistency, method_version : str or None
        Strata; ``"mixed"`` where the photos pooled differ.
    smallest_counted_mm : float or None
        Size from which voids are counted.
    joint_band_percent, open_face_percent, honeycomb_percent : float or None
        Pooled by area of the photos that have them.
    joint_length_mm, sand_length_mm, fin_length_mm, arris_loss_mm2_per_m :
        Lengths in all; loss pooled by the length of joint.
    set_up, face_material, gloss, mix, leak, release_application, casting_process,
    orientation, curing : str or None
        Further factors.
    lifts, strike_after_h, air_c, mix_c, humidity_percent, water_added_l :
        Further amounts, None where not known.
    note : str or None
        The piece's.
    reviewed : str or None
        ``"yes"`` where a person's review is behind the figures, ``"no"`` where none
        is, ``"mixed"`` where it is behind some of the photos; None without a photo.
    """

    piece: str
    pour: str
    cast_on: date
    form: str | None = None
    form_type: str | None = None
    form_use: int | None = None
    joint_sealing: str | None = None
    release_agent: str | None = None
    vibration_method: str | None = None
    vibration_s: float | None = None
    strokes: int | None = None
    passes: float | None = None
    void_area_percent: float | None = None
    face_area_mm2: float | None = None
    void_count: int | None = None
    product_line: str | None = None
    stage: str | None = None
    light: str | None = None
    smallest_counted_mm: float | None = None
    method_version: str | None = None
    joint_band_percent: float | None = None
    open_face_percent: float | None = None
    honeycomb_percent: float | None = None
    joint_length_mm: float | None = None
    sand_length_mm: float | None = None
    fin_length_mm: float | None = None
    arris_loss_mm2_per_m: float | None = None
    consistency: str | None = None
    set_up: str | None = None
    face_material: str | None = None
    gloss: str | None = None
    mix: str | None = None
    leak: str | None = None
    release_application: str | None = None
    casting_process: str | None = None
    orientation: str | None = None
    curing: str | None = None
    lifts: int | None = None
    strike_after_h: float | None = None
    air_c: float | None = None
    mix_c: float | None = None
    humidity_percent: float | None = None
    water_added_l: float | None = None
    note: str | None = None
    reviewed: str | None = None
