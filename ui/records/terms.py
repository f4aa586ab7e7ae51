"""The words of the log: added, renamed, merged, parted again."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import records
from analysis.vocabulary import RESERVED, VOCABULARIES
from ui.records import words
from ui.widgets.notice import hint, plain, plain_lines
from ui.widgets.presses import act_button
from ui.words import CHOOSE

if TYPE_CHECKING:
    from analysis.model.log_views import Term
    from analysis.services.log import Log


def show_terms(log: Log) -> None:
    """Show the words of one vocabulary, and change them."""
    vocabulary = st.selectbox(
        words.WHICH_WORDS,
        sorted(VOCABULARIES, key=words.vocabulary_name),
        format_func=words.vocabulary_name,
        key="vocabulary",
    )
    hint(words.WORDS_STAY)
    terms = records.list_terms(log, vocabulary)
    plain_lines([words.term_line(one.name, one.uses) for one in terms])
    if not terms:
        st.write(words.NO_WORD)
    _add(log, vocabulary, len(terms))
    own = [one for one in terms if one.name not in RESERVED]
    if own:
        _change(log, vocabulary, own)
    _merged(log, vocabulary)


def _add(log: Log, vocabulary: str, count: int) -> None:
    # The field is a new one, and empty, once the list has grown.
    name = st.text_input(words.NEW_WORD, key=f"new word {vocabulary} {count}")
    act_button(
        words.ADD_WORD,
        partial(records.add_term, log, vocabulary, name),
        key=f"add word {vocabulary} {count}",
    )


def _change(log: Log, vocabulary: str, terms: list[Term]) -> None:
    names = [one.name for one in terms]
    word = st.selectbox(
        words.WORD, names, index=None, placeholder=CHOOSE, key=f"word of {vocabulary}"
    )
    if word is None:
        return
    left, right = st.columns(2)
    with left:
        new = st.text_input(words.RENAME_TO, key=f"rename {vocabulary} {word}")
        act_button(
            words.RENAME,
            partial(records.rename_term, log, vocabulary, word, new),
            key=f"rename word {vocabulary} {word}",
            disabled=not new.strip(),
        )
    with right:
        others = [name for name in names if name != word]
        into = st.selectbox(
            words.MERGE_INTO,
            others,
            index=None,
            placeholder=CHOOSE,
            key=f"merge {vocabulary} {word}",
        )
        act_button(
            words.MERGE,
            partial(records.merge_terms, log, vocabulary, word, str(into)),
            key=f"merge word {vocabulary} {word}",
            disabled=into is None,
        )


def _merged(log: Log, vocabulary: str) -> None:
    """Offer to take back each merge that stands."""
    last = {
        one.before: one
        for one in records.term_history(log, vocabulary)
        if one.change in {"merged", "parted"}
    }
    merged = [one for one in last.values() if one.change == "merged"]
    if not merged:
        return
    st.header(words.MERGED, anchor=False)
    for one in merged:
        with st.container(horizontal=True, vertical_alignment="center"):
            plain(f"{one.before} = {one.after}")
            act_button(
                words.PART_AGAIN,
                partial(records.part_term, log, vocabulary, one.before),
                key=f"part {vocabulary} {one.before}",
            )
