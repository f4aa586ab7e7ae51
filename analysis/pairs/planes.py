"""What two lined-up photos show together: relief, colour, and the darker of both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.imaging.registration_blocks import laid_on
from analysis.pairs.spots import background_of
from analysis.robust import MAD_TO_SD, median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float32]

_SMOOTHING_PX, _DARKEST = 0.7, 1e-4
# Depths beyond this say nothing more: e^-4 of the background is black.
_DEEPEST_LOG = 4.0
# Cubic interpolation reaches two px past the second photo's edge.
_EDGE = np.ones((5, 5), np.uint8)
_DEEPENED, _SURE_SIGMAS = 3.0, 2.0
# What sinks is looked for on the picture reduced by four, which sees every shadow, and
# to so many px, which closes the lit floors of long pits; on a background of so many
# cells along its longer side: the light of one lamp over that of the other is smooth
# over the face, mottling and all, so that no pit is long enough to level itself.
_SOUGHT_PX, _SOUGHT_CELLS, _LEAST_CELL_PX, _LEAST_SOUGHT_STEP = 250, 20, 12, 4
# It changes by more than this (log). Dark parts that hang together with it were tried
# too: chips beside a pit went along, and on drawn terrazzo the pit was lost with them.
_SUNK_LOG, _SUNK_SIGMAS = 0.15, 4.0
_CLOSED, _GROWN = np.ones((5, 5), np.uint8), np.ones((3, 3), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planes:
    """Two photos in the frame of the first, the background of each at 1.

    Attributes
    ----------
    first, second : ndarray of float32, (rows, cols)
        Log of the light over its own background.
    darker : ndarray of float32, (rows, cols)
        Light over background of whichever photo is darker there: a pit shows the
        shadows of both lamps, so most of its opening.
    inside : ndarray of bool, (rows, cols)
        The measured face, as far as both photos show it.
    noise : float
        Noise of `relief` where nothing is.
    """

    first: Plane
    second: Plane
    darker: Plane
    inside: NDArray[np.bool_]
    noise: float

    @property
    def relief(self) -> Plane:
        """Half the difference of the logs: what changes with the lamp."""
        return np.asarray((self.first - self.second) / 2, dtype=np.float32)

    @property
    def sought(self) -> Plane:
        """The darker light, darker still where relief is: shallow pits come out too."""
        sure = np.maximum(np.abs(self.relief) - _SURE_SIGMAS * self.noise, 0.0)
        return np.asarray(self.darker * np.exp(-_DEEPENED * sure), dtype=np.float32)

    @property
    def colour(self) -> Plane:
        """Their mean: what does not."""
        return np.asarray((self.first + self.second) / 2, dtype=np.float32)


def planes_of(
    first: Plane,
    second: Plane,
    to_second: NDArray[np.float64],
    inside: NDArray[np.bool_],
) -> Planes:
    """Lay the second photo on the first and level both.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light; the second in its own frame.
    to_second : ndarray of float64, (3, 3)
        From (x, y, 1) px of the first photo to the second.
    inside : ndarray of bool, (rows, cols)
        Measured face in the first photo.

    Examples
    --------
    >>> grey = np.full((60, 80), 0.4, np.float32)
    >>> planes = planes_of(grey, grey / 2, np.eye(3), np.ones(grey.shape, bool))
    >>> float(np.abs(planes.relief).max()) < 1e-5
    True
    """
    laid, shown = laid_on(second, to_second, (first.shape[0], first.shape[1]))
    shown = _eroded(shown) & inside
    smooth = [
        np.asarray(
            cv2.GaussianBlur(np.maximum(light, _DARKEST), (0, 0), _SMOOTHING_PX),
            dtype=np.float32,
        )
        for light in (first, laid)
    ]
    background = shown & ~_sunk(smooth, shown)
    logs = [_levelled(light, background) for light in smooth]
    darker = np.exp(np.minimum(*logs))
    difference = (logs[0] - logs[1]) / 2
    middle = float(median(difference[shown])) if shown.any() else 0.0
    # What is left of two backgrounds that differ is no relief.
    logs[0] -= middle
    logs[1] += middle
    left_over = np.abs(difference[shown] - middle)
    return Planes(
        first=logs[0],
        second=logs[1],
        darker=darker.astype(np.float32),
        inside=shown,
        noise=MAD_TO_SD * float(median(left_over)) if left_over.size else 0.0,
    )


def _eroded(shown: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep off the edge of the second photo, but not of the first."""
    kept = cv2.erode(
        shown.astype(np.uint8), _EDGE, borderType=cv2.BORDER_CONSTANT, borderValue=1
    )
    return np.asarray(kept > 0)


def _levelled(smooth: Plane, background: NDArray[np.bool_]) -> Plane:
    ratio = np.maximum(smooth, _DARKEST) / background_of(smooth, background)
    return np.maximum(np.log(ratio), -_DEEPEST_LOG).astype(np.float32)


def _sunk(smooth: list[Plane], shown: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark what sinks, at two sizes of the picture where it is large."""
    broad = max(_LEAST_SOUGHT_STEP, max(shown.shape) / _SOUGHT_PX)
    marked = _sunk_at(smooth, shown, _LEAST_SOUGHT_STEP)
    if broad > _LEAST_SOUGHT_STEP:
        marked |= _sunk_at(smooth, shown, broad)
    return marked


def _sunk_at(
    smooth: list[Plane], shown: NDArray[np.bool_], step: float
) -> NDArray[np.bool_]:
    """Mark pits roughly, before anything is levelled: they are none of the background.

    The background follows the light over 60 px, so that it goes along into a longer
    pit, which then is lighter than it is, or two thin shadows.
    """
    size = tuple(max(1, int(side / step)) for side in shown.shape[::-1])
    whole = cv2.resize(shown.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    face = whole > 0
    if not face.any():
        return np.zeros(shown.shape, dtype=np.bool_)
    cell_px = max(_LEAST_CELL_PX, round(max(size) / _SOUGHT_CELLS))
    logs = []
    for light in smooth:
        small = np.asarray(
            cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float32
        )
        logs.append(
            np.log(np.maximum(small, _DARKEST) / background_of(small, face, cell_px))
        )
    relief = ((logs[0] - logs[1]) / 2).astype(np.float32)
    relief -= median(relief[face])
    left_over = MAD_TO_SD * float(median(np.abs(relief[face])))
    # Against the spread of what is left over, and the mean of 3 x 3 px: single px of
    # noise mark nothing.
    least = max(_SUNK_LOG, _SUNK_SIGMAS * left_over)
    changes = (np.abs(cv2.blur(relief, (3, 3))) > least) & face
    closed = cv2.morphologyEx(changes.astype(np.uint8), cv2.MORPH_CLOSE, _CLOSED)
    marked = cv2.dilate(closed, _GROWN)
    full = shown.shape[::-1]
    return np.asarray(cv2.resize(marked, full, interpolation=cv2.INTER_NEAREST) > 0)
