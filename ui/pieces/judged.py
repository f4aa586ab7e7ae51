"""A piece held against limits: its own target, or published ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.grading.catalogue import OWN
from analysis.grading.wording import (
    criterion_lines,
    grade_lines,
    grade_sentence,
    tag_words,
)
from analysis.services import grading, pieces
from ui import state
from ui.paper import words
from ui.widgets.fields import pick
from ui.widgets.notice import hint, plain, plain_lines, refuse, refusing
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.services.log import Log


def show_judged(log: Log, casting: Casting) -> None:
    """Judge by the piece's own target; without one, by nothing until one is chosen."""
    st.header(words.JUDGE_BY, anchor=False)
    offered = {one.code: one for one in grading.choices(log, casting.piece)}
    names = {code: one.title for code, one in offered.items()}
    own = OWN in names
    if not own:
        hint(words.NO_TARGET)
    first = 0 if own else None
    code = pick(words.CRITERION, names, f"limits of {casting.piece.id}", index=first)
    if code is None:
        _kept(log, casting, may_keep=False)
        return
    try:
        found = grading.judge_piece(log, casting, code)
    except StruckfaceError as error:
        refuse(error)
        return
    plain(f"{offered[code].title}: {grade_sentence(found)}")
    if found.criterion.tag != "own":
        hint(literal(tag_words(found.criterion).capitalize() + "."))
    with st.expander(words.COUNTS):
        lines = (
            *grade_lines(found),
            *criterion_lines(found.criterion)[1:],
        )
        st.markdown("\n".join(f"- {literal(line)}" for line in lines))
    _kept(log, casting, may_keep=code == OWN and bool(found.grade))


def _kept(log: Log, casting: Casting, *, may_keep: bool) -> None:
    """List the verdicts kept; judging anew is an act of its own."""
    past = grading.verdicts(log, casting)
    if may_keep:
        lines = pieces.standing_lines(log, casting.piece.id)
        asked = (casting.piece.id, len(past), max(line.id for line in lines))
        st.button(
            words.KEEP,
            key=f"keep verdict {casting.piece.id}",
            on_click=refusing(grading.keep_verdict),
            args=(log, casting),
            kwargs={"save_token": state.save_token(asked)},
        )
    if past:
        plain_lines(
            [
                f"{words.KEPT_BEFORE}:",
                *(
                    words.verdict_line(one.verdict, in_force=one.in_force)
                    for one in past
                ),
            ]
        )
