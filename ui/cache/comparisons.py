"""Comparisons, worked out again only after the log changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from analysis.compare.choices import narrowed
from analysis.compare.compare import compare
from analysis.compare.within_piece import compare_joints
from analysis.errors import InputError
from analysis.model.comparison import CompareOptions
from analysis.services import comparisons
from analysis.services.tables import trials_of_log
from ui import words
from ui.cache import changed_at

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.comparison import Comparison, PieceTable
    from analysis.services.comparisons import TypicalPiece
    from analysis.services.log import Log


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparisonAsked:
    """All that a comparison depends on, beside the log."""

    by: str
    outcome: str
    stage: str | None = None
    alike: tuple[tuple[str, str], ...] = ()
    from_day: date | None = None
    to_day: date | None = None
    within: tuple[str, ...] = ()
    adjust_for: tuple[str, ...] = ()


def table(log: Log, stage: str | None = None) -> PieceTable:
    """Return the log's pieces with all their outcomes."""
    return _table(log.url, changed_at(log), stage, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=3)
def _table(url: str, stamp: str, stage: str | None, _log: Log) -> PieceTable:  # noqa: ARG001  the key
    return trials_of_log(_log, stage=stage)


def pieces(log: Log, asked: ComparisonAsked) -> PieceTable:
    """Return the pieces asked about.

    Raises
    ------
    InputError
        None is left.
    """
    left = narrowed(
        table(log, asked.stage),
        alike=dict(asked.alike),
        from_day=asked.from_day,
        to_day=asked.to_day,
    )
    if not len(left):
        raise InputError(words.NOTHING_LEFT)
    return left


def comparison(log: Log, asked: ComparisonAsked) -> Comparison:
    """Return what the page shows.

    Raises
    ------
    InputError
        There is nothing to compare; says what to do.
    """
    return _comparison(log.url, changed_at(log), asked, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=16)
def _comparison(url: str, stamp: str, asked: ComparisonAsked, _log: Log) -> Comparison:  # noqa: ARG001  the key
    options = CompareOptions(
        by=asked.by,
        outcome=asked.outcome,
        within=asked.within,
        adjust_for=asked.adjust_for or None,
    )
    return compare(pieces(_log, asked), options)


def looks(
    log: Log, asked: ComparisonAsked, pair: tuple[str, str]
) -> tuple[TypicalPiece, ...]:
    """Return typical pieces of two levels as pictures."""
    return _looks(log.url, changed_at(log), asked, pair, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=16)
def _looks(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    asked: ComparisonAsked,
    pair: tuple[str, str],
    _log: Log,
) -> tuple[TypicalPiece, ...]:
    return comparisons.looks(_log, comparison(_log, asked), pair)


def joints(log: Log) -> Comparison:
    """Return sealed against open joints inside pieces.

    Raises
    ------
    InputError
        No piece has both; says what to do.
    """
    return _joints(log.url, changed_at(log), log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=2)
def _joints(url: str, stamp: str, _log: Log) -> Comparison:  # noqa: ARG001  the key
    return compare_joints(comparisons.joints_of_log(_log))
