"""Count points on a photo of the log."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import point_count as service
from ui import state
from ui.second_opinion import words
from ui.second_opinion.counter import counter
from ui.widgets.fields import line, segments
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.point_count import CountFigure, PointCount
    from analysis.model.reading import Reading
    from analysis.services.log import Log

_KEEPS = "point counts taken up"
_TROUBLE = "point count trouble"
_TURN = "point count turn"


def count_points(log: Log, photo: Photo, reading_id: int, reading: Reading) -> None:
    """Begin a count, go on with one, or show what came out."""
    counts = service.counts_of(log, reading_id)
    open_count = next((one for one in counts if one.finished_at is None), None)
    if open_count is not None:
        _go_on(log, photo, reading, open_count)
        return
    for at, count in enumerate(counts):
        figure = service.count_figure(count.plan, count.answers)
        if at == 0 and figure is not None:
            _told(log, reading, count, figure)
        else:
            plain(words.counted(count, figure))
    if not counts or st.toggle(words.ANOTHER, key=f"count again {reading_id}"):
        _begin(log, photo, reading_id, reading)


def _begin(log: Log, photo: Photo, reading_id: int, reading: Reading) -> None:
    st.write(words.POINTS_WHAT)
    need = service.needed(photo, reading)
    st.info(words.needed(need))
    kinds = words.COUNT_KINDS
    if need.within is None:
        kinds = {"even": kinds["even"]}
    kind = segments(words.KIND, kinds, "count kind")
    hint(words.KIND_SAYS[kind])
    many = segments(words.HOW_MANY, words.MANY, "count points")
    who = line(words.WHO, "count who")

    def begin() -> None:
        plan = service.draw_plan(photo, reading, kind, int(many), service.new_seed())
        token = state.save_token(("count", reading_id, kind, many, who, plan.seed))
        service.begin_count(
            log, reading_id=reading_id, who=who, plan=plan, save_token=token
        )
        st.session_state.pop(f"count again {reading_id}", None)

    act_button(words.DRAW, begin, key=f"draw points {reading_id}", main=True, wide=True)


@st.fragment
def _go_on(log: Log, photo: Photo, reading: Reading, stored: PointCount) -> None:
    """Show the point that comes next; each tap is kept as it comes."""
    kept: dict[int, PointCount] = st.session_state.setdefault(_KEEPS, {})
    count = kept.setdefault(stored.id, stored)
    hint(words.lot(count))
    trouble = st.session_state.pop(_TROUBLE, None)
    if trouble is not None:
        # What the browser holds is dropped for what the log holds.
        refuse(trouble)
        st.session_state[_TURN] = st.session_state.get(_TURN, 0) + 1
        count = kept[stored.id] = service.load_count(log, stored.id)
    plan, size = count.plan, count.plan.points_per_field
    at = count.fields_done
    if at < len(plan.fields):
        _field(log, photo, reading, count, at)
        hint(words.RING)
    figure = service.count_figure(plan, count.answers)
    done = at == len(plan.fields)
    if figure is not None and (done or figure.standard_low is not None):
        if not done:
            hint(words.EARLY)
        label = words.FINISH_ALL if done else words.FINISH_EARLY
        act_button(
            label,
            lambda: _finish(log, kept, count, figure),
            key="finish count",
            about=stored.id,
            main=done,
            wide=True,
        )
    act_button(
        words.TAKE_OUT,
        lambda: _take_out(log, kept, count),
        key=f"take out count {size}",
        about=stored.id,
    )


def _finish(
    log: Log, kept: dict[int, PointCount], count: PointCount, figure: CountFigure
) -> None:
    service.finish_count(log, count, figure)
    kept.pop(count.id, None)


def _take_out(log: Log, kept: dict[int, PointCount], count: PointCount) -> None:
    service.delete_count(log, count.id)
    kept.pop(count.id, None)


def _field(
    log: Log, photo: Photo, reading: Reading, count: PointCount, at: int
) -> None:
    plan, size = count.plan, count.plan.points_per_field
    jpeg, tile_px, smallest_px = _picture((count.id, at), photo, reading, count)

    def taken(answers: str) -> None:
        kept: dict[int, PointCount] = st.session_state[_KEEPS]
        now = kept[count.id]
        start = at * size
        all_of_them = (
            now.answers[:start] + answers.ljust(size, ".") + now.answers[start + size :]
        )
        try:
            version = service.keep_answers(log, now, all_of_them)
        except StruckfaceError as error:
            st.session_state[_TROUBLE] = error
            return
        kept[count.id] = replace(now, answers=all_of_them, version=version)

    counter(
        jpeg,
        tile_px=tile_px,
        smallest_px=smallest_px,
        points=size,
        answers=count.answers[at * size : (at + 1) * size].split(".")[0],
        before=at * size,
        key=f"counter of {count.id}",
        version=f"{count.id} {at} {st.session_state.get(_TURN, 0)}",
        words={
            "label": words.COUNTER_LABEL,
            "where": words.where(at + 1, len(plan.fields), plan.point_count),
            "next": words.NEXT_FIELD,
        },
        on_taps=taken,
    )


@st.cache_data(show_spinner=False, max_entries=8)
def _picture(
    key: tuple[int, int], _photo: Photo, _reading: Reading, _count: PointCount
) -> tuple[bytes, int, float]:
    return service.field_picture(_photo, _reading, _count.plan, key[1])


def _told(log: Log, reading: Reading, count: PointCount, figure: CountFigure) -> None:
    """Say what a finished count says."""
    st.header(words.share(figure), anchor=False)
    share = reading.summary.void_share
    st.write(words.agreement(service.agreement(figure, share), figure, share))
    hint(words.by_formula(figure))
    hint(words.lot(count))
    plain(words.counted_by(count))
    act_button(
        words.TAKE_OUT,
        lambda: service.delete_count(log, count.id),
        key=f"take out {count.id}",
    )
