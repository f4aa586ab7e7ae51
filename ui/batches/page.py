"""Batches: is the finish drifting, what differs, and will the next piece do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import batches as batches_service
from ui import cache
from ui.batches import words
from ui.batches.baseline import rules_in_use, show_baseline, show_rules
from ui.batches.chart import air_strip, count_chart, share_chart
from ui.batches.next_piece import show_chance
from ui.batches.pour import show_pour
from ui.cache import Scope
from ui.paper.offers import offer_pours
from ui.pieces.review_screen import say_reviewed_share
from ui.widgets.fields import pick, segments
from ui.widgets.inks import screen_inks
from ui.widgets.notice import heading, hint, refuse
from ui.words import MEASURE, NOT_MEASURED, STAGES, literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.monitoring import PieceColumns
    from analysis.services.batches import Batches

_ALL = ""


def render() -> None:
    """Draw the page."""
    st.title(words.BATCHES, anchor=False)
    try:
        log = cache.log()
        pieces = cache.pieces(log)
        if pieces is None:
            st.write(NOT_MEASURED)
            st.write(words.EMPTY_NEXT)
            st.page_link("measure/page.py", label=MEASURE)
            return
        # The answer and its chart stand above what they are asked for with.
        answer = st.container()
        scope = _choose(pieces)
        found = cache.batches(log, scope, rules_in_use())
    except StruckfaceError as error:
        refuse(error)
        return
    # Each in a container of its own: what comes and goes in one must not close the
    # next, which a person has opened.
    with st.container():
        _answer(found, answer)
    with st.container():
        pour = show_pour(log, pieces, found)
    with st.container():
        show_chance(log, pieces, found, scope.product_line)
    say_reviewed_share(log)
    show_baseline(log, found.track, scope)
    show_rules(found.track)
    offer_pours(log, found, pour)


def _choose(pieces: PieceColumns) -> Scope:
    """Let what is followed be chosen where there is a choice."""
    lines = batches_service.line_names(pieces)
    line = lines[0] if lines else None
    forms = batches_service.form_names(pieces, line)
    stages, sealings = (
        batches_service.stages_of(pieces),
        batches_service.sealings_of(pieces),
    )
    if max(len(names) for names in (lines, forms, stages, sealings)) < 2:  # noqa: PLR2004  a choice needs two
        return Scope(product_line=line)
    with st.expander(words.WHICH_PIECES):
        if len(lines) > 1:
            line = pick(words.LINE, _same(lines), "line", index=0)
            forms = batches_service.form_names(pieces, line)
        form = _one_of(words.FORM, words.ALL_FORMS, _same(forms), f"form of {line}")
        named = {name: words.SEALINGS[name] for name in sealings}
        aged = {name: STAGES.get(name, name) for name in stages}
        sealing = _one_of(words.SEALING, words.CAST_MOST, named, "sealing followed")
        stage = _one_of(words.STAGE, words.CAST_MOST, aged, "stage followed")
    return Scope(form=form, product_line=line, stage=stage, sealing=sealing)


def _same(names: Sequence[str]) -> dict[str, str]:
    return {name: name for name in names}


def _one_of(label: str, by_default: str, names: dict[str, str], key: str) -> str | None:
    """Let one be chosen where there are several; None until then."""
    if len(names) < 2:  # noqa: PLR2004  a choice needs two
        return None
    return pick(label, {_ALL: by_default, **names}, key, index=0) or None


def _answer(found: Batches, place: DeltaGenerator) -> None:
    points = found.track.points
    kind = "share"
    if np.isfinite(points.bugholes_per_m2).any():
        kind = segments(words.WHAT, words.WHATS, "batches drawn")
    chart = (share_chart if kind == "share" else count_chart)(found, screen_inks())
    with_air = np.isfinite(found.air_c).any() and st.toggle(words.SHOW_AIR)
    with place:
        heading(found.sentence)
        st.altair_chart(chart, width="stretch", alt=found.sentence)
        if with_air:
            st.altair_chart(
                air_strip(found, screen_inks()), width="stretch", alt=words.AIR_AXIS
            )
        has_band = np.isfinite(points.centre).any()
        hint(words.HOW_TO_READ if has_band else words.NO_BAND)
        if words.gap_line(found.track):
            hint(literal(words.gap_line(found.track)))


if __name__ == "__main__":
    render()
