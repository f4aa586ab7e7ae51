"""Change a void's outline: pull its points, cut it, join two, or brush."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import review_outlines as outlines
from ui.pieces import review_words as words
from ui.widgets.fields import segments
from ui.widgets.notice import hint
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.points import Points
    from analysis.model.review import Review
    from analysis.services.review import ReviewCase, Spot
    from ui.widgets.picture import DrawnSpot, Mode

EDIT = "review edit"
_BRUSH = "review brush"
_MODES: dict[str, Mode] = {"pull": "polygon", "cut": "line", "brush": "brush"}
_LEAST = {"pull": 3, "cut": 2, "brush": 1}


class Edit(NamedTuple):
    """What is being done to which spot; None is a void that was missed."""

    kind: str
    spot: int | None


class ShownReview(NamedTuple):
    """The photo as it is shown, and how a changed review is taken."""

    jpeg: bytes
    spots: list[DrawnSpot]
    label: str
    take: Callable[[Review], None]
    refuse: Callable[[StruckfaceError], None]


def offer(spot: Spot) -> None:
    """Offer what can be done to a void's outline."""
    hint(words.OUTLINE)
    with st.container(horizontal=True, gap="small"):
        for kind, name in words.EDITS.items():
            st.button(
                name,
                key=f"edit {kind}",
                on_click=_begin,
                args=(Edit(kind, spot.number),),
            )


def begin_brush() -> None:
    """Begin to paint a void that was missed."""
    _begin(Edit("brush", None))


def _begin(edit: Edit) -> None:
    st.session_state[EDIT] = edit


def leave() -> None:
    """Stop without a change."""
    st.session_state.pop(EDIT, None)


def change(
    case: ReviewCase, mine: Review, listed: tuple[Spot, ...], shown: ShownReview
) -> None:
    """Show the photo for the change that was begun, and take it."""
    edit: Edit = st.session_state[EDIT]
    spot = None if edit.spot is None else listed[edit.spot]
    on, radius_px = True, 0.0
    if edit.kind == "brush":
        if spot is not None:
            on = segments(words.BRUSH, words.BRUSHES, "review brush on") == "on"
        wide = segments(words.BRUSH_WIDE, words.BRUSH_WIDTHS, _BRUSH)
        radius_px = _radius(spot, wide)
    start: Points = ()
    if edit.kind == "pull" and spot is not None:
        few = outlines.few_corners(spot.outline_px)
        start = tuple((float(col), float(row)) for row, col in few)
    points = picture(
        shown.jpeg,
        width_px=case.photo.width_px,
        height_px=case.photo.height_px,
        key=f"edit of {case.draft or case.reading_id}",
        label=shown.label,
        mode=_MODES[edit.kind],
        points=start,
        max_points=2 if edit.kind == "cut" else None,
        spots=shown.spots,
        version=f"{edit.kind} {edit.spot} {len(mine.marks)}",
        brush_px=2 * radius_px,
        focus=_around(spot),
    )
    hint(words.EDIT_HINTS[edit.kind])
    line = np.array(points, dtype=np.float64).reshape(-1, 2)[:, ::-1]

    def use() -> None:
        try:
            shown.take(_changed(case, mine, edit, spot, line, radius_px, on=on))
        except StruckfaceError as error:
            shown.refuse(error)
            return
        leave()

    with st.container(horizontal=True):
        st.button(
            words.USE_EDIT,
            type="primary",
            disabled=len(line) < _LEAST[edit.kind],
            on_click=use,
        )
        st.button(words.LEAVE_EDIT, on_click=leave)


def _changed(
    case: ReviewCase,
    mine: Review,
    edit: Edit,
    spot: Spot | None,
    line: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    radius_px: float,
    *,
    on: bool,
) -> Review:
    if edit.kind == "brush" or spot is None:
        return outlines.paint(case, mine, spot, line, radius_px, on=on)
    if edit.kind == "cut":
        return outlines.cut(case, mine, spot, line)
    return outlines.pull(case, mine, spot, line)


def _around(spot: Spot | None) -> tuple[float, float, float] | None:
    """Return where a spot lies and how far it reaches, (x, y, across) in photo px."""
    if spot is None:
        return None
    low, high = spot.outline_px.min(axis=0), spot.outline_px.max(axis=0)
    row, col = (low + high) / 2
    return float(col), float(row), float(max(4.0, (high - low).max()))


def _radius(spot: Spot | None, wide: str) -> float:
    """Half of the brush: a part of the void's width, or of the photo's px."""
    part = {"thin": 0.06, "usual": 0.15, "thick": 0.3}[wide]
    across = 20.0 if spot is None else spot.diameter_px
    return max(0.75, part * across)
