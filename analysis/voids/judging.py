"""How likely each candidate is a void: what the photo shows and what the net says.

The features and what they stand for are here, the weights in `judging.json`: boosted
trees fitted to proposals of the detection pass on drawn photos (analysis/training).
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Spots
    from analysis.voids.opening.openings import Openings
    from analysis.voids.shapes import Shapes

    _Floats = NDArray[np.float64]

WEIGHTS = Path(__file__).with_name("judging.json")
NAMES: Final = (
    "network",
    "contrast over noise",
    "contrast over noise of its size",
    "contrast",
    "edge sharpness",
    "size",
    "doubt of the rim",
    "opening over dark part",
    "solidity",
    "thinness",
    "contrast against the deepest",
    "likely voids among candidates",
    "candidates for the face",
    "light from a side",
)
_SMALLEST_PX = 3.0
_SPOT_PX, _AROUND_PX = 3, 9
_MAD_TO_SD = 1.4826
_EVERY = 3


def judging_features(
    spots: Spots,
    shapes: Shapes,
    drawn: Openings,
    levels: list[NDArray[np.float32]],
    sharp_edge_px: float,
) -> _Floats:
    """Collect what speaks for and against each candidate.

    Parameters
    ----------
    spots : Spots
    shapes : Shapes
        Of the spots.
    drawn : Openings
        What the network said of them.
    levels : list of ndarray of float32
        Light over background and its halvings.
    sharp_edge_px : float
        Width of a sharp edge in this photo, px.

    Returns
    -------
    ndarray of float64, (n, 14)
        In the order of `NAMES`.
    """
    count = len(spots.area_px)
    size = np.sqrt(4 / np.pi * np.maximum(spots.area_px, 1.0))
    logit = np.clip(drawn.void_logit, -8.0, 8.0)
    likely = 1.0 / (1.0 + np.exp(-logit))
    deepest = float(np.quantile(spots.depth, 0.9)) if count else 1.0
    thin = np.pi / 4 * shapes.feret_max_px**2 / np.maximum(spots.area_px, 1.0)
    face = float(spots.labels.size)
    return np.stack(
        [
            logit,
            np.log2(np.maximum(spots.depth / spots.noise, 0.1)),
            np.log2(np.maximum(contrast_of_size(spots, shapes, levels, size), 0.1)),
            spots.depth,
            np.clip(sharp_edge_px / np.maximum(spots.edge_px, 1e-6), 0.0, 1.5),
            np.log2(size),
            drawn.unsure_px / np.maximum(drawn.area_px, 1.0),
            np.clip(np.log2(np.maximum(drawn.area_px, 0.1) / spots.area_px), -4, 4),
            shapes.solidity,
            np.log2(np.maximum(thin, 1.0)),
            spots.depth / max(deepest, 1e-3),
            np.full(count, likely.mean() if count else 0.0),
            np.full(count, np.log10(max(count, 1) / face * 1e6)),
            np.full(count, float(np.hypot(*drawn.light))),
        ],
        axis=1,
    )


def contrast_of_size(
    spots: Spots,
    shapes: Shapes,
    levels: list[NDArray[np.float32]],
    size_px: _Floats,
) -> _Floats:
    """Contrast of each spot over the noise of spots of its own size.

    A matched filter: the mean over about a spot less the mean around it. Mottling
    broader than the spot is taken away by this, specks of its size stay in the noise.
    """
    out = np.zeros(len(size_px))
    wanted = np.clip(np.log2(size_px / _SMALLEST_PX), 0, len(levels) - 1).astype(int)
    for level, picture in enumerate(levels):
        mine = np.flatnonzero(wanted == level)
        if len(mine) == 0:
            continue
        spot = cv2.blur(picture, (_SPOT_PX, _SPOT_PX), borderType=cv2.BORDER_REFLECT)
        around = cv2.blur(
            picture, (_AROUND_PX, _AROUND_PX), borderType=cv2.BORDER_REFLECT
        )
        answer = around - spot
        some = answer[::_EVERY, ::_EVERY]
        noise = _MAD_TO_SD * float(np.median(np.abs(some - np.median(some))))
        row = np.rint((shapes.row_px[mine] + 0.5) / 2**level - 0.5).astype(int)
        col = np.rint((shapes.col_px[mine] + 0.5) / 2**level - 0.5).astype(int)
        row = np.clip(row, 0, picture.shape[0] - 1)
        col = np.clip(col, 0, picture.shape[1] - 1)
        best = cv2.dilate(answer, np.ones((3, 3), np.uint8))
        out[mine] = best[row, col] / max(noise, 1e-4)
    return out


@cache
def _trees() -> dict[str, NDArray[np.float64]] | None:
    try:
        known = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return {name: np.asarray(values, float) for name, values in known["trees"].items()}


def void_probability(features: _Floats) -> _Floats:
    """Probability that each candidate is a void, 0..1.

    Without the trees the network's own verdict stands.
    """
    trees = _trees()
    if trees is None:
        return np.asarray(1.0 / (1.0 + np.exp(-features[:, 0])))
    score = np.full(len(features), float(trees["start"]))
    inner = trees["feature"].shape[1]
    feature = trees["feature"].astype(int)
    for tree in range(len(feature)):
        at = np.zeros(len(features), dtype=int)
        for _ in range(int(np.log2(inner + 1))):
            over = features[np.arange(len(at)), feature[tree, at]] > trees["cut"][tree, at]
            at = 2 * at + 1 + over
        score += trees["leaf"][tree, at - inner]
    return np.asarray(1.0 / (1.0 + np.exp(-score)))
