"""From dark candidates to whole openings: ask the network about each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.background import spread_strips
from analysis.voids.candidates import reduced
from analysis.voids.opening import network
from analysis.voids.opening.planes import (
    PATCH_PX,
    SEED_PLANE,
    Frames,
    lay_planes,
    pyramid,
    read_patches,
    read_seeds,
)
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.candidates import Candidates
    from analysis.voids.opening.network import Answers
    from analysis.voids.shapes import Pixels

_SET = SETTINGS.opening
# Candidates read at once: their seeds are laid 64 rows each, one below the other, and
# OpenCV's remap takes fewer than 32767 rows.
CHUNK = 256
# An opening's soft rim reaches so far beyond its even odds, px of the patch.
_RIM_PX = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """What the network drew for each candidate.

    Attributes
    ----------
    opening : ndarray of float32, (n, 32, 32)
        Probability that a px of the patch lies in the opening; 0 but for the part
        that belongs to the candidate.
    frames : Frames
        Where each patch lies, px of the photo.
    area_px : ndarray of float64, (n,)
        Area of the opening, px².
    unsure_px : ndarray of float64, (n,)
        How far the area may be off, from how sure each px is.
    void_logit : ndarray of float64, (n,)
        Log odds of being a void.
    light : ndarray of float64, (2,)
        Direction towards the lamp (col, row) times its share of the light.
    """

    opening: NDArray[np.float32]
    frames: Frames
    area_px: NDArray[np.float64]
    unsure_px: NDArray[np.float64]
    void_logit: NDArray[np.float64]
    light: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Level:
    """A reduced photo over its background, and the candidates found on it."""

    step: float
    levels: list[NDArray[np.float32]]
    at: NDArray[np.intp]
    blur_px: float


def draw_openings(
    light: NDArray[np.float32],
    backgrounds: dict[int, Background],
    candidates: Candidates,
    pixels: Pixels,
    blur_px: float,
) -> Openings:
    """Ask the network for the opening of every candidate.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    backgrounds : dict of int to Background
        Background by the reduction it was found on.
    candidates : Candidates
    pixels : Pixels
        Of the candidates.
    blur_px : float
        Standard deviation of the photo's blur, px.

    Returns
    -------
    Openings
    """
    levels = [
        level_of_step(
            light,
            backgrounds[step],
            step,
            np.flatnonzero(candidates.step == step),
            blur_px,
        )
        for step in sorted({int(step) for step in candidates.step})
    ]
    frames = seed_frames(pixels)
    asker = _Asker(
        net=network.loaded(),
        labels=candidates.labels,
        noise=candidates.noise,
        levels=levels,
    )
    strongest = np.argsort(
        -candidates.depth * np.sqrt(candidates.area_px), kind="stable"
    )
    some = np.sort(strongest[: _SET.asked_for_light])
    towards = _light_of(asker.ask(frames, some, None))
    every = np.arange(len(frames))
    first = asker.ask(frames, every, towards)
    opening = first.opening
    frames_2, again = opening_frames(frames, opening, first.void_logit)
    if len(again):
        opening[again] = asker.ask(frames_2, again, towards).opening
    cell = frames_2.patch_px**2
    # Variance of a px that is inside with this probability.
    sure = opening * (1 - opening)
    return Openings(
        opening=opening,
        frames=frames_2,
        area_px=opening.sum(axis=(1, 2), dtype=np.float64) * cell,
        unsure_px=sure.sum(axis=(1, 2), dtype=np.float64) * cell,
        # The first frame shows more of what lies around, and judges better.
        void_logit=first.void_logit,
        light=towards,
    )


def level_of_step(
    light: NDArray[np.float32],
    background: Background,
    step: int,
    at: NDArray[np.intp],
    blur_px: float,
) -> _Level:
    """Level a reduced photo, for the candidates that were found on it."""
    small, _ = reduced(light, None, step)
    shape = (small.shape[0], small.shape[1])
    ratio = np.empty(shape, np.float32)
    for where, base in spread_strips(background.cells, shape):
        np.divide(small[where], np.maximum(base, 1e-4), out=ratio[where])
    # Reducing averages, which is a blur of its own.
    added = 0.0 if step == 1 else _SET.reducing_blur_px
    blur = float(np.hypot(blur_px / step, added))
    levels = pyramid(ratio)
    return _Level(step=step, levels=levels, at=at, blur_px=blur)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asker:
    """Reads planes from the right reduction of the photo and asks the network."""

    net: cv2.dnn.Net
    labels: NDArray[np.int32]
    noise: NDArray[np.float64]
    levels: list[_Level]

    def ask(
        self,
        frames: Frames,
        chosen: NDArray[np.intp],
        light: NDArray[np.float64] | None,
    ) -> Answers:
        """Ask about some of the candidates, all framed by `frames`.

        Of each opening its own part is kept. That is done chunk by chunk: the planes
        of all candidates together would fill the memory.
        """
        parts, order = [], []
        for level in self.levels:
            mine = np.intersect1d(chosen, level.at, assume_unique=True)
            for start in range(0, len(mine), CHUNK):
                some = mine[start : start + CHUNK]
                planes = self._planes(level, frames[some], some, light)
                answers = network.ask(planes, self.net)
                own = own_part(answers.opening, planes[:, SEED_PLANE])
                parts.append(replace(answers, opening=own))
                order.append(some)
        if not parts:
            return _no_answers()
        return network.joined(parts, np.concatenate(order))

    def _planes(
        self,
        level: _Level,
        frames: Frames,
        some: NDArray[np.intp],
        light: NDArray[np.float64] | None,
    ) -> NDArray[np.float32]:
        inside = frames.reduced(level.step)
        return lay_planes(
            read_patches(level.levels, inside),
            read_patches(level.levels, inside, SETTINGS.patches.wide_ratio),
            read_seeds(self.labels, inside, level.step),
            inside,
            level.blur_px,
            self.noise[some],
            None if light is None else np.broadcast_to(light, (len(some), 2)),
        )


def _no_answers() -> Answers:
    return network.Answers(
        opening=np.empty((0, PATCH_PX, PATCH_PX), np.float32),
        void_logit=np.empty(0),
        light=np.empty((0, 2)),
    )


def seed_frames(pixels: Pixels) -> Frames:
    """Frame each region so that its longest side spans a quarter.

    Examples
    --------
    >>> from analysis.voids.shapes import region_pixels
    >>> one = np.zeros((40, 40), np.int32)
    >>> one[10:18, 20:24] = 1
    >>> float(seed_frames(region_pixels(one, 1)).half_px[0])
    16.0
    """
    starts = np.searchsorted(pixels.label, np.arange(pixels.count))
    top, bottom = _ends(pixels.row, starts)
    left, right = _ends(pixels.col, starts)
    side = np.maximum(bottom - top, right - left) + 1.0
    return Frames(
        row_px=(top + bottom) / 2,
        col_px=(left + right) / 2,
        half_px=np.maximum(
            _SET.first_half_ratio * side, SETTINGS.patches.least_half_px
        ),
        label=np.arange(1, pixels.count + 1),
    )


def _ends(
    values: NDArray[np.int64], starts: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least and greatest value of each region."""
    if len(starts) == 0:
        return np.empty(0), np.empty(0)
    low = np.minimum.reduceat(values, starts).astype(np.float64)
    high = np.maximum.reduceat(values, starts).astype(np.float64)
    return low, high


def _light_of(answers: Answers) -> NDArray[np.float64]:
    """Direction and share of the lamp, shared by the candidates that are voids."""
    weight = 1.0 / (1.0 + np.exp(-answers.void_logit))
    if weight.sum() < 1e-6:  # noqa: PLR2004  no void at all
        return np.zeros(2)
    mean = (answers.light * weight[:, None]).sum(axis=0) / weight.sum()
    # One candidate tells a part of what there is to tell and is held back by as much;
    # many together tell nearly all, and are scaled up again.
    told = _SET.told_by_one_share + (1.0 - _SET.told_by_one_share) / weight.sum()
    towards = mean / told
    over = float(np.hypot(*towards)) / _SET.most_light_share
    return np.asarray(towards / max(1.0, over))


def own_part(
    opening: NDArray[np.float32], seed: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Keep of each patch the opening that the dark part lies in, with its soft rim.

    Examples
    --------
    >>> two = np.zeros((1, 32, 32), np.float32)
    >>> two[0, 4:8, 4:8] = two[0, 20:24, 20:24] = 1
    >>> seed = np.zeros_like(two)
    >>> seed[0, 5, 5] = 1
    >>> float(own_part(two, seed).sum())
    16.0
    """
    # All patches one below the other, so that each step is one call for all. The rows
    # between them are as many as a rim reaches: no patch meets the next.
    tall = PATCH_PX + _RIM_PX
    stacked = np.zeros((len(opening), tall, PATCH_PX), np.uint8)
    on_patches = stacked[:, :PATCH_PX]
    np.greater(opening, _SET.inside_share, out=on_patches.view(np.bool_))
    image = stacked.reshape(-1, PATCH_PX)
    if not image.any():
        return np.zeros_like(opening)
    count, found = cv2.connectedComponents(image, connectivity=8)
    part = np.ascontiguousarray(
        np.asarray(found, dtype=np.int32).reshape(stacked.shape)[:, :PATCH_PX]
    )
    own = part == _met_most(part, seed > _SET.inside_share, count)[:, None, None]
    on_patches[:] = own
    wide = 2 * _RIM_PX + 1
    near = cv2.dilate(image, np.ones((wide, wide), np.uint8)).reshape(stacked.shape)
    # The rim of another opening near is not its own.
    mine = (near[:, :PATCH_PX] > 0) & ((part == 0) | own)
    return np.where(mine, opening, np.float32(0.0))


def _met_most(
    part: NDArray[np.int32], dark: NDArray[np.bool_], count: int
) -> NDArray[np.int64]:
    """Return the part of each patch that most dark px lie in; -1 where there is none.

    Parts are numbered over all patches, below `count`; 0 is no part.
    """
    at = np.flatnonzero(dark & (part > 0))
    met = part.reshape(-1)[at]
    size = np.bincount(met, minlength=count)
    patch_of = np.zeros(count, dtype=np.intp)
    patch_of[met] = at // PATCH_PX**2
    parts = np.flatnonzero(size)
    most = np.zeros(len(part), dtype=np.int64)
    np.maximum.at(most, patch_of[parts], size[parts])
    best = parts[size[parts] == most[patch_of[parts]]][::-1]
    chosen = np.full(len(part), -1, dtype=np.int64)
    chosen[patch_of[best]] = best  # of parts met alike, the first is written last
    return chosen


def opening_frames(
    frames: Frames, opening: NDArray[np.float32], logit: NDArray[np.float64]
) -> tuple[Frames, NDArray[np.intp]]:
    """Frame the openings of a first pass, for a second look; and which need one."""
    inside: NDArray[np.bool_] = np.asarray(opening > _SET.inside_share)
    rows = np.asarray(inside.any(axis=2))
    cols = np.asarray(inside.any(axis=1))
    some = rows.any(axis=1)

    def ends(hit: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        # The largest of truths is the first that holds; from behind, the last.
        return hit.argmax(axis=1), PATCH_PX - 1 - hit[:, ::-1].argmax(axis=1)

    (top, bottom), (left, right) = ends(rows), ends(cols)
    side = (np.maximum(bottom - top, right - left) + 1) * frames.patch_px
    again = np.flatnonzero(
        some & (side > _SET.looked_at_twice_px) & (logit > _SET.drawn_from_logit)
    )
    moved = Frames(
        row_px=frames.row_px.copy(),
        col_px=frames.col_px.copy(),
        half_px=frames.half_px.copy(),
        label=frames.label,
    )
    middle = PATCH_PX / 2
    patch = frames.patch_px[again]
    moved.row_px[again] += ((top + bottom + 1)[again] / 2 - middle) * patch
    moved.col_px[again] += ((left + right + 1)[again] / 2 - middle) * patch
    half = _SET.second_half_ratio * side[again]
    moved.half_px[again] = np.maximum(half, SETTINGS.patches.least_half_px)
    return moved, again
