"""Points on the photo, tapped or typed; the typed text is the one truth."""

from __future__ import annotations

from contextlib import nullcontext
from typing import TYPE_CHECKING, Literal

import streamlit as st

from analysis.errors import InputError
from ui import words
from ui.cache import photo_jpeg
from ui.state import is_answer
from ui.widgets.picture import picture, zooms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.photo import Photo
    from analysis.model.points import Points


def read_points(text: str, name: str) -> Points:
    """Read ``x,y x,y``.

    Raises
    ------
    InputError
        Not pairs of numbers.

    Examples
    --------
    >>> read_points("10,20 30.5,40", "Face outline")
    ((10.0, 20.0), (30.5, 40.0))
    """
    try:
        pairs = tuple(
            tuple(float(part) for part in pair.split(",")) for pair in text.split()
        )
    except ValueError:
        pairs = ((),)
    if any(len(pair) != 2 for pair in pairs):  # noqa: PLR2004  x and y
        msg = f"{name} must be x,y pairs parted by blanks, {text!r} was given."
        raise InputError(msg)
    return tuple((pair[0], pair[1]) for pair in pairs)


def write_points(points: Points) -> str:
    """Write ``x,y x,y``.

    Examples
    --------
    >>> write_points(((10.0, 20.5),))
    '10,20.5'
    """
    return " ".join(f"{round(x, 1):.9g},{round(y, 1):.9g}" for x, y in points)


def read_lines(text: str, name: str) -> tuple[Points, ...]:
    """Read one list of points from each line that is not blank."""
    return tuple(read_points(line, name) for line in text.splitlines() if line.strip())


def read_named_lines(text: str, name: str) -> tuple[tuple[str, Points], ...]:
    """Read lines of points, each with a name and a colon before it where it has one.

    Raises
    ------
    InputError
        A line is not points.

    Examples
    --------
    >>> read_named_lines("left: 1,2 3,4", "Joint lines")
    (('left', ((1.0, 2.0), (3.0, 4.0))),)
    """
    found = []
    for line in text.splitlines():
        if line.strip():
            own, _, points = line.rpartition(":")
            found.append((own.strip(), read_points(points, name)))
    return tuple(found)


def write_named(name: str, points: Points) -> str:
    """Write such a line.

    Examples
    --------
    >>> write_named("left", ((1.0, 2.0),)), write_named("", ((1.0, 2.0),))
    ('left: 1,2', '1,2')
    """
    return f"{name}: {write_points(points)}" if name else write_points(points)


def set_marks(key: str, points: Points) -> None:
    """Mark points in the user's stead, or none."""
    st.session_state[key] = write_points(points)
    _renew(key)


def marked(
    photo: Photo,
    name: str,
    *,
    key: str,
    most: int | None = None,
    mode: Literal["points", "polygon", "line"] = "points",
    place: DeltaGenerator | None = None,
    is_shown: bool = True,
    lines: Sequence[Points] = (),
) -> Points:
    """Let the user mark points on the photo or type them.

    Parameters
    ----------
    photo : Photo
    name : str
        What the points are.
    key : str
        Where they are kept in the session, as text.
    most : int, optional
        Further taps mark nothing.
    mode : str
        How they are joined.
    place : DeltaGenerator, optional
        Where the picture is drawn; here, if not given.
    is_shown : bool
        False draws no picture: what was marked before holds.
    lines : sequence of Points
        Closed outlines drawn on the photo beside them.

    Returns
    -------
    tuple
        (x, y) px of the upright photo.

    Raises
    ------
    InputError
        The text is not points.
    """
    typed = st.session_state.get(key, "")
    try:
        before, is_points = read_points(typed, name), True
    except InputError:
        before, is_points = (), False
    if is_shown:
        version = f"{photo.key} {st.session_state.get(_version(key), 0)}"
        with nullcontext() if place is None else place:
            tapped = picture(
                photo_jpeg(photo.key, photo),
                width_px=photo.width_px,
                height_px=photo.height_px,
                key=f"{key} picture",
                label=name,
                mode=mode,
                points=before,
                max_points=most,
                lines=lines,
                zooms=zooms_of_marks(key),
                version=version,
            )
        if (is_points or tapped) and write_points(tapped) != write_points(before):
            st.session_state[key] = write_points(tapped)
            zooms = zooms_of(f"{key} picture")
            st.session_state[is_answer(_zooms(key))] = " ".join(
                f"{one:.4g}" for one in zooms
            )
    with st.expander(words.TYPE_POINTS):
        text = st.text_input(
            name,
            key=is_answer(key),
            help=words.POINTS_HELP,
            placeholder=words.POINTS_EXAMPLE,
            on_change=_renew,
            args=(key,),
            persist_state="session",
        )
    return read_points(text, name)


def zooms_of_marks(key: str) -> tuple[float, ...]:
    """Return display px per photo px of each tap; empty for points that were typed."""
    return tuple(map(float, st.session_state.get(_zooms(key), "").split()))


def _zooms(key: str) -> str:
    return f"{key} zooms"


def _version(key: str) -> str:
    return f"{key} version"


def _renew(key: str) -> None:
    """Let the picture take over what was typed."""
    st.session_state.pop(_zooms(key), None)
    st.session_state[_version(key)] = st.session_state.get(_version(key), 0) + 1
