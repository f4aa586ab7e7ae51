"""Flutes and ribs of a face: how they run.

Seen by a camera, straight parallel flutes stay straight and meet in one far point. With
`across` and `along` measured from the middle of the picture, the flute that crosses the
middle line at `a` runs through ``across = a * (1 + bend * along)``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.signal import find_peaks

from analysis.imaging.reduced import log_of, reduced
from analysis.robust import median

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    _Floats = NDArray[np.float32]

# Direction and pitch show on a picture this long, and it is searched in a moment.
_SEARCHED_PX: Final = 400
# Part of the picture's longer side over which the light is taken for even: flutes of
# three and more to the picture are left, a lamp's falling off is not.
_EVEN_SHARE: Final = 0.25
# Logs of light beyond this are pits and glare, which must not steer.
_MOST_LOG: Final = 0.5
# A picture is taken for ribbed by itself only where the flutes make this part of all
# that varies on it, vary the light by this (log, standard deviation), and come back
# after one pitch as like themselves as this (correlation). Board marks, veins and
# scratches of flat faces stay below one of the three.
_PLAIN_SHARE: Final = 0.6
_PLAIN_LOG: Final = 0.06
_PLAIN_LIKENESS: Final = 0.6
# Where a person says that the face is ribbed, this part is enough for a direction.
_LEAST_SHARE: Final = 0.12
_FEWEST_PITCHES: Final = 3
_AS_HIGH: Final = 0.85
# Of the pitch: how far the one that shows may be from the one given.
_PITCH_OFF: Final = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribs:
    """How the flutes of a face run.

    Attributes
    ----------
    towards_rad : float
        Direction along the flutes at `middle_px`, from the column axis towards the row
        axis.
    middle_px : tuple of float
        (row, col).
    bend_per_px : float
        How much wider they lie per px along; 0 where they are parallel in the photo.
    pitch_px : float or None
        Across, at `middle_px`; None where no pitch shows.
    share : float
        Part of the variance of the light that they make, 0..1.
    strength : float
        Standard deviation of the log of the light they make.
    likeness : float
        How alike they are after one pitch, correlation, -1..1.
    """

    towards_rad: float
    middle_px: tuple[float, float]
    bend_per_px: float
    pitch_px: float | None
    share: float
    strength: float
    likeness: float

    @property
    def plain(self) -> bool:
        """Whether the photo alone leaves no doubt that the face is ribbed."""
        return (
            self.pitch_px is not None
            and self.share >= _PLAIN_SHARE
            and self.strength >= _PLAIN_LOG
            and self.likeness >= _PLAIN_LIKENESS
        )

    def part(self, row: float, col: float) -> Ribs:
        """Return the same in px of a part that begins at (row, col)."""
        at = (self.middle_px[0] - row, self.middle_px[1] - col)
        return replace(self, middle_px=at)

    def places(
        self, row: NDArray[np.float32], col: NDArray[np.float32]
    ) -> tuple[_Floats, _Floats]:
        """Return (across, along) of places of the photo, px."""
        cos, sin = np.cos(self.towards_rad), np.sin(self.towards_rad)
        down, right = row - self.middle_px[0], col - self.middle_px[1]
        along = right * cos + down * sin
        across = (down * cos - right * sin) / (1 + self.bend_per_px * along)
        return across.astype(np.float32), along.astype(np.float32)

    def across_grid(self, shape: tuple[int, int]) -> _Floats:
        """Return how far across each px of a picture lies, as `places` does.

        What depends on the row alone, or on the column alone, is worked out once for
        each: a picture is searched in hundreds of directions.
        """
        cos, sin = np.cos(self.towards_rad), np.sin(self.towards_rad)
        down = np.arange(shape[0], dtype=np.float32)[:, None] - self.middle_px[0]
        right = np.arange(shape[1], dtype=np.float32) - self.middle_px[1]
        across = down * cos - right * sin
        if self.bend_per_px:
            along = right * cos + down * sin
            across /= 1 + self.bend_per_px * along
        return np.asarray(across, dtype=np.float32)

    def of_photo(
        self, across: NDArray[np.float32], along: NDArray[np.float32]
    ) -> tuple[_Floats, _Floats]:
        """Return (row, col) in the photo of places across and along."""
        cos, sin = np.cos(self.towards_rad), np.sin(self.towards_rad)
        off = across * (1 + self.bend_per_px * along)
        row = self.middle_px[0] + along * sin + off * cos
        col = self.middle_px[1] + along * cos - off * sin
        return row.astype(np.float32), col.astype(np.float32)


def find_ribs(
    picture: NDArray[np.float32] | NDArray[np.uint8],
    inside: NDArray[np.bool_],
    *,
    pitch_px: float | None = None,
) -> Ribs | None:
    """Find how the flutes of a face run.

    Parameters
    ----------
    picture : ndarray of float32, (rows, cols), or of uint8, (rows, cols, 3)
        Linear light, or sRGB: that is reduced first, so that a large photo costs no
        picture of its light.
    inside : ndarray of bool, (rows, cols)
        Measured pixels.
    pitch_px : float, optional
        Known distance from flute to flute, px.

    Returns
    -------
    Ribs or None
        None where nothing on the face runs in one direction.

    Examples
    --------
    >>> flutes = 0.5 + 0.2 * np.sin(np.arange(300) / 5)
    >>> face = np.tile(flutes.astype(np.float32), (200, 1))
    >>> found = find_ribs(face, np.ones(face.shape, bool))
    >>> round(abs(np.degrees(found.towards_rad))), round(found.pitch_px), found.plain
    (90, 31, True)
    """
    rows, cols = inside.shape
    small = reduced(picture, inside, _SEARCHED_PX)
    if min(small.whole.shape) < 2 * _FEWEST_PITCHES:
        return None
    weight = small.whole.astype(np.float32)
    if not weight.any():
        return None
    even = _evened(small.light, weight)
    spread = float(even[weight > 0].std())
    if spread <= 0:
        return None
    seen = _Searched.of(even, weight)
    best = max(_tried(seen), key=lambda ribs: ribs.share)
    if best.share < _LEAST_SHARE:
        return None
    known = None if pitch_px is None else pitch_px / small.step
    pitch, likeness = _pitch(best, seen, known)
    middle = ((rows - 1) / 2, (cols - 1) / 2)
    return Ribs(
        towards_rad=best.towards_rad,
        middle_px=middle,
        bend_per_px=best.bend_per_px / small.step,
        pitch_px=None if pitch is None else pitch * small.step,
        share=best.share,
        strength=spread * float(np.sqrt(best.share)),
        likeness=likeness,
    )


def _evened(light: _Floats, weight: _Floats) -> _Floats:
    """Log of the light over its surroundings, without what pits would steer."""
    log = log_of(light)
    sigma = _EVEN_SHARE * max(light.shape)
    # Blur of log times weight over blur of weight: the mean of the face's own px,
    # nothing from beside it (normalised convolution).
    under = cv2.GaussianBlur(weight, (0, 0), sigma)
    over = cv2.GaussianBlur(log * weight, (0, 0), sigma)
    off = (log - over / np.maximum(under, 1e-6)) * weight
    middle = float(median(off[weight > 0]))
    return np.asarray(np.clip(off - middle, -_MOST_LOG, _MOST_LOG) * weight, np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Searched:
    """The px of the face on the picture that is searched: which, and how light."""

    inside: NDArray[np.bool_]
    value: NDArray[np.float64]
    mean: float
    variance: float
    shape: tuple[int, int]

    @classmethod
    def of(cls, even: _Floats, weight: _Floats) -> _Searched:
        """Take the px that count; every direction is tried on the same ones."""
        inside = weight > 0
        value = even[inside]
        return cls(
            inside=inside,
            value=value.astype(np.float64),
            mean=float(value.mean()),
            variance=float(value.var()),
            shape=(even.shape[0], even.shape[1]),
        )


def _tried(seen: _Searched) -> Iterator[Ribs]:
    """Yield the best direction of each search, coarse to fine, then how they meet."""
    tried = Ribs(
        towards_rad=0.0,
        middle_px=((seen.shape[0] - 1) / 2, (seen.shape[1] - 1) / 2),
        bend_per_px=0.0,
        pitch_px=None,
        share=0.0,
        strength=0.0,
        likeness=0.0,
    )
    longest = max(seen.shape)

    def best(some: list[tuple[float, float]]) -> Ribs:
        made = [replace(tried, towards_rad=a, bend_per_px=b) for a, b in some]
        each = [replace(one, share=_share(one, seen)) for one in made]
        return max(each, key=lambda one: one.share)

    # A grid and not a descent, which would stop at any small peak. Bends are shares by
    # which the width changes over the picture's length.
    found = best([(a, 0.0) for a in np.radians(np.arange(0, 180, 1.5))])
    for turn, bend in ((0.75, 0.12), (0.375, 0.06), (0.19, 0.03), (0.1, 0.015)):
        around = [
            (found.towards_rad + np.radians(turn) * i, found.bend_per_px + b)
            for i in range(-2, 3)
            for b in np.array([-2, -1, 0, 1, 2]) * bend / longest
        ]
        found = best(around)
        yield found


def _profile(
    ribs: Ribs, seen: _Searched
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean across the flutes, one value a px, and how many px each stands for."""
    at = ribs.across_grid(seen.shape)
    # Choosing px by truths costs more than all else here, and most faces are whole.
    at = at.ravel() if len(seen.value) == at.size else at[seen.inside]
    low = float(np.floor(at.min()))
    bins = (at - low).astype(np.intp)  # of what is not below 0, this is the floor
    count = np.bincount(bins).astype(np.float64)
    total = np.bincount(bins, seen.value)
    return total / np.maximum(count, 1), count


def _share(ribs: Ribs, seen: _Searched) -> float:
    """Part of the variance that the mean across makes; short means are no proof."""
    mean, count = _profile(ribs, seen)
    values, whole = seen.value, seen.variance
    if whole <= 0:
        return 0.0
    # Variance between the means over the whole: the correlation ratio (eta squared).
    made = float((count * (mean - seen.mean) ** 2).sum()) / len(values)
    # Means of plain noise vary too, by its variance over their number of px.
    chance = whole * np.count_nonzero(count) / len(values)
    return float(np.clip((made - chance) / whole, 0.0, 1.0))


def _pitch(
    ribs: Ribs, seen: _Searched, known: float | None
) -> tuple[float | None, float]:
    """Return the pitch in px and the correlation after one pitch."""
    mean, count = _profile(ribs, seen)
    # At the corners of the picture lines are short and their means noisy.
    long = count >= 0.3 * np.median(count[count > 0])
    run = np.flatnonzero(long)
    mean = mean[run[0] : run[-1] + 1]
    mean = mean - mean.mean()
    most = len(mean) // _FEWEST_PITCHES
    least = 3
    # Correlation of the profile with itself, shifted; entry k is a lag of k + 1 px. No
    # Fourier spectrum: a few periods give it too few lines to tell a pitch.
    alike = np.array(
        [
            float(np.corrcoef(mean[:-lag], mean[lag:])[0, 1])
            for lag in range(1, max(most + 2, least + 2))
            if lag < len(mean) - 2 and mean[:-lag].std() > 0 and mean[lag:].std() > 0
        ]
    )
    if len(alike) < least:
        return None, 0.0
    peaks, _ = find_peaks(alike)
    if known is not None:
        peaks = peaks[np.abs((peaks + 1) / known - 1) <= _PITCH_OFF]
    # The first of the high peaks: two and three pitches are as alike as one.
    peaks = peaks[alike[peaks] > 0]
    if not len(peaks):
        return None, 0.0
    high = peaks[alike[peaks] >= _AS_HIGH * alike[peaks].max()]
    return float(high[0] + 1), float(alike[high[0]])
