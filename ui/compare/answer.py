"""The answer of a comparison: sentence, chart, what stands behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.checks import number as checked
from analysis.compare.equivalence import no_worse_words, sameness_words
from analysis.compare.headline import answer_lines
from analysis.errors import InputError, StruckfaceError
from ui.cache import comparisons as cache_compare
from ui.compare import words
from ui.compare.chart import is_paired, piece_chart, points_drawn
from ui.widgets.fields import number
from ui.widgets.inks import screen_inks
from ui.widgets.notice import heading, hint, plain, plain_lines, refuse
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.comparison import Comparison, PairResult
    from analysis.services.log import Log
    from ui.cache.comparisons import ComparisonAsked

_USUAL_BAND, _LEAST_BAND, _MOST_BAND = 1.25, 1.01, 100.0


def show_answer(comparison: Comparison, pair: PairResult) -> None:
    """Show the answer first, in words, then the pieces."""
    said, *cause, figures = answer_lines(comparison, pair)
    heading(said)
    for line in (*cause, *words.why(pair)):
        plain(line)
    with st.expander(words.FIGURES):
        plain(figures)
    _draw(comparison, said)


def _draw(comparison: Comparison, said: str) -> None:
    """Draw the pieces that count; those left out on demand."""
    place = st.container()
    used = comparison.pieces.used
    left_out = bool(
        used.any()
        and not used.all()
        and st.toggle(words.SHOW_LEFT_OUT, key="compare left out")
    )
    with place:
        chart = piece_chart(comparison, screen_inks(), left_out=left_out)
        st.altair_chart(chart, width="stretch", alt=said)
        read = words.PAIRED if is_paired(comparison) else words.HOW_TO_READ
        pale = left_out or not used.any()
        hint(f"{read} {words.PALE}" if pale else read)
    drawn, count = points_drawn(comparison, left_out=left_out)
    if drawn < count:
        hint(f"{drawn:,} of {count:,} pieces are drawn; all are counted.")


def show_behind(comparison: Comparison, pair: PairResult) -> None:
    """Show what could mislead, what is needed and what it rests on."""
    _listed(words.MISLEAD, words.misleading(pair) or [words.NO_DOUBT])
    if words.needed(pair):
        _listed(words.NEEDED, words.needed(pair))
    _listed(words.RESTS_ON, words.rests_on(comparison, pair))
    if len(comparison.pairs) > 1:
        with st.expander(words.ALL_PAIRS):
            for one in comparison.pairs:
                plain(" ".join(answer_lines(comparison, one)))
    with st.expander(words.METHOD):
        plain(words.method_line(pair))


def show_looks(log: Log, asked: ComparisonAsked, pair: PairResult) -> None:
    """Show a typical piece of each level, side by side at one scale."""
    st.subheader(words.LOOKS, anchor=False)
    try:
        found = cache_compare.looks(log, asked, pair.levels)
    except StruckfaceError as error:
        refuse(error)
        return
    if not found:
        st.write(words.NO_LOOKS)
        return
    with st.container(horizontal=True, wrap=False):
        for look in found:
            with st.container():
                said = words.look_line(asked.by, look)
                st.image(look.jpeg, width="stretch", alt=said)
                plain(said)
    hint(words.side_line(found[0].side_mm))


def show_same(by: str, pair: PairResult) -> None:
    """Let the user say what makes no difference, and hold the answer against it."""
    with st.expander(words.SAME):
        try:
            typed = number(
                words.BAND,
                "compare band",
                first=_USUAL_BAND,
                help_text=words.BAND_HELP,
            )
            band = _USUAL_BAND if typed is None else typed
            checked(band, words.BAND, low=_LEAST_BAND, high=_MOST_BAND)
            plain(sameness_words(pair, band, by))
            plain(no_worse_words(pair, band, by))
        except InputError as error:
            refuse(error)


def show_joints(log: Log) -> None:
    """Compare the joints inside pieces, once asked for."""
    with st.expander(words.JOINTS):
        st.write(words.JOINTS_WHY)
        if not st.toggle(words.JOINTS_ASK, key="compare joints"):
            return
        try:
            found = cache_compare.joints(log)
        except StruckfaceError:
            st.write(words.JOINTS_NEXT)
            return
        plain_lines(answer_lines(found))
        plain_lines([*words.misleading(found.head), *words.needed(found.head)])


def _listed(title: str, lines: Iterable[str]) -> None:
    st.subheader(title, anchor=False)
    st.markdown("\n".join(f"- {literal(line)}" for line in lines))
