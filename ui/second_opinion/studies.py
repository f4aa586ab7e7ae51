"""What both kinds of studies share: begin, go on, finish."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from analysis.services import gauge as service
from analysis.services import log as log_service
from analysis.services.point_count import new_seed
from ui import state
from ui.second_opinion import study_words as words
from ui.second_opinion.blind_reading import measure_cell
from ui.widgets.fields import lines, segments
from ui.widgets.notice import hint, plain
from ui.widgets.presses import act_button
from ui.words import casting_called

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from analysis.model.gauge import Study
    from analysis.services.log import Log


def run_studies(
    log: Log,
    kind: str,
    what: str,
    begin: Callable[[Log], None],
    tell: Callable[[Log, Study], None],
) -> None:
    """Go on with the study that is open, or show the last one and offer another."""
    st.write(what)
    found = service.studies(log, kind)
    if found and found[0].finished_at is None:
        _go_on(log, found[0], tell)
        return
    if found:
        tell(log, found[0])
        hint(words.drawn(found[0]))
        _offer_out(log, found[0])
    if not found or st.toggle(words.NEW, key=f"another {kind}"):
        begin(log)


def _go_on(log: Log, study: Study, tell: Callable[[Log, Study], None]) -> None:
    hint(words.drawn(study))
    who = segments(
        words.I_AM, {one: one for one in study.plan.people}, f"i am {study.id}"
    )
    plain(words.progress(*service.left_for(study, who)))
    cell = service.next_cell(study, who)
    if cell is not None:
        measure_cell(log, study, cell, _names(log, study))
    elif len(study.measured) < len(study.plan.order):
        st.write(words.NOTHING_LEFT)
    if len(study.measured) == len(study.plan.order):
        tell(log, study)
    if study.measured:
        act_button(
            words.FINISH,
            lambda: service.finish_study(log, study.id),
            key=f"finish {study.id}",
        )
    _offer_out(log, study)


def _offer_out(log: Log, study: Study) -> None:
    act_button(
        words.TAKE_OUT,
        lambda: service.delete_study(log, study.id),
        key=f"take out study {study.id}",
    )


def _names(log: Log, study: Study) -> dict[int, str]:
    """Name the items: pieces, or the pieces of readings."""
    pieces = {
        key: casting_called(one) for key, one in log_service.casting_names(log).items()
    }
    if study.plan.kind == "shop":
        return {item: pieces.get(item, str(item)) for item in study.plan.items}
    of = log_service.pieces_of_readings(log, study.plan.items)
    return {item: pieces.get(of.get(item, 0), str(item)) for item in study.plan.items}


def people_field(kind: str) -> str:
    """Ask who takes part."""
    return lines(words.PEOPLE, f"people {kind}", example="north\nsouth", help_text="")


def start(
    log: Log,
    kind: str,
    items: list[int],
    people: str,
    *,
    lights: str = "",
    repeats: int = 1,
) -> None:
    """Draw the order and write it down.

    Raises
    ------
    StruckfaceError
        Something is missing.
    """
    plan = service.draw_study(
        kind,
        items,
        service.one_a_line(people, "The people"),
        lights=service.one_a_line(lights, "The lights") if kind == "shop" else (),
        repeats=repeats,
        seed=new_seed(),
    )
    token = state.save_token(("study", kind, items, people, lights, plan.seed))
    service.begin_study(log, plan, save_token=token)
    st.session_state.pop(f"another {kind}", None)


def table(rows: Sequence[tuple[str, ...]], columns: tuple[str, ...]) -> None:
    """Show a small table."""
    st.dataframe(pd.DataFrame(rows, columns=list(columns)), hide_index=True)
