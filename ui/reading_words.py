"""Sentences about what was measured, on every screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.flags import FLAG_WORDS, Flag
from analysis.model.sizes import rounded
from analysis.model.writing import percent
from ui.words import BLANK, NO_ORDINARY, PHOTO, PURPOSES, STAGES, UNITS_MM, when

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.log_views import ReadingLine
    from analysis.model.photo import Scale
    from analysis.model.reading import JointMarks, Reading, Share, Summary
    from analysis.services.pieces import PieceFigure


def floor_of(summary: Summary, unit: str = "mm") -> str:
    """Say from which size voids were counted."""
    smallest = summary.smallest_counted_mm
    if smallest is None:
        return f"{summary.smallest_counted_px:.1f} px"
    return f"{smallest / UNITS_MM[unit]:.2g} {'mm' if unit == 'mm' else 'in'}"


def headline(summary: Summary, unit: str = "mm") -> str:
    """Say the result in one line."""
    if summary.void_count == 0:
        return f"No voids of {floor_of(summary, unit)} or more"
    return f"{percent(summary.void_share.value)} % void area"


def _bound(share: float) -> str:
    """Write an upper bound; what is smaller than the last digit is rounded up to it."""
    return percent(max(share, 0.0001))


def _between(share: Share) -> str:
    if share.low < 0.00005:  # noqa: PLR2004  the last digit shown
        return f"below {_bound(share.high)} %"
    return f"between {percent(share.low)} and {percent(share.high)} %"


def how_sure(summary: Summary, unit: str = "mm") -> str:
    """Say the interval of measurement."""
    if summary.void_count == 0:
        return (
            f"95 % sure that voids too small to count make up less than "
            f"{_bound(summary.void_share.high)} % of this face."
        )
    counted = f"counted from {floor_of(summary, unit)}"
    return f"95 % sure {_between(summary.void_share)}; {counted}."


def how_sure_of_all(summary: Summary) -> str:
    """Say the interval of sampling."""
    return (
        f"The rest of what you cast this way: {_between(summary.sampled_share)}, as "
        f"far as one photo can tell."
    )


def usual(reading: Reading) -> str:
    """Say where another reading in the usual set-up would lie; empty if not known."""
    share = reading.usual_share
    if share is None:
        return ""
    return (
        "In your usual set-up another reading of this face would lie "
        f"{_between(share)} (for comparing)."
    )


def areas(summary: Summary) -> str:
    """Say shares at the joints and of honeycomb; empty when there are none."""
    parts = []
    if summary.joint_band_share is not None and summary.open_face_share is not None:
        near, away = summary.joint_band_share, summary.open_face_share
        parts.append(
            f"Near joints {percent(near)} %{_ends(summary.joint_band_ends)}, "
            f"away from them {percent(away)} %{_ends(summary.open_face_ends)}."
        )
    parts += _joints(summary.joint_marks)
    if summary.honeycomb_share > 0:
        parts.append(
            f"Honeycomb covers {percent(summary.honeycomb_share)} % of the face"
            f"{_ends(summary.honeycomb_ends)}."
        )
    return " ".join(parts)


def _ends(ends: tuple[float, float] | None) -> str:
    """Say an interval of a share behind it; nothing where none is known."""
    return "" if ends is None else f" ({percent(ends[0])} to {percent(ends[1])} %)"


def _joints(marks: JointMarks | None) -> list[str]:
    """Say what joints left beside voids; nothing where they left nothing."""
    if marks is None:
        return []
    whole = f"of {figure(marks.length_mm)} mm of joint"
    said = []
    if marks.sand_length_mm:
        said.append(f"Bare sand on {figure(marks.sand_length_mm)} {whole}.")
    if marks.fin_length_mm:
        said.append(f"A fin on {figure(marks.fin_length_mm)} {whole}.")
    if marks.arris_loss_mm2_per_m:
        loss = figure(marks.arris_loss_mm2_per_m)
        said.append(f"Broken off along joints: {loss} mm² per m.")
    return said


def figure(value: float | None, digits: int = 0) -> str:
    """Write a number, or that it is not known."""
    return BLANK if value is None else f"{value:,.{digits}f}"


def doubts(flags: Iterable[Flag]) -> list[str]:
    """Say each doubt and what to do about it."""
    return [" ".join(FLAG_WORDS[flag]) for flag in sorted(flags)]


VOID_DOUBTS = {
    Flag.TOUCHES_EDGE: "cut by the edge",
    Flag.SPLIT: "cut from its neighbour",
    Flag.NEAR_LIMIT: "near the smallest size",
    Flag.SHALLOW: "faint",
    Flag.LIT_INSIDE: "lit inside",
}


def void_doubts(flags: Iterable[str]) -> str:
    """Say the doubts about one void in brief."""
    return ", ".join(VOID_DOUBTS.get(Flag(flag), flag) for flag in flags)


def scale_line(scale: Scale) -> str:
    """Say the scale and how sure it is."""
    return (
        f"{scale.mm_per_px:.4g} mm per px, "
        f"give or take {rounded(200 * scale.relative_uncertainty, 1)} %."
    )


def how(reading: Reading) -> str:
    """Say what a reading depends on."""
    ways = {
        "typed": "typed",
        "two_points": "from two points",
        "sheet": "from the sheet or card",
        "corners": "from width and height",
    }
    scale = (
        "no scale"
        if reading.scale is None
        else f"{reading.scale.mm_per_px:.4g} mm per px "
        f"({ways.get(reading.scale.method, reading.scale.method)})"
    )
    outline = reading.face.outline_px
    face = (
        "whole photo" if outline is None else f"face outline of {len(outline)} corners"
    )
    left_out = len(reading.face.left_out_px)
    joints = len(reading.face.joints)
    parts = [scale, face]
    parts += [f"left-out areas: {left_out}"] if left_out else []
    parts += [f"joint lines: {joints}"] if joints else []
    asked = reading.settings.smallest_mm
    parts += [] if asked is None else [f"smallest size asked for: {asked:g} mm"]
    parts += [f"photo {reading.width_px} x {reading.height_px} px"]
    return "; ".join(parts).capitalize() + "."


def photo_line(line: ReadingLine) -> str:
    """Name a stored photo and what it shows."""
    stage = "" if line.use.stage is None else f", {STAGES[line.use.stage].lower()}"
    return f"{PHOTO} {line.photo_name}: {PURPOSES[line.use.purpose].lower()}{stage}."


def reading_choice(line: ReadingLine) -> str:
    """Name a stored reading in a list."""
    if line.reviewed_at is not None:
        return f"{reading_brief(line)}, {when(line.reviewed_at)}"
    return f"{reading_brief(line)}, {when(line.measured_at)}"


def figure_brief(figure: PieceFigure | None) -> str:
    """Say a piece's void share in brief, and what it rests on.

    Examples
    --------
    >>> from analysis.services.pieces import PieceFigure
    >>> figure_brief(PieceFigure(share=0.0123)), figure_brief(None)
    ('1.23 %, without a photo', 'No reading of an ordinary part yet')
    """
    if figure is None:
        return NO_ORDINARY
    if len(figure.lines) == 1:
        return reading_brief(figure.lines[0])
    if not figure.lines:
        return f"{percent(figure.share)} %, without a photo"
    return f"{_share_of(figure)}, {len(figure.lines)} photos"


def together_line(figure: PieceFigure) -> str:
    """Say what the photos of a piece give together."""
    return f"{len(figure.lines)} photos together: {_share_of(figure)}."


def _share_of(figure: PieceFigure) -> str:
    if not any(line.void_count for line in figure.lines):
        return "No voids"
    return f"{percent(figure.share)} %"


def reading_told(line: ReadingLine) -> str:
    """Say a stored reading with how sure it is."""
    if line.void_count == 0:
        return reading_brief(line)
    low, high = percent(line.void_share_low), percent(line.void_share_high)
    reviewed = "" if line.reviewed_by is None else ", reviewed"
    return f"{percent(line.void_share)} % void area ({low} to {high}){reviewed}"


def reading_brief(line: ReadingLine) -> str:
    """Say a stored reading in brief."""
    reviewed = "" if line.reviewed_by is None else ", reviewed"
    if line.void_count == 0:
        return f"No voids{reviewed}"
    return f"{percent(line.void_share)} %{reviewed}"
