"""Sheets about a question, a pour and a form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.note_words import note_words as said
from analysis.compare.tangled import alias_words, cure_words
from analysis.model.sizes import rounded
from analysis.monitoring.note_words import note_words
from analysis.report.paper import big, facts, finished, heading, lines, new_paper, table
from analysis.report.paper_chart import Line, Points, percent_chart
from analysis.report.paper_pictures import contact
from analysis.report.piece_sheet import NO_STRENGTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.comparison import Comparison, GroupSummary
    from analysis.model.monitoring import Track
    from analysis.model.outlook import FormWear
    from analysis.report.paper import Paper

_MOST_SIGNALS = 6
_SPREAD = 0.6  # of the room of a level that its pours take


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """A piece of a pour: one row of its sheet, all in words."""

    piece: str
    form: str
    made: str
    void_area: str
    outcome: str
    verdict: str = ""


def trial_sheet(
    comparison: Comparison,
    *,
    question: str,
    answer: Sequence[str],
    names: Sequence[str],
    made_on: str,
    page: str = "A4",
) -> bytes:
    """Lay out a comparison as PDF.

    Parameters
    ----------
    comparison : Comparison
        What was compared.
    question : str
        The sheet's title.
    answer : sequence of str
        The head line first, then what goes with it and the other pairs.
    names : sequence of str
        Of the levels, as in ``comparison.levels``.
    made_on : str
        Day.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.
    """
    paper = new_paper(question, page=page, foot=f"{question}, {made_on}")
    head = comparison.head
    big(paper, answer[0])
    lines(paper, answer[1:])
    if comparison.outcome == "void_area_percent" and len(comparison.pieces.value):
        _level_chart(paper, comparison, names)
    rows = [
        (
            name,
            str(group.n_pieces),
            str(group.n_pours),
            "-" if group.geometric_mean is None else rounded(group.geometric_mean, 3),
        )
        for name, group in zip(names, _groups(comparison), strict=True)
    ]
    unit = ", %" if comparison.outcome.endswith("_percent") else ""
    heading(paper, "What this is based on")
    table(
        paper,
        ("Group", "Pieces", "Pours", f"Geometric mean{unit}"),
        rows,
        widths=(4, 1, 1, 2),
        align=("L", "R", "R", "R"),
    )
    lines(paper, map(said, (*head.rests_on, *comparison.notes)), bullet="-")
    aliases = (f"{alias_words(one)} {cure_words(one)}" for one in head.aliases)
    misleading = (*map(said, head.why), *aliases, *map(said, head.misleading))
    heading(paper, "What could be misleading")
    told = misleading or ("Nothing that the log shows.",)
    lines(paper, told, bullet="-")
    if head.needed is not None:
        heading(paper, "What to cast next")
        lines(paper, (said(head.needed),))
    lines(paper, (f"How: {said(head.method)}.", NO_STRENGTH), small=True)
    return finished(paper)


def _groups(comparison: Comparison) -> list[GroupSummary]:
    found = {
        group.name: group for pair in comparison.pairs for group in pair.groups
    } | {group.name: group for group in comparison.head.groups}
    return [found[level] for level in comparison.levels]


def _level_chart(paper: Paper, comparison: Comparison, names: Sequence[str]) -> None:
    shown = comparison.pieces
    x = np.zeros(len(shown.value))
    for at, level in enumerate(comparison.levels):
        mine = shown.level == level
        _, pour = np.unique(shown.pour[mine], return_inverse=True)
        most = max(int(pour.max(initial=0)), 1)
        # Pours stand beside each other about their level, pieces of a pour in line.
        x[mine] = at + _SPREAD * (pour / most - 0.5)
    means = [
        Line(
            x=np.array([at - _SPREAD / 2, at + _SPREAD / 2]),
            y=np.full(2, group.geometric_mean),
        )
        for at, group in enumerate(_groups(comparison))
        if group.geometric_mean is not None
    ]
    percent_chart(
        paper,
        Points(x=x, y=shown.value, marked=shown.used),
        means,
        ticks=list(enumerate(names)),
        title="Each mark a piece, by pour (rings do not count); bars: geometric means",
    )


def pour_sheet(
    *,
    name: str,
    made: Sequence[tuple[str, str]],
    rows: Sequence[SheetRow],
    status: str,
    followed: str = "",
    track: Track | None,
    pictures: Sequence[tuple[bytes, str]],
    page: str = "A4",
) -> bytes:
    """Lay out a pour as PDF: facts, pieces, its place among the pours, its photos.

    Parameters
    ----------
    name : str
        Of the pour.
    made : sequence of (str, str)
        How it was mixed and in what weather.
    rows : sequence of SheetRow
        Its pieces.
    status : str
        What the chart says, in one sentence.
    followed : str
        Which pieces the chart follows; empty for all.
    track : Track or None
        The pours of its product line; None where none is measured.
    pictures : sequence of (bytes, str)
        Of its pieces, with names.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.
    """
    paper = new_paper(f"Pour {name}", page=page)
    if status:
        big(paper, status)
    if followed:
        lines(paper, (followed,))
    facts(paper, made)
    if track is not None and len(track.points):
        _pour_chart(paper, track, name)
    heading(paper, "Pieces")
    table(
        paper,
        ("Piece", "Form", "Made", "Void area", "Target", "Outcome"),
        [
            (one.piece, one.form, one.made, one.void_area, one.verdict, one.outcome)
            for one in rows
        ],
        widths=(1.8, 2.7, 3.7, 2.8, 3.4, 2),
    )
    return _ended(paper, "Faces", pictures)


def _ended(paper: Paper, title: str, pictures: Sequence[tuple[bytes, str]]) -> bytes:
    """Show the faces, and say what a photo does not tell."""
    if pictures:
        heading(paper, title)
        contact(paper, pictures)
    lines(paper, (NO_STRENGTH,), small=True)
    return finished(paper)


def _pour_chart(paper: Paper, track: Track, name: str) -> None:
    points = track.points
    x = np.arange(len(points), dtype=np.float64)
    limits = [
        Line(x=x, y=100 * column, dashed=dashed)
        for column, dashed in (
            (points.lower, True),
            (points.centre, False),
            (points.upper, True),
        )
    ]
    percent_chart(
        paper,
        Points(x=x, y=100 * points.value, marked=points.pour == name),
        limits,
        ticks=[(float(at), str(pour)) for at, pour in enumerate(points.pour)],
        title="Pours; the filled mark is this one"
        + ("; dashed: usual limits" if np.isfinite(points.centre).any() else ""),
    )
    _signals(paper, track, name)


def _signals(paper: Paper, track: Track, name: str) -> None:
    """Name the pours that stand out and why, this one first, then the latest."""
    points = track.points
    out = np.flatnonzero(points.signals.any(axis=0))[::-1].tolist()
    out.sort(key=lambda at: points.pour[at] != name)
    if out:
        heading(paper, "Pours that stand out")
    told = []
    for at in out[:_MOST_SIGNALS]:
        why = "; ".join(
            rule.name
            for rule, on in zip(track.rules, points.signals[:, at], strict=True)
            if on
        )
        told.append(f"{points.pour[at]}: {why}")
    lines(paper, told, bullet="-")
    if len(out) > _MOST_SIGNALS:
        more = f"{len(out) - _MOST_SIGNALS} earlier ones are in the log."
        lines(paper, [more], small=True)


def form_sheet(
    *,
    name: str,
    made: Sequence[tuple[str, str]],
    advice: str,
    wear: FormWear | None,
    pictures: Sequence[tuple[bytes, str]],
    page: str = "A4",
) -> bytes:
    """Lay out a form as PDF: facts, finish over its uses, last faces.

    Parameters
    ----------
    name : str
        Of the form.
    made : sequence of (str, str)
        Facts.
    advice : str
        What its wear suggests, in a word or two; empty where nothing is measured.
    wear : FormWear or None
        Finish over its uses.
    pictures : sequence of (bytes, str)
        Last faces out of it.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.
    """
    paper = new_paper(f"Form {name}", page=page)
    if advice:
        big(paper, advice)
    if wear is not None:
        lines(paper, [note_words(one) for one in (wear.evidence, *wear.notes)])
    facts(paper, made)
    if wear is not None and len(wear.use):
        percent_chart(
            paper,
            Points(
                x=wear.use,
                y=100 * wear.share,
                marked=np.ones(len(wear.use), dtype=np.bool_),
            ),
            ticks=[(use, f"{use:g}") for use in np.unique(wear.use).tolist()],
            title="Castings in this form",
        )
    return _ended(paper, "Last faces", pictures)
