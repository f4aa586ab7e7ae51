"""Sheets about a question, a pour and a form, out of the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.checks import as_kept
from analysis.compare.compare import compare
from analysis.compare.headline import answer_lines
from analysis.compare.level_words import level_words
from analysis.errors import NotInLogError, StruckfaceError
from analysis.fields import fields_of
from analysis.model.afterwards import Outcome
from analysis.model.comparison import CompareOptions
from analysis.model.field_values import column_value
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.model.writing import day, percent
from analysis.monitoring.note_words import ADVICE_WORDS
from analysis.monitoring.status import track_of
from analysis.report import log_sheets
from analysis.report.log_sheets import SheetRow
from analysis.services import batch_marks, batches
from analysis.services.forms import judge_of_log
from analysis.services.log import form_named
from analysis.services.next_steps import with_step
from analysis.services.photos import encoded, preview, read_photo, reading_overlay
from analysis.services.pieces import PieceFigure, figures_of_pieces
from analysis.services.planner_shop import shop_of_log
from analysis.services.records import today
from analysis.services.strike import strike_card, strike_lines
from analysis.services.tables import table_from_log, trials_of_log
from analysis.storage.castings import list_castings
from analysis.storage.photo_store import photo_bytes
from analysis.storage.readings import load_reading
from analysis.storage.records import list_all, load
from analysis.vocabulary import NONE, NOT_APPLICABLE, spoken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.fields import Field
    from analysis.model.comparison import Comparison
    from analysis.model.log import Pour
    from analysis.model.log_views import Casting
    from analysis.services.batches import Batches
    from analysis.services.log import Log

_PICTURE_PX = 520
_MOST_PICTURES = 24
_LAST = 6
# The heading names the pour; who cast it is no business of a customer.
_NOT_PRINTED = frozenset({"name", "cast_at", "zone", "cement_lot", "crew"})
_NAMED = 3  # levels in a title


def trial_sheet(
    log: Log, by: str, *, page: str = "A4", comparison: Comparison | None = None
) -> bytes:
    """Return the sheet of a comparison as PDF.

    Parameters
    ----------
    log : Log
        The log.
    by : str
        The factor.
    page : str
        ``"A4"`` or ``"Letter"``.
    comparison : Comparison, optional
        As asked on a screen; by default of all pieces of the log.

    Raises
    ------
    TableError
        No such factor, or fewer than two levels of it.
    """
    found = comparison
    if found is None:
        table = trials_of_log(log)
        asked = compare(table, CompareOptions(by=by))
        found = with_step(shop_of_log(log, table), asked)
    several = [one for one in found.pairs if one.levels != found.head.levels]
    said = answer_lines(found)
    said += [" ".join(answer_lines(found, one)) for one in several]
    names = [level_words(found.by, level) for level in found.levels]
    return log_sheets.trial_sheet(
        found,
        question=f"What improves the finish: {' or '.join(names[:_NAMED])}?",
        answer=said,
        names=names,
        made_on=day(today()),
        page=page,
    )


def pour_sheet(
    log: Log, name: str, *, page: str = "A4", followed: Batches | None = None
) -> bytes:
    """Return the sheet of a pour as PDF.

    Parameters
    ----------
    log : Log
        The log.
    name : str
        Of the pour.
    page : str
        ``"A4"`` or ``"Letter"``.
    followed : Batches, optional
        The pours as drawn on a screen; by default those of the product line that
        most of the pour was cast for.

    Raises
    ------
    NotInLogError
        There is no pour of this name.
    """
    castings = [one for one in list_castings(log) if one.pour.name == as_kept(name)]
    if not castings:
        msg = f"There is no pour {name!r} with pieces in the log: check its name."
        raise NotInLogError(msg)
    pour = castings[0].pour
    figures = figures_of_pieces(log)
    forms = {form.id: form.name for form in list_all(log, Form)}
    found = followed or _followed(log, castings)
    return log_sheets.pour_sheet(
        name=pour.name,
        made=_made(log, pour),
        rows=[
            _row(
                log,
                one,
                forms,
                figures.get(one.piece.id or 0),
            )
            for one in castings
        ],
        status="" if found is None else found.sentence,
        followed="" if found is None else track_of(found.track),
        track=None if found is None else found.track,
        pictures=_pictures(log, castings[:_MOST_PICTURES], figures),
        page=page,
    )


def form_sheet(log: Log, name: str, *, page: str = "A4") -> bytes:
    """Return the sheet of a form as PDF.

    Raises
    ------
    NotInLogError
        There is no form of this name.
    """
    form = form_named(log, name)
    castings = list_castings(log, form_id=form.id)
    figures = figures_of_pieces(log)
    wear = judge_of_log(log, table_from_log(log))([name]).get(name)
    measured = [
        one
        for one in castings
        if (figure := figures.get(one.piece.id or 0)) is not None and figure.lines
    ]
    uses = max((one.form_use or 0 for one in castings), default=0)
    joints = ", ".join(joint.name for joint in form.joints)
    return log_sheets.form_sheet(
        name=name,
        made=(
            ("Form type", form.form_type or ""),
            ("Face material", form.face_material or ""),
            ("Kind of face", form.face_kind or ""),
            ("Joints", joints),
            ("Castings", f"{uses}" if uses else ""),
        ),
        advice=ADVICE_WORDS[wear.advice] if wear else "",
        wear=wear,
        pictures=_pictures(log, measured[:_LAST], figures),
        page=page,
    )


def _followed(log: Log, castings: Sequence[Casting]) -> Batches | None:
    """Follow the product line of a pour; None where nothing of it is measured."""
    pieces = batches.pieces_of_log(log)
    if pieces is None:
        return None
    line = _line_of(log, castings)
    try:
        return batches.batches(
            pieces, batch_marks.marks(log, product_line=line), product_line=line
        )
    except StruckfaceError:
        return None


def _pictures(
    log: Log, castings: Sequence[Casting], figures: dict[int, PieceFigure]
) -> list[tuple[bytes, str]]:
    found = []
    for one in castings:
        figure = figures.get(one.piece.id or 0)
        if figure is None or not figure.lines:
            continue
        line = figure.lines[0]
        try:
            photo = read_photo(photo_bytes(log, line.photo_sha256), line.photo_name)
        except StruckfaceError:
            continue  # a photo that cannot be read has its figures in the table
        seen = reading_overlay(photo, load_reading(log, line.id))
        jpeg = encoded(preview(seen, _PICTURE_PX), "JPEG")
        found.append((jpeg, f"{one.piece.name}: {percent(line.void_share)} %"))
    return found


def _row(
    log: Log,
    casting: Casting,
    forms: dict[int | None, str],
    figure: PieceFigure | None,
) -> SheetRow:
    piece = casting.piece
    seconds = "" if piece.vibration_s is None else f" {piece.vibration_s:g} s"
    sealing = {None: "", NONE: "open joints"}.get(
        piece.joint_sealing, piece.joint_sealing or ""
    )
    method = piece.vibration_method or ""
    made = ", ".join(part for part in (sealing, f"{method}{seconds}".strip()) if part)
    use = f" ({casting.form_use})" if casting.form_use else ""
    outcomes = list_all(log, Outcome, piece_id=piece.id)
    return SheetRow(
        piece=piece.name,
        form=f"{forms.get(piece.form_id, '')}{use}",
        made=made,
        void_area=_share(figure),
        verdict=_verdict(log, casting) if figure is not None else "",
        outcome=spoken(outcomes[-1].outcome or "") if outcomes else "",
    )


def _verdict(log: Log, casting: Casting) -> str:
    card = strike_card(log, casting.piece, pour=casting.pour)
    return strike_lines(card)[0] if card.share is not None else ""


def _share(figure: PieceFigure | None) -> str:
    if figure is None:
        return "not measured"
    if len(figure.lines) != 1:
        photos = f", {len(figure.lines)} photos" if figure.lines else ""
        return f"{percent(figure.share)} %{photos}"
    (line,) = figure.lines
    low, high = percent(line.void_share_low), percent(line.void_share_high)
    return f"{percent(line.void_share)} % ({low} to {high})"


def _line_of(log: Log, castings: Sequence[Casting]) -> str | None:
    """Return the product line that most of a pour was cast for."""
    ids = [one.piece.product_line_id for one in castings if one.piece.product_line_id]
    if not ids:
        return None
    return load(log, ProductLine, max(set(ids), key=ids.count)).name


def _made(log: Log, pour: Pour) -> tuple[tuple[str, str], ...]:
    mix = "" if pour.mix_id is None else load(log, Mix, pour.mix_id).name
    told = {"cast_on": day(pour.cast_on), "mix_id": mix}
    return tuple(
        (one.label, told.get(one.name) or _measured(getattr(pour, one.name), one))
        for one in fields_of("pour")
        if one.name not in _NOT_PRINTED
    )


def _measured(value: object, one: Field) -> str:
    if value is None or value == NOT_APPLICABLE:
        return ""
    shown = column_value(value, one)
    return f"{shown:g} {one.unit}" if isinstance(shown, float) else str(shown or "")
