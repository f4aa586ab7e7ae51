"""Reviewing a reading by tap: choose a void, say what it is, save."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import review as service
from analysis.services.photos import encoded, preview
from ui import state, words
from ui.pieces import review_edit, review_words
from ui.pieces import review_taps as taps
from ui.state import is_answer
from ui.widgets.fields import segments
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.picture import DrawnSpot, Tap, picture
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.log_views import ReadingLine
    from analysis.model.photo import Photo
    from analysis.model.review import Review
    from analysis.services.log import Log
    from analysis.services.review import ReviewCase, Spot

_LONGEST_PX = 2400
# Letters of a keyboard say nothing to a thumb.
_STYLE = "<style>@media (pointer: coarse) { button kbd { display: none; } }</style>"
_WAY, _SIGN = "review way", "review signature"


def is_open(line: ReadingLine) -> bool:
    """Tell whether this reading, or the one it rests on, is being reviewed."""
    case: ReviewCase | None = st.session_state.get(taps.CASE)
    return case is not None and case.reading_id == (line.reviews_id or line.id)


def offer(log: Log, line: ReadingLine, photo: Photo) -> None:
    """Offer to review a reading."""
    if st.button(review_words.START, key="review start", width="stretch"):
        bar = st.progress(0.0, review_words.OPENING)

        def tell(part: float, what: str) -> None:
            bar.progress(part, what)

        try:
            case = service.open_case(log, line, photo, tell)
            st.session_state[taps.REVIEW] = service.begun(log, case, line)
        except StruckfaceError as error:
            refuse(error)
            return
        finally:
            bar.empty()
        st.session_state[taps.CASE] = case
        st.session_state[taps.CHOSEN] = None
        st.rerun()


@st.fragment
def review(log: Log, on_saved: Callable[[], None]) -> None:
    """Draw the review that is open."""
    if taps.opened() is None:
        st.rerun()  # closed meanwhile: the page shows what comes instead
    st.header(review_words.TITLE, anchor=False)
    decide(log)
    with st.container():
        case, mine = st.session_state[taps.CASE], st.session_state[taps.REVIEW]
        _keep(log, case, mine, on_saved)


def open_blind(log: Log, case: ReviewCase) -> None:
    """Take up a case of no stored reading."""
    st.session_state[taps.REVIEW] = service.begun(log, case, None)
    st.session_state[taps.CASE] = case
    st.session_state[taps.CHOSEN] = None


def blind_case(draft: str) -> tuple[ReviewCase, Review] | None:
    """Return the case that is open under this draft with its decisions, if it is."""
    case: ReviewCase | None = st.session_state.get(taps.CASE)
    if case is None or case.draft != draft:
        return None
    return case, st.session_state[taps.REVIEW]


def forget() -> None:
    """Forget the case that is open."""
    for key in (
        taps.CASE,
        taps.REVIEW,
        taps.CHOSEN,
        taps.TROUBLE,
        taps.DRAWN,
        _WAY,
        review_edit.EDIT,
    ):
        st.session_state.pop(key, None)


def decide(log: Log, *, blind: bool = False) -> None:
    """Show the face with every spot and let each be decided.

    No share is told to a blind reviewer, who is to look at voids and not at figures.
    """
    case: ReviewCase = st.session_state[taps.CASE]
    mine: Review = st.session_state[taps.REVIEW]
    listed = service.spots(case, mine)
    st.html(_STYLE)
    after = service.reviewed_reading(case, mine)
    with st.container():
        if not blind:
            st.subheader(
                review_words.shares(case.reading.summary, after.summary), anchor=False
            )
    if review_edit.EDIT in st.session_state and _changing(log, case, mine, listed):
        _undo_redo(log, mine)
        return
    way = segments(review_words.WAY, review_words.WAYS, _WAY)
    with st.container():
        _picture(log, case, listed, way)
    with st.container():
        taps.show_trouble()
        if way == "pick":
            _chosen(log, listed)
        if way == "draw":
            hint(review_words.DRAW_HINT)
            with st.container(horizontal=True):
                st.button(
                    review_words.TAKE_DRAWN, on_click=taps.take_drawn, args=(log,)
                )
                st.button(review_words.PAINT_MISSED, on_click=review_edit.begin_brush)
    with st.container():
        if not blind:
            hint(review_words.sure(after.summary, stands_for_all=case.stands_for_all))
    _seen_all(log, mine)
    _undo_redo(log, mine)


def _seen_all(log: Log, mine: Review) -> None:
    """Let the reviewer say that nothing is left undecided."""
    seen = service.seen_all(mine.marks)
    key = f"seen all {seen}"
    st.checkbox(
        review_words.SEEN_ALL,
        value=seen,
        key=key,
        help=review_words.SEEN_ALL_SAYS,
        on_change=taps.say_seen,
        args=(log, key),
    )


def _undo_redo(log: Log, mine: Review) -> None:
    with st.container(horizontal=True):
        st.button(
            review_words.UNDO,
            on_click=taps.step,
            args=(log, "undo"),
            disabled=not mine.marks,
            shortcut="Mod+Z",
        )
        st.button(
            review_words.REDO,
            on_click=taps.step,
            args=(log, "redo"),
            disabled=not mine.undone,
            shortcut="Mod+Y",
        )


@st.cache_data(show_spinner=False, max_entries=4)
def _sharp_jpeg(sha256: str, _photo: Photo) -> bytes:  # noqa: ARG001  the key
    return encoded(preview(_photo.pixels, _LONGEST_PX), "JPEG")


def _picture(log: Log, case: ReviewCase, listed: tuple[Spot, ...], way: str) -> None:
    """Show the photo with every spot; a tap chooses, adds or draws."""
    chosen = st.session_state.get(taps.CHOSEN)

    taken = {"add": taps.add, "join": taps.join}.get(way, taps.choose)

    def tapped(tap: Tap) -> None:
        taken(log, tap)

    photo = case.photo
    points = picture(
        _sharp_jpeg(photo.sha256, photo),
        width_px=photo.width_px,
        height_px=photo.height_px,
        key=f"review of {case.draft or case.reading_id}",
        label=words.OVERLAY,
        mode="polygon" if way == "draw" else "pick",
        spots=_drawn(listed, None if way == "draw" else chosen),
        hint=review_words.HINTS.get(way, ""),
        version=f"{way} {len(st.session_state[taps.REVIEW].marks)}",
        on_tap=tapped,
    )
    st.session_state[taps.DRAWN] = points if way == "draw" else ()


def _drawn(listed: tuple[Spot, ...], chosen: int | None) -> list[DrawnSpot]:
    """Return the outlines, largest counted first, as keys go through them."""

    def style(spot: Spot) -> str:
        if not spot.counted:
            return "out"
        return "added" if spot.added else "counted"

    return [
        DrawnSpot(
            number=spot.number,
            style=style(spot),
            chosen=spot.number == chosen,
            line=tuple(
                (round(float(col), 1), round(float(row), 1))
                for row, col in spot.outline_px
            ),
        )
        for spot in sorted(listed, key=lambda one: (not one.counted, -one.diameter_px))
        if len(spot.outline_px) and not spot.replaced
    ]


def _chosen(log: Log, listed: tuple[Spot, ...]) -> None:
    """Say what the chosen spot is, and let it be decided."""
    chosen = st.session_state.get(taps.CHOSEN)
    if chosen is None or chosen >= len(listed):
        st.write(review_words.NOTHING_CHOSEN)
        return
    spot = listed[chosen]
    if not spot.counted:
        plain(review_words.spot(spot))
        st.button(
            review_words.COUNT_IT,
            on_click=taps.decide,
            args=(log, spot, None),
            width="stretch",
            shortcut="v",
        )
        return
    plain(f"{review_words.spot(spot)} {review_words.NOT_A_VOID}")
    with st.container(horizontal=True, gap="small"):
        for number, (reason, name) in enumerate(review_words.REASONS.items(), start=1):
            st.button(
                name,
                key=f"reject {reason}",
                on_click=taps.decide,
                args=(log, spot, reason),
                shortcut=str(number),
            )
    review_edit.offer(spot)


def _changing(
    log: Log, case: ReviewCase, mine: Review, listed: tuple[Spot, ...]
) -> bool:
    """Change the outline that was begun with; a tap joins it with another."""
    edit = st.session_state[review_edit.EDIT]
    if edit.spot is not None and edit.spot >= len(listed):
        review_edit.leave()
        return False
    taps.show_trouble()
    if edit.kind == "join":
        _picture(log, case, listed, "join")
        hint(review_words.EDIT_HINTS["join"])
        st.button(review_words.LEAVE_EDIT, on_click=review_edit.leave)
        return True

    def taken(new: Review) -> None:
        taps.take(log, new)
        st.session_state[taps.CHOSEN] = None

    def refused(error: StruckfaceError) -> None:
        st.session_state[taps.TROUBLE] = error

    photo = case.photo
    others = tuple(spot for spot in listed if spot.number != edit.spot)
    shown = others if edit.kind == "pull" else listed
    review_edit.change(
        case,
        mine,
        listed,
        review_edit.ShownReview(
            jpeg=_sharp_jpeg(photo.sha256, photo),
            spots=_drawn(shown, edit.spot),
            label=words.OVERLAY,
            take=taken,
            refuse=refused,
        ),
    )
    return True


def _keep(
    log: Log, case: ReviewCase, mine: Review, on_saved: Callable[[], None]
) -> None:
    """Sign and save, or leave."""
    if _SIGN not in st.session_state:
        st.session_state[_SIGN] = service.last_signature(log)
    signed_by = st.text_input(
        review_words.SIGN, key=is_answer(_SIGN), persist_state="session"
    )

    def save() -> None:
        service.save_review(
            log,
            reviews_id=case.reading_id,
            reading=service.reviewed_reading(case, mine),
            marks=mine.marks,
            signed_by=signed_by,
            save_token=state.save_token((case.reading_id, signed_by, mine.marks)),
        )
        service.drop_begun(log, case)
        on_saved()
        st.session_state[taps.TROUBLE] = None
        st.session_state["review saved"] = True
        forget()

    act_button(
        f"{review_words.SAVE} ({review_words.decisions(len(mine.marks))})",
        save,
        key="review save",
        about=case.reading_id,
        main=True,
        wide=True,
        disabled=not mine.marks,
    )
    with st.container(horizontal=True):
        if st.button(review_words.LEAVE, key="review leave"):
            _close()
        if mine.marks:
            act_button(
                review_words.DISCARD,
                lambda: _discard(log, case),
                key="review discard",
                about=case.reading_id,
            )


def _discard(log: Log, case: ReviewCase) -> None:
    service.drop_begun(log, case)
    forget()


def say_reviewed_share(log: Log) -> None:
    """Say how many pieces stand on a review, where any does."""
    said = review_words.reviewed_share(*service.reviewed_share(log))
    if said:
        hint(said)


def tell_saved() -> None:
    """Say once that a review was saved."""
    if st.session_state.pop("review saved", False):
        st.success(review_words.SAVED)


def _close() -> None:
    forget()
    st.rerun(scope="app")
