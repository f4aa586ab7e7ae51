"""A map of the voids on a face, or on all faces out of a form, as SVG.

One outline colour; what an outline is, is said by its stroke: whole for voids, dashed
for honeycomb, long dashes for joints.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_INK, _OUTLINE, _GREY = "#23272b", "#1f5f8b", "#8d8a83"
_WIDTH = 640.0  # of the drawing, in its own units
_EDGE = 40.0
_LEAST_RADIUS = 1.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MappedFace:
    """A face to be drawn, mm, x to the right and y down, up as cast at the top.

    Attributes
    ----------
    outline_mm : ndarray of float64, (n, 2)
        (x, y).
    joints : tuple of (str, ndarray)
        Name and line.
    patches_mm : tuple of ndarray
        Honeycomb.
    voids_mm : ndarray of float64, (m, 3)
        x, y and diameter.
    up_known : bool
        Whether the top was up in the form.
    """

    outline_mm: NDArray[np.float64]
    joints: tuple[tuple[str, NDArray[np.float64]], ...]
    patches_mm: tuple[NDArray[np.float64], ...]
    voids_mm: NDArray[np.float64]
    up_known: bool


def void_map(faces: Sequence[MappedFace]) -> str:
    """Draw faces over each other, middle on middle.

    Parameters
    ----------
    faces : sequence of MappedFace
        One at least.

    Returns
    -------
    str
        SVG.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]])
    >>> one = MappedFace(outline_mm=square, joints=(), patches_mm=(),
    ...                  voids_mm=np.array([[20.0, 30.0, 4.0]]), up_known=True)
    >>> void_map([one]).count("<circle")
    1
    """
    size = np.max([np.ptp(face.outline_mm, axis=0) for face in faces], axis=0)
    zoom = (_WIDTH - 2 * _EDGE) / float(size[0])
    height = float(size[1]) * zoom + 2 * _EDGE
    parts = []
    for number, face in enumerate(faces):
        middle = (face.outline_mm.min(axis=0) + face.outline_mm.max(axis=0)) / 2
        parts.append(_drawn(face, middle, size / 2, zoom, first=number == 0))
    if all(face.up_known for face in faces):
        parts.append(
            f'<text x="{_WIDTH / 2:.0f}" y="27" text-anchor="middle" font-size="24" '
            f'fill="{_INK}">up, as cast</text>'
        )
    parts.append(_bar(float(size[0]), zoom, height))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:.0f} '
        f'{height:.0f}" font-family="sans-serif">'
        f'<rect width="100%" height="100%" fill="#fbfbf9"/>{"".join(parts)}</svg>'
    )


def _drawn(
    face: MappedFace,
    middle: NDArray[np.float64],
    half: NDArray[np.float64],
    zoom: float,
    *,
    first: bool,
) -> str:
    def placed(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((points - middle + half) * zoom + _EDGE)

    parts = []
    if first:
        parts.append(_line(placed(face.outline_mm), _GREY, "", closed=True))
        for name, line in face.joints:
            at = placed(line)
            parts.append(_line(at, _INK, "14 6", closed=False))
            place = at[int(np.argmin(at[:, 1]))]
            parts.append(
                f'<text x="{place[0] + 5:.1f}" y="{place[1] + 30:.1f}" font-size="24" '
                f'fill="{_INK}">{escape(name)}</text>'
            )
    parts += [
        _line(placed(area), _OUTLINE, "5 4", closed=True) for area in face.patches_mm
    ]
    for x, y, diameter in zip(
        *placed(face.voids_mm[:, :2]).T, face.voids_mm[:, 2], strict=True
    ):
        radius = max(diameter / 2 * zoom, _LEAST_RADIUS)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="none" '
            f'stroke="{_OUTLINE}" stroke-width="1.3"/>'
        )
    return "".join(parts)


def _line(
    points: NDArray[np.float64], colour: str, dashes: str, *, closed: bool
) -> str:
    tag = "polygon" if closed else "polyline"
    at = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<{tag} points="{at}" fill="none" stroke="{colour}" stroke-width="1.6"'
        f"{dashed}/>"
    )


def bar_size(across: float) -> float:
    """Return how long a bar of scale is: a round size of two fifths at most.

    Parameters
    ----------
    across : float
        Width of the picture, 0.0025 at least, in the unit wanted.

    Returns
    -------
    float
        1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> bar_size(400.0), bar_size(9.0)
    (100.0, 2.0)
    """
    return max(
        step * 10.0**power
        for power in range(-3, 5)
        for step in (1.0, 2.0, 5.0)
        if step * 10.0**power <= 0.4 * across
    )


def _bar(wide_mm: float, zoom: float, height: float) -> str:
    size = bar_size(wide_mm)
    y = height - 12
    return (
        f'<line x1="{_EDGE:.0f}" x2="{_EDGE + size * zoom:.1f}" y1="{y:.0f}" '
        f'y2="{y:.0f}" stroke="{_INK}" stroke-width="3"/>'
        f'<text x="{_EDGE + size * zoom + 8:.1f}" y="{y + 5:.0f}" font-size="24" '
        f'fill="{_INK}">{size:g} mm</text>'
    )
