"""How likely each candidate is a void: what the photo shows and what the net says.

The features and what they stand for are here, the weights in `judging.json`: a
logistic regression on candidates of the detection pass in drawn photos, none of them
a benchmark's or a real one (analysis/training/judging_fit.py).
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Candidates

    _Floats = NDArray[np.float64]

WEIGHTS = Path(__file__).with_name("judging.json")
NAMES: Final = (
    "network",
    "contrast",
    "edge sharpness",
    "size",
    "likely voids among candidates",
    "candidates for the face",
)
_SET = SETTINGS.judging


def telling(depth: _Floats, noise: _Floats) -> NDArray[np.bool_]:
    """Tell which spots speak for all of a face: those that stand out plainly.

    Parameters
    ----------
    depth, noise : ndarray of float64, (n,)
        Of each spot and of the background there, shares of the light.

    Examples
    --------
    >>> telling(np.array([0.6, 0.1]), np.array([0.02, 0.02])).tolist()
    [True, False]
    """
    least = np.maximum(_SET.told_from_depth, _SET.told_from_sigmas * noise)
    return np.asarray(depth > least)


def by_network(void_logit: _Floats) -> tuple[_Floats, _Floats]:
    """Return the network's log odds of a void, held in bounds, and the probability.

    Examples
    --------
    >>> by_network(np.array([0.0, 99.0]))[0].tolist()
    [0.0, 8.0]
    """
    logit = np.clip(void_logit, -_SET.most_logit, _SET.most_logit)
    return logit, 1.0 / (1.0 + np.exp(-logit))


def judging_features(
    candidates: Candidates,
    void_logit: _Floats,
    sharp_edge_px: float,
    in_sand: NDArray[np.bool_] | None = None,
) -> _Floats:
    """Collect what speaks for and against each candidate.

    The last two are the same for all of a photo: a face of which most candidates look
    like voids has voids, one peppered with faint specks has specks.

    Parameters
    ----------
    candidates : Candidates
    void_logit : ndarray of float64, (n,)
        The network's log odds of each being a void.
    sharp_edge_px : float
        Width of a sharp edge in this photo, px.
    in_sand : ndarray of bool, (n,), optional
        Candidates in bare sand along a joint: its grains say nothing of the face.

    Returns
    -------
    ndarray of float64, (n, 6)
        In the order of `NAMES`.
    """
    count = len(candidates.area_px)
    told = telling(candidates.depth, candidates.noise)
    if in_sand is not None:
        told &= ~in_sand
    size = np.sqrt(4 / np.pi * np.maximum(candidates.area_px, 1.0))
    logit, likely = by_network(void_logit)
    sharp = sharp_edge_px / np.maximum(candidates.edge_px, 1e-6)
    strong = int(np.count_nonzero(told))
    # One at least, for its logarithm.
    per_megapixel = max(strong, 1) / candidates.labels.size * 1e6
    return np.stack(
        [
            logit,
            candidates.depth,
            np.clip(sharp, 0.0, _SET.most_sharp_ratio),
            np.log2(size),
            np.full(count, likely[told].mean() if strong else 0.0),
            np.full(count, np.log10(per_megapixel)),
        ],
        axis=1,
    )


@cache
def _weights() -> tuple[float, NDArray[np.float64]]:
    known = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    return float(known["constant"]), np.asarray(known["weights"], dtype=np.float64)


def void_probability(features: _Floats) -> _Floats:
    """Probability that each candidate is a void, 0..1.

    Examples
    --------
    >>> sure = np.array([[8.0, 0.9, 1.0, 3.0, 0.9, 1.0]])
    >>> bool(void_probability(sure)[0] > 0.9)
    True
    """
    constant, weights = _weights()
    probability: _Floats = 1.0 / (1.0 + np.exp(-(constant + features @ weights)))
    return probability
