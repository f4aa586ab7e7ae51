"""The fields of a new piece: form, pour, joint sealing, vibration."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import InputError
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.services import log as log_service
from analysis.vocabulary import NONE, NOT_APPLICABLE
from ui import words
from ui.state import is_answer
from ui.widgets.fields import day_format, line, number, pick, pick_word

if TYPE_CHECKING:
    from analysis.services.log import Log
    from analysis.services.proposing import ProposedPiece

NEW = 0
NOT_KNOWN = -1
_UNKNOWN = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceAnswers:
    """A new piece as the fields say it now. A key is `NEW`, `NOT_KNOWN` or an id."""

    form_id: int | None
    form_type: str
    form_name: str
    pour_id: int | None
    pour_name: str
    cast_on: date | None
    piece_name: str
    sealing: str
    method: str
    seconds: float | None


def fill_in_new(found: ProposedPiece) -> None:
    """Fill in the fields of a new piece; how it was made stays not known."""
    st.session_state.update(
        {
            "piece name": found.piece_name,
            "form": NOT_KNOWN if found.form_id is None else found.form_id,
            "pour": NEW if found.pour_id is None else found.pour_id,
            "pour name": found.pour_name,
            "cast on": date.today(),  # noqa: DTZ011  the workshop's day
        }
    )


def ask_piece(log: Log) -> PieceAnswers:
    """Show the fields and return what they say."""
    piece_name = line(words.PIECE_NAME, "piece name")
    form_id, form_type, form_name = _ask_form(log)
    pour_id, pour_name, cast_on = _ask_pour(log)
    sealing, method, seconds = _ask_how(log)
    return PieceAnswers(
        form_id=form_id,
        form_type=form_type,
        form_name=form_name,
        pour_id=pour_id,
        pour_name=pour_name,
        cast_on=cast_on,
        piece_name=piece_name,
        sealing=sealing,
        method=method,
        seconds=seconds,
    )


def said_as(log: Log, answers: PieceAnswers) -> str:
    """Say in a line what the new piece will be."""
    forms = {form.id: form.name for form in log_service.forms(log)}
    pours = {pour.id: words.pour_name(pour) for pour in log_service.pours(log)}
    is_new = answers.form_id == NEW
    form = answers.form_name if is_new else forms.get(answers.form_id, "")
    new_pour = answers.pour_id == NEW
    pour = answers.pour_name if new_pour else pours.get(answers.pour_id, "")
    return words.new_piece_line(answers.piece_name, form, pour, new_pour=new_pour)


def _ask_how(log: Log) -> tuple[str, str, float | None]:
    """Ask for joint sealing, vibration method and seconds.

    Not known, none and not applicable are three answers.
    """
    sealing = pick_word(
        words.SEALING,
        log_service.words(log, "joint_sealing"),
        "joint sealing",
        {
            _UNKNOWN: words.UNKNOWN,
            NONE: words.SEALING_NONE,
            NOT_APPLICABLE: words.SEALING_NOT_APPLICABLE,
        },
    )
    method = pick_word(
        words.METHOD,
        log_service.words(log, "vibration_method"),
        "vibration method",
        {_UNKNOWN: words.UNKNOWN, NONE: words.METHOD_NONE},
    )
    seconds = None
    if method != NONE:
        seconds = number(
            words.SECONDS, "vibration seconds", unit="s", help_text=words.SECONDS_HELP
        )
    return sealing, method, seconds


def _ask_form(log: Log) -> tuple[int | None, str, str]:
    known = {form.id: form.name for form in log_service.forms(log) if form.id}
    options = {**known, NEW: words.NEW_FORM, NOT_KNOWN: words.NO_FORM}
    form_id = pick(words.FORM, options, "form", index=len(options) - 1)
    if form_id != NEW:
        return form_id, "", ""
    form_type = pick_word(
        words.FORM_TYPE,
        log_service.words(log, "form_type"),
        "form type",
        {_UNKNOWN: words.UNKNOWN},
    )
    return NEW, form_type, line(words.FORM_NAME, "form name")


def _ask_pour(log: Log) -> tuple[int | None, str, date | None]:
    known = {
        pour.id: words.pour_name(pour) for pour in log_service.pours(log) if pour.id
    }
    options = {**known, NEW: words.NEW_POUR}
    pour_id = pick(words.POUR, options, "pour", index=len(options) - 1)
    if pour_id != NEW:
        return pour_id, "", None
    name = line(words.POUR_NAME, "pour name")
    cast_on: date = st.date_input(
        words.CAST_ON,
        "today",
        format=day_format(),
        key=is_answer("cast on"),
        persist_state="session",
    )
    return NEW, name, cast_on


def build_piece(answers: PieceAnswers) -> tuple[Piece, Pour | None, Form | None]:
    """Return the new piece, and its pour and form where they are new too.

    Raises
    ------
    InputError
        Something needed is missing, or a value the log does not take.
    """
    if answers.form_id is None or answers.pour_id is None:
        raise InputError(
            words.FORM_MISSING if answers.form_id is None else words.POUR_MISSING
        )
    form = pour = None
    if answers.form_id == NEW:
        form = Form(name=answers.form_name, form_type=answers.form_type or None)
    if answers.pour_id == NEW:
        cast_on = answers.cast_on or date.today()  # noqa: DTZ011  the workshop's day
        pour = Pour(name=answers.pour_name, cast_on=cast_on)
    joints: tuple[JointState, ...] = ()
    if answers.sealing != _UNKNOWN:
        joints = (JointState(sealing=answers.sealing),)
    steps: tuple[Step, ...] = ()
    if answers.method != _UNKNOWN or answers.seconds is not None:
        steps = (Step(method=answers.method or None, seconds=answers.seconds),)
    piece = Piece(
        name=answers.piece_name,
        pour_id=answers.pour_id,
        form_id=answers.form_id if answers.form_id > 0 else None,
        joints=joints,
        steps=steps,
    )
    return piece, pour, form
