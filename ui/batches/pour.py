"""One pour of the chart: how it came out, what differs, its pieces and photos."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.monitoring.differences import differences
from analysis.services import batches as batches_service
from analysis.services import pieces
from ui import cache
from ui.batches import words
from ui.widgets.fields import pick
from ui.widgets.notice import hint, plain, plain_lines, refuse
from ui.widgets.strike_card import lines_of_piece
from ui.words import PIECE

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.model.monitoring import Difference, PieceColumns
    from analysis.services.batches import Batches
    from analysis.services.log import Log

_OFFERED = 200
_SHOWN = 5
_PHOTO_PX = 110


def show_pour(log: Log, pieces: PieceColumns, found: Batches) -> str:
    """Let a pour be chosen, those that stand out first, and show it.

    Returns its name; the newest as long as none is chosen.
    """
    points = found.track.points
    marked = np.flatnonzero(points.signals.any(axis=0))[::-1].tolist()
    newest = range(len(points) - 1, max(len(points) - 1 - _OFFERED, -1), -1)
    offered = dict.fromkeys([*marked, *newest])
    now = found.status.at
    first = None if now is None else list(offered).index(now)
    at = pick(
        words.LOOK_AT,
        {one: words.pour_choice(points, one) for one in offered},
        f"pour of {found.track.of} {len(points)} {now}",
        index=first,
    )
    if at is None:
        return str(points.pour[-1])
    pour = str(points.pour[at])
    plain_lines(words.pour_lines(found.track, at))
    if points.signals[:, at].any():
        _differences(differences(pieces, found.track, pour))
    st.subheader(words.ITS_PIECES, anchor=False)
    try:
        show_castings(log, batches_service.castings_at(log, pieces, found.track, at))
    except StruckfaceError as error:
        refuse(error)
    return pour


def _differences(found: tuple[Difference, ...]) -> None:
    st.subheader(words.DIFFERENT, anchor=False)
    if not found:
        st.write(words.NOTHING_DIFFERENT)
        return
    for place, one in enumerate(found[:_SHOWN], start=1):
        plain(f"{place}. {words.difference_line(one)}")
    hint(words.ONLY_A_HINT)


def show_castings(log: Log, castings: tuple[Casting, ...]) -> None:
    """Show each piece with its latest photo and the way to it."""
    for casting in castings:
        with st.container(
            border=True, horizontal=True, wrap=False, vertical_alignment="center"
        ):
            with st.container(width=_PHOTO_PX):
                _photo(log, casting)
            with st.container():
                told = lines_of_piece(log, casting.piece.id)
                plain_lines((*words.casting_lines(casting), *told))
                # Beside the lines a phone would leave them a few letters.
                st.page_link(
                    "pieces/page.py",
                    label=words.OPEN,
                    query_params={"piece": str(casting.piece.id)},
                )


def _photo(log: Log, casting: Casting) -> None:
    lines = pieces.lines_to_show(log, casting.piece.id)
    if not lines:
        st.write(words.NO_PHOTO)
        return
    try:
        jpeg = cache.thumb_jpeg(log, lines[0].photo_sha256, lines[0].photo_name)
    except StruckfaceError:
        st.write(words.NO_PHOTO)
    else:
        st.image(jpeg, width=_PHOTO_PX, alt=f"{PIECE} {casting.piece.name}")
