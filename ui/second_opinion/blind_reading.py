"""One face measured blind: scale, outline and voids by the person at the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings
from analysis.services import gauge as service
from analysis.services import log as log_service
from analysis.services.photos import scale_from_points, scale_typed
from analysis.services.photos import seen as seen_as
from analysis.services.sheets import with_lens_doubt
from ui import cache
from ui import words as all_words
from ui.pieces import review_screen
from ui.second_opinion import study_words as words
from ui.widgets.fields import number, segments
from ui.widgets.marks import marked
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from analysis.model.gauge import Cell, Study
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.reading import Reading
    from analysis.services.log import Log

_CORNERS = 3
_ENDS = 2


def measure_cell(log: Log, study: Study, cell: Cell, names: dict[int, str]) -> None:
    """Lead one person through one measuring of a study."""
    place = study.plan.order.index(cell)
    draft = f"study {study.id} {place}"
    shop = study.plan.kind == "shop"
    plain(words.next_one(cell, names[cell.item], shop=shop))
    if shop:
        photo, before = _taken(draft), None
    else:
        photo, before = _stored(log, cell.item)
    if photo is None:
        return
    opened = review_screen.blind_case(draft)
    if opened is None:
        _mark(log, photo, before, draft)
        return
    hint(words.DECIDE)
    review_screen.decide(log, blind=True)

    def keep() -> None:
        case, mine = review_screen.blind_case(draft) or opened
        data = _bytes(log, photo, draft, shop=shop)
        service.keep_cell(log, study, cell, case, mine, photo_bytes=data, photo=photo)
        review_screen.forget()

    act_button(words.KEEP_CELL, keep, key=f"keep {draft}", main=True, wide=True)
    st.button(words.MARK_ANEW, on_click=review_screen.forget, key=f"anew {draft}")


def _stored(log: Log, reading_id: int) -> tuple[Photo, Reading]:
    reading = log_service.load_reading(log, reading_id)
    data = log_service.photo_bytes(log, reading.photo_sha256)
    return cache.photo(reading.photo_sha256, "photo", data), reading


def _taken(draft: str) -> Photo | None:
    """Ask for the photo that is to be taken now."""
    file = st.file_uploader(
        words.TAKE_PHOTO, type=words.FILE_KINDS, key=f"photo of {draft}"
    )
    if file is None:
        return None
    data = file.getvalue()
    return cache.photo(log_service.digest(data), file.name, data)


def _bytes(log: Log, photo: Photo, draft: str, *, shop: bool) -> bytes:
    if shop:
        data: bytes = st.session_state[f"photo of {draft}"].getvalue()
        return data
    return log_service.photo_bytes(log, photo.sha256)


def _mark(log: Log, photo: Photo, before: Reading | None, draft: str) -> None:
    """Ask for scale and outline, then measure."""
    view = None if before is None else before.face.view
    if view is not None and before is not None:
        # The view comes from a card, a sheet or a known size: it is not marked anew.
        photo_seen, scale = seen_as(photo, view), before.scale
        hint(words.VIEW_STAYS)
    else:
        photo_seen, scale = photo, _scale(photo, draft)
    outline = _outline(photo_seen, draft)
    ready = scale is not None and (outline is None or len(outline) >= _CORNERS)
    pressed = st.button(
        words.MEASURE_BLIND,
        type="primary",
        width="stretch",
        disabled=not ready,
        key=f"measure {draft}",
    )
    if not pressed:
        return
    face = Face(
        outline_px=None if outline is None else np.array(outline)[:, ::-1],
        view=view,
        left_out_px=() if before is None else before.face.left_out_px,
    )
    bar = st.progress(0.0, all_words.STARTING)

    def tell(part: float, what: str) -> None:
        bar.progress(part, what)

    try:
        case = service.measured_again(
            photo,
            scale=scale,
            face=face,
            settings=MeasureSettings() if before is None else before.settings,
            draft=draft,
            progress=tell,
        )
    except StruckfaceError as error:
        refuse(error)
        return
    finally:
        bar.empty()
    review_screen.open_blind(log, case)
    st.rerun()


def _scale(photo: Photo, draft: str) -> Scale | None:
    """Ask for the scale; None while something is missing."""
    way = segments(words.SCALE, words.SCALE_WAYS, "study scale way")
    try:
        if way == "typed":
            value = number(all_words.MM_PER_PX, f"mm per px {draft}")
            return None if value is None else scale_typed(value)
        ends = marked(photo, words.RULER, key=f"ruler {draft}", most=_ENDS, mode="line")
        apart = number(words.APART, f"apart {draft}", unit="mm")
        if len(ends) < _ENDS or apart is None:
            return None
        rows = np.array(ends)[:, ::-1]
        return with_lens_doubt(photo, scale_from_points(rows, apart), rows)
    except StruckfaceError as error:
        refuse(error)
        return None


def _outline(photo: Photo, draft: str) -> Points | None:
    """Ask for the face's corners; None for the whole photo."""
    way = segments(words.OUTLINE, words.OUTLINE_WAYS, "study outline way")
    if way == "whole":
        return None
    return marked(photo, words.CORNERS, key=f"corners {draft}", mode="polygon")
