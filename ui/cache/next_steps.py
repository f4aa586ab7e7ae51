"""The one next step of each question, worked out again only after the log changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import InputError
from analysis.model.plan import PlanQuestion
from analysis.services import next_steps, planner_shop
from ui import words
from ui.cache import changed_at, wear
from ui.cache import comparisons as cache_compare

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison
    from analysis.model.next_step import NextStep
    from analysis.model.vibration import VibrationAnswer, VibrationQuestion
    from analysis.services.log import Log
    from analysis.services.planner_shop import Shop
    from ui.cache.comparisons import ComparisonAsked


def shop(log: Log) -> Shop:
    """Return what the planner reads of a log."""
    return _shop(log.url, changed_at(log), log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=2)
def _shop(url: str, stamp: str, _log: Log) -> Shop:  # noqa: ARG001  the key
    return planner_shop.shop_of_log(_log, cache_compare.table(_log), wear(_log))


def answered(log: Log, question: VibrationQuestion) -> tuple[VibrationAnswer, NextStep]:
    """Return the answer about vibration and the next step."""
    return _answered(log.url, changed_at(log), question, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=16)
def _answered(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    question: VibrationQuestion,
    _log: Log,
) -> tuple[VibrationAnswer, NextStep]:
    return next_steps.answered(shop(_log), question)


def type_to_ask(log: Log) -> str | None:
    """Return the form type that the page on vibration opens on."""
    return _type_to_ask(log.url, changed_at(log), log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=2)
def _type_to_ask(url: str, stamp: str, _log: Log) -> str | None:  # noqa: ARG001  the key
    return next_steps.type_to_ask(shop(_log))


def of_factor(log: Log, asked: PlanQuestion) -> NextStep | None:
    """Return the next step for a factor; None where it cannot be planned."""
    return _of_factor(log.url, changed_at(log), asked, log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=16)
def _of_factor(
    url: str,  # noqa: ARG001  the key
    stamp: str,  # noqa: ARG001  the key
    asked: PlanQuestion,
    _log: Log,
) -> NextStep | None:
    try:
        return next_steps.step_of_factor(shop(_log), asked)
    except InputError:
        return None


def filled_in(log: Log, by: str) -> PlanQuestion:
    """Return the question about a factor as the next step asks it."""
    asked = PlanQuestion(by=by)
    try:
        return next_steps.filled_in(shop(log), asked)
    except InputError:
        return asked


def of_form(log: Log, form: str) -> NextStep | None:
    """Return the next step for a form."""
    return next_steps.step_of_form(shop(log), form)


def of_shop(log: Log) -> NextStep | None:
    """Return what to do before anything else; None in an empty log."""
    return _of_shop(log.url, changed_at(log), log)


@st.cache_resource(show_spinner=words.READING_LOG, max_entries=2)
def _of_shop(url: str, stamp: str, _log: Log) -> NextStep | None:  # noqa: ARG001  the key
    return next_steps.step_of_shop(shop(_log))


def with_step(log: Log, asked: ComparisonAsked, comparison: Comparison) -> Comparison:
    """Let the planner say what a comparison of the whole log needs."""
    if asked.from_day or asked.to_day or asked.stage or asked.within:
        return comparison
    alike = dict(asked.alike)
    if set(alike) - {"form_type"}:
        return comparison
    return next_steps.with_step(shop(log), comparison, alike.get("form_type"))
