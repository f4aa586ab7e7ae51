"""Words of judging a piece, of sheets of paper and of files to take along."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import day

if TYPE_CHECKING:
    from datetime import date

# judging
JUDGE_BY = "Held against"
CRITERION = "Limits"
COUNTS = "What was judged, and where the limits come from"
KEEP = "Keep this verdict"
KEPT_BEFORE = "Verdicts kept"
IN_FORCE = "by the target in force"
BEFORE = "by an earlier target"
NO_TARGET = (
    "No finish target is set, so this piece is held against nothing. Set one for its "
    "product line in Records, or choose a standard."
)

# beside a reference
BESIDE = "Beside an approved piece"
REFERENCE = "Approved piece"
NO_REFERENCE = (
    "No other piece of this product line is approved as a reference yet. Approve one "
    "that looks as it should."
)
NO_PAIR = "One of the two has no measured face with a scale: measure it first."
BESIDE_SHEET = "Both in true size (PDF)"
APPROVE = "Approve this piece as a reference"
TAKE_BACK = "Undo the approval"

# paper and files
TAKE = "Paper and files"
PAPER = "Paper"
PAPERS = {"A4": "A4", "Letter": "Letter"}
UNIT = "Lengths in"
UNITS = {"mm": "mm", "inch": "inch"}
PIECE_SHEET = "Piece sheet (PDF)"
POUR_SHEET = "Pour sheet with its faces (PDF)"
FORM_SHEET = "Form sheet (PDF)"
TRIAL_SHEET = "Sheet (PDF)"
ANNOTATED = "Photo with voids outlined (PNG)"
FIGURES = "Figures and voids (JSON)"
ANNOTATIONS = "Voids as annotations (COCO)"
TABLE_CSV = "Table (CSV)"
TABLE_XLSX = "Table (xlsx)"
VOIDS_CSV = "Voids, one a row (CSV)"
VOIDS_XLSX = "Voids, one a row (xlsx)"
CHART_SVG = "Chart (SVG)"
CHART_PNG = "Chart (PNG)"


def same_scale(side_mm: float) -> str:
    """Say what both pictures show.

    Examples
    --------
    >>> same_scale(85.0)
    'Both show 85 x 85 mm of the face.'
    """
    return f"Both show {side_mm:.0f} x {side_mm:.0f} mm of the face."


def approved_line(on: date | None) -> str:
    """Say since when a piece is a reference.

    Examples
    --------
    >>> approved_line(None)
    'Approved as a reference.'
    """
    since = "" if on is None else f" on {day(on)}"
    return f"Approved as a reference{since}."


def verdict_line(verdict: str, *, in_force: bool) -> str:
    """Say a kept verdict.

    Examples
    --------
    >>> verdict_line("within the target", in_force=False)
    'within the target, by an earlier target'
    """
    return f"{verdict}, {IN_FORCE if in_force else BEFORE}"


def sheet_of_pour(name: str) -> str:
    """Name the sheet of a pour.

    Examples
    --------
    >>> sheet_of_pour("P7")
    'Sheet of pour P7 (PDF)'
    """
    return f"Sheet of pour {name} (PDF)"
