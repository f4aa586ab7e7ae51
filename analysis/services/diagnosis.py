"""Where the voids of a piece or a form sit, what may lie behind it, what to do."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.diagnosis.advice import (
    likely_causes,
)
from analysis.diagnosis.naming import name_patterns
from analysis.diagnosis.placement import place
from analysis.diagnosis.repair import repair_note
from analysis.imaging.face_grid import face_grid
from analysis.report.void_map import MappedFace, void_map
from analysis.services.pieces import standing_lines
from analysis.storage.castings import list_castings
from analysis.storage.readings import load_reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.diagnosis import Cause, NamedPattern, Placement, RepairNote
    from analysis.model.log_views import ReadingLine
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "Diagnosis",
    "diagnose",
    "of_form",
    "of_piece",
]

_MOST_FACES = 30
_TURNS = {"top": 0, "": 0, "right": 1, "bottom": 2, "left": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """Where the voids of some faces sit, and what follows.

    Attributes
    ----------
    placement : Placement
        The figures.
    named : tuple of NamedPattern
        What stands out; empty where nothing does.
    causes : tuple of Cause
        Ranked.
    repair : RepairNote
        For the faces together.
    svg : str
        The map.
    """

    placement: Placement
    named: tuple[NamedPattern, ...]
    causes: tuple[Cause, ...]
    repair: RepairNote
    svg: str


def of_piece(log: Log, piece_id: int, *, view_m: float = 1.0) -> Diagnosis | None:
    """Diagnose a piece by all its representative readings with a scale.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     of_piece(open_log(folder), 1) is None
    True
    """
    lines = standing_lines(log, piece_id)
    return diagnose([load_reading(log, line.id) for line in lines], view_m=view_m)


def of_form(log: Log, form_id: int) -> dict[str, Diagnosis]:
    """Diagnose a form by the latest faces out of it, each named face by itself.

    Each piece by what it is judged by; of several stages the one with most faces.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     of_form(open_log(folder), 1)
    {}
    """
    lines: list[ReadingLine] = []
    for casting in list_castings(log, form_id=form_id):  # latest first
        lines += standing_lines(log, casting.piece.id or 0)
        if len(lines) >= _MOST_FACES:
            break
    # A ground or filled face has other voids: never two stages in one map.
    stages = Counter(line.use.stage for line in lines)
    stage = max(stages, key=lambda one: stages[one], default=None)
    faces: dict[str, list[Reading]] = {}
    for line in [one for one in lines if one.use.stage == stage][:_MOST_FACES]:
        reading = load_reading(log, line.id)
        faces.setdefault(reading.face.name, []).append(reading)
    found = {name: diagnose(readings) for name, readings in sorted(faces.items())}
    return {name: one for name, one in found.items() if one is not None}


def diagnose(readings: Sequence[Reading], *, view_m: float = 1.0) -> Diagnosis | None:
    """Diagnose readings together; None where none has a scale.

    Examples
    --------
    >>> diagnose([]) is None
    True
    """
    pairs = [(reading, face_grid(reading)) for reading in readings]
    grids = [grid for _, grid in pairs if grid is not None]
    if not grids:
        return None
    found = place(grids)
    sand_share, sand_at = _sand(readings)
    named = name_patterns(found, sand_share=sand_share, sand_at=sand_at)
    diameter = np.concatenate([grid.diameter_mm for grid in grids])
    return Diagnosis(
        placement=found,
        named=named,
        causes=likely_causes(found, named),
        repair=repair_note(diameter, view_m=view_m),
        svg=void_map([_mapped(reading) for reading, grid in pairs if grid is not None]),
    )


def _sand(readings: Sequence[Reading]) -> tuple[float, str]:
    """Tell what part of the joints shows bare sand, and at which joint it is."""
    told = [one.summary.joint_marks for one in readings]
    marks = [one for one in told if one is not None]
    length = sum(one.length_mm for one in marks)
    names = {joint.name for one in readings for joint in one.face.joints}
    at = names.pop() if len(names) == 1 else ""
    return (sum(one.sand_length_mm for one in marks) / length if length else 0.0), at


def _mapped(reading: Reading) -> MappedFace:
    face, scale = reading.face, reading.scale
    mm_per_px = 1.0 if scale is None else scale.mm_per_px
    turns = _TURNS[face.up]
    rows, cols = reading.height_px, reading.width_px
    outline = face.outline_px
    if outline is None:
        outline = np.array([[0, 0], [0, cols], [rows, cols], [rows, 0]], dtype=float)

    def mm(points: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = points[:, 1] * mm_per_px, points[:, 0] * mm_per_px
        for _ in range(turns):  # what was to the right comes to the top
            x, y = y, -x
        return np.column_stack([x, y])

    voids = reading.voids
    return MappedFace(
        outline_mm=mm(outline),
        joints=tuple((joint.name, mm(joint.line_px)) for joint in face.joints),
        patches_mm=tuple(mm(area) for area in reading.honeycomb_px),
        voids_mm=np.column_stack(
            [
                mm(np.column_stack([voids.row_px, voids.col_px])),
                voids.equivalent_diameter_px * mm_per_px,
            ]
        ),
        up_known=bool(face.up),
    )
