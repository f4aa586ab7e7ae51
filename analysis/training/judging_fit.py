"""Fit the judging of candidates: `python -m analysis.training.judging_fit --out FILE`.

Photos are drawn as for the network, from other seeds; the product's own detection pass
finds the candidates, the network gives its odds, and a logistic regression learns what
the whole photo adds to them.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import GroupKFold
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from analysis.training.camera import photograph
from analysis.training.random_fields import Dice
from analysis.training.scenes import draw_scenes
from analysis.voids.candidates import find_candidates
from analysis.voids.features import sharp_edge
from analysis.voids.judging import NAMES, judging_features
from analysis.voids.opening.openings import draw_openings
from analysis.voids.opening.planes import EDGE_OF_BLUR
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import region_pixels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    _Floats = NDArray[np.float64]

_VOID_FROM, _NOT_VOID_TO, _LEAST_PX = 0.5, 0.12, 4.0
_SCENES, _PHOTOS, _FIRST_SEED = 6, 2, 50_000


def candidates_of(
    light: NDArray[np.float32], opening: NDArray[np.float32]
) -> tuple[_Floats, _Floats]:
    """Features of a photo's candidates, and how much of each lies in an opening.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light as read back from the coded photo.
    opening : ndarray of float32, (rows, cols)
        Part of each px in an opening, 0..1.

    Returns
    -------
    features : ndarray of float64, (n, 6)
    cover : ndarray of float64, (n,)
    """
    smooth = np.asarray(
        cv2.GaussianBlur(light, (0, 0), SETTINGS.patches.smoothing_px), np.float32
    )
    candidates, around = find_candidates(smooth, None)
    count = len(candidates.area_px)
    if count == 0:
        return np.empty((0, len(NAMES))), np.empty(0)
    pixels = region_pixels(candidates.labels, count)
    sharp = sharp_edge(candidates)
    drawn = draw_openings(
        smooth, around.backgrounds, candidates, pixels, sharp / EDGE_OF_BLUR
    )
    features = judging_features(candidates, drawn.void_logit, sharp)
    cover = pixels.total(opening.ravel()[pixels.flat]) / pixels.total()
    large = candidates.area_px >= _LEAST_PX
    return features[large], cover[large]


def gather(batches: int) -> tuple[_Floats, NDArray[np.bool_], NDArray[np.int64]]:
    """Features, whether each is a void, and the batch it was drawn in."""
    features, void, batch = [], [], []
    for number in range(batches):
        dice = Dice(_FIRST_SEED + number, "cpu")
        scenes = draw_scenes(dice, _SCENES)
        for _ in range(_PHOTOS):
            seen = photograph(dice, scenes)
            for light, opening in zip(seen.light, seen.opening, strict=True):
                some, cover = candidates_of(light.numpy(), opening.numpy())
                sure = (cover > _VOID_FROM) | (cover < _NOT_VOID_TO)
                features.append(some[sure])
                void.append(cover[sure] > _VOID_FROM)
                batch.append(np.full(np.count_nonzero(sure), number))
    return np.concatenate(features), np.concatenate(void), np.concatenate(batch)


def fit(
    features: _Floats, void: NDArray[np.bool_], batch: NDArray[np.int64]
) -> dict[str, object]:
    """Fit the weights; the area under the curve is of batches left out."""
    model = make_pipeline(StandardScaler(), LogisticRegression(max_iter=3000))
    held = np.zeros(len(void))
    for train, test in GroupKFold(5).split(features, void, batch):
        model.fit(features[train], void[train])
        held[test] = model.predict_proba(features[test])[:, 1]
    model.fit(features, void)
    scaler, logistic = model[0], model[1]
    weights = logistic.coef_[0] / scaler.scale_
    constant = float(logistic.intercept_[0] - weights @ scaler.mean_)
    return {
        "candidates": len(void),
        "voids": round(float(void.mean()), 4),
        "area_under_curve": round(float(roc_auc_score(void, held)), 4),
        "by_network_alone": round(float(roc_auc_score(void, features[:, 0])), 4),
        "constant": round(constant, 5),
        "weights": [round(float(value), 5) for value in weights],
    }


def main(argv: list[str]) -> int:
    """Draw, fit and write; 0 when the file is written."""
    parser = argparse.ArgumentParser(prog="python -m analysis.training.judging_fit")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--batches", type=int, default=120)
    asked = parser.parse_args(argv)
    fitted = fit(*gather(asked.batches))
    asked.out.write_text(json.dumps(fitted, indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
