"""A photo on which points are marked by finger, mouse or keys."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
import streamlit as st

from analysis.checks import number, one_of
from analysis.checks import points as checked_points
from analysis.errors import InputError
from ui.widgets.component import component_beside

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike

    from analysis.model.points import Points

Mode: TypeAlias = Literal["points", "polygon", "line", "view", "pick", "brush"]

MODES = ("points", "polygon", "line", "view", "pick", "brush")
_FOCUS = ("x", "y", "across")
_ZOOMS = " zooms told"
KINDS = {b"\xff\xd8\xff": "jpeg", b"\x89PNG\r\n\x1a\n": "png"}


_shown = component_beside(__file__)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSpot:
    """An outline that can be picked.

    Attributes
    ----------
    number : int
        Given back when it is picked by keys.
    style : str
        ``counted``, ``out`` or ``added``.
    chosen : bool
        Whether a ring is drawn around it.
    line : tuple of (x, y)
        Photo px.
    """

    number: int
    style: str
    chosen: bool
    line: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """Where the photo was tapped to pick something.

    Attributes
    ----------
    x, y : float
        Photo px.
    reach_px : float
        How far off it may have been meant: half a fingertip, photo px.
    spot : int or None
        The outline picked by keys.
    """

    x: float
    y: float
    reach_px: float
    spot: int | None


def picture(
    preview: bytes,
    *,
    width_px: int,
    height_px: int,
    key: str,
    label: str = "Photo",
    mode: Mode = "points",
    points: ArrayLike = (),
    max_points: int | None = None,
    lines: Sequence[ArrayLike] = (),
    version: str = "",
    tallest: int = 640,
    spots: Sequence[DrawnSpot] = (),
    zooms: Sequence[float] = (),
    hint: str = "",
    brush_px: float = 0.0,
    focus: tuple[float, float, float] | None = None,
    on_change: Callable[[], None] | None = None,
    on_tap: Callable[[Tap], None] | None = None,
) -> Points:
    """Show a photo and return the points marked on it.

    Parameters
    ----------
    preview : bytes
        JPEG or PNG of the whole upright photo, as small as you like.
    width_px, height_px : int
        Size of the original upright photo; all points are in its pixels.
    key : str
        Names this picture in the session; a rerun with it keeps points and zoom.
    label : str
        What the photo shows, for screen readers.
    mode : str
        ``"points"``; ``"polygon"`` and ``"line"`` also join the points; ``"view"``
        only pans and zooms; ``"pick"`` tells each tap to `on_tap` and marks nothing;
        ``"brush"`` marks the path of one finger, two move the photo.
    points : array_like, (n, 2)
        (x, y) to begin with; looked at again only when `version` changes.
    max_points : int, optional
        Further taps mark nothing.
    lines : sequence of array_like, (n, 2)
        Closed outlines drawn on the photo, (x, y).
    version : str
        Another one drops the marked points for `points`, for good: they do not come
        back with a version that was shown before.
    tallest : int
        Greatest height on the screen, CSS px; never more than 70 % of the window.
    spots : sequence of DrawnSpot
        Outlines to pick from.
    zooms : sequence of float
        What `zooms_of` told of the points to begin with.
    hint : str
        Said below the photo while picking.
    brush_px : float
        Width of the brush, photo px.
    focus : tuple of float, optional
        (x, y, across) in photo px to be shown close up when `version` changes.
    on_change : callable, optional
        Called before the rerun that a change sets off.
    on_tap : callable, optional
        Called with each tap while picking, before the rerun it sets off.

    Returns
    -------
    tuple of (x, y)
        Photo px, x to the right, y down, from the centre of the top-left pixel: the
        left edge of the photo is at -0.5. In the order of marking.

    Raises
    ------
    InputError
        A size, mode, point or the preview cannot be used.

    Examples
    --------
    >>> picture(b"GIF89a", width_px=4, height_px=3, key="face")
    Traceback (most recent call last):
    analysis.errors.InputError: The preview must be a JPEG or PNG, b'GIF89a' was given.
    """
    one_of(mode, "The picture's mode", MODES)
    size = (
        number(width_px, "The photo's width", low=1, unit="px"),
        number(height_px, "The photo's height", low=1, unit="px"),
    )
    start = _plain(points, "The points marked")
    held = st.session_state.get(key)
    version = _this_turn(key, version)
    data = {
        "key": key,
        "version": version,
        "image": _data_url(preview),
        "width": size[0],
        "height": size[1],
        "tallest": tallest,
        "label": _aria_label(label, mode),
        "mode": mode,
        "most": max_points,
        "lines": [_plain(line, "An outline") for line in lines],
        "spots": [asdict(spot) for spot in spots],
        "zooms": list(zooms),
        "hint": hint,
        "brush": brush_px,
        "focus": None if focus is None else dict(zip(_FOCUS, focus, strict=True)),
        # What the session holds: a picture mounted anew begins with it.
        "points": _marks(held, size, version, start),
    }

    def tapped() -> None:
        tap = _tap(st.session_state.get(key), size)
        if on_tap is not None and tap is not None:
            on_tap(tap)

    result = _shown(
        key=key,
        data=data,
        on_marks_change=on_change or _nothing,
        on_tap_change=tapped,
    )
    st.session_state[f"{key}{_ZOOMS}"] = _zooms(result, version)
    return _marks(result, size, version, start)


def _this_turn(key: str, version: str) -> str:
    """Put before a version how often the picture has gone to another one.

    The browser's points carry it, so that points of a version that was left are not
    taken for points of the same version shown again.
    """
    name = f"{key} turn"
    before, turn = st.session_state.get(name, (version, 0))
    if before != version:
        turn += 1
    st.session_state[name] = (version, turn)
    return f"{turn} {version}"


def _nothing() -> None:
    pass


def _tap(state: object, size: tuple[float, float]) -> Tap | None:
    """Take the browser's tap if it can be one."""
    sent = state.get("tap") if isinstance(state, Mapping) else None
    if not isinstance(sent, Mapping):
        return None
    try:
        x, y = (number(sent.get(axis), "The tap sent") for axis in ("x", "y"))
        reach_px = number(sent.get("reach"), "The reach sent", low=0)
    except InputError:
        return None
    spot = sent.get("spot")
    return Tap(
        x=min(max(x, -0.5), size[0] - 0.5),
        y=min(max(y, -0.5), size[1] - 0.5),
        reach_px=reach_px,
        spot=spot if isinstance(spot, int) and spot >= 0 else None,
    )


def _aria_label(label: str, mode: Mode) -> str:
    zoom = "plus and minus zoom, 0 shows all of it"
    if mode == "pick":
        return (
            f"{label}: arrow keys move the cursor, Enter picks what is there, "
            f"N and P go to the next and the previous, {zoom}."
        )
    if mode == "view":
        return f"{label}: {zoom}."
    return (
        f"{label}: arrow keys move the cursor, Enter marks a point, Backspace removes "
        f"the last one, {zoom}."
    )


def _data_url(preview: bytes) -> str:
    kind = next(
        (kind for start, kind in KINDS.items() if preview.startswith(start)), ""
    )
    if not kind:
        msg = f"The preview must be a JPEG or PNG, {preview[:8]!r} was given."
        raise InputError(msg)
    return f"data:image/{kind};base64,{base64.b64encode(preview).decode('ascii')}"


def _plain(line: ArrayLike, name: str) -> Points:
    if len(np.atleast_1d(line)) == 0:
        return ()
    rounded = checked_points(line, name, least=1).round(3).tolist()
    return tuple((x, y) for x, y in rounded)


def zooms_of(key: str) -> tuple[float, ...]:
    """Return how large a picture was shown where each of its points was marked.

    Parameters
    ----------
    key : str
        As given to `picture`, which was drawn before.

    Returns
    -------
    tuple of float
        Display px per photo px, in the order of the points; empty where the browser
        has not told it of every point.
    """
    told: tuple[float, ...] = st.session_state.get(f"{key}{_ZOOMS}", ())
    return told


def _zooms(state: object, version: str) -> tuple[float, ...]:
    """Take the browser's zooms if they can be some."""
    marks = state.get("marks") if isinstance(state, Mapping) else None
    if not isinstance(marks, Mapping) or marks.get("version") != version:
        return ()
    try:
        return tuple(
            number(one, "The zoom sent", above=0) for one in marks.get("zooms") or ()
        )
    except (InputError, TypeError):
        return ()


def _marks(
    state: object, size: tuple[float, float], version: str, start: Points
) -> Points:
    """Take the browser's points if they are of this version and can be points."""
    marks = state.get("marks") if isinstance(state, Mapping) else None
    if not isinstance(marks, Mapping) or marks.get("version") != version:
        return start
    try:
        sent = _plain(marks.get("points", ()), "The points sent")
    except InputError:
        return start
    width, height = size
    return tuple(
        (min(max(x, -0.5), width - 0.5), min(max(y, -0.5), height - 0.5))
        for x, y in sent
    )
