"""The opening network, read and run by OpenCV."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

WEIGHTS = Path(__file__).with_name("opening.onnx")
RECORD = Path(__file__).with_name("opening.json")
_BATCH: Final = 256


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """What the network says of candidates.

    Attributes
    ----------
    opening : ndarray of float32, (n, 32, 32)
        Probability that each px of the patch lies in the opening.
    void_logit : ndarray of float64, (n,)
        Log odds of being a void.
    light : ndarray of float64, (n, 2)
        Direction towards the lamp (col, row) times its share of the light, as far as
        one candidate tells.
    """

    opening: NDArray[np.float32]
    void_logit: NDArray[np.float64]
    light: NDArray[np.float64]


@cache
def record() -> dict[str, object] | None:
    """Return the record of the training, or None where the network cannot be used.

    A file that is missing, or is not the one that was recorded, is not used.
    """
    try:
        known = dict(json.loads(RECORD.read_text(encoding="utf-8")))
        if hashlib.sha256(WEIGHTS.read_bytes()).hexdigest() != known["sha256"]:
            return None
        cv2.dnn.readNetFromONNX(str(WEIGHTS))
    except (OSError, ValueError, KeyError, cv2.error):
        return None
    return known


def loaded() -> cv2.dnn.Net:
    """Read the network; it holds state while it runs, so each thread needs its own."""
    return cv2.dnn.readNetFromONNX(str(WEIGHTS))


def ask(planes: NDArray[np.float32], net: cv2.dnn.Net | None = None) -> Answers:
    """Run the network on planes, (n, 10, 32, 32).

    Parameters
    ----------
    planes : ndarray of float32, (n, 10, 32, 32)
    net : Net, optional
        Of `loaded`, for many calls; without one it is read anew.

    Examples
    --------
    >>> from analysis.voids.opening.planes import PATCH_PX, PLANES
    >>> nothing = np.zeros((3, PLANES, PATCH_PX, PATCH_PX), np.float32)
    >>> ask(nothing).opening.shape
    (3, 32, 32)
    """
    net = loaded() if net is None else net
    drawn, judged = [np.empty((0, 32, 32), np.float32)], [np.empty((0, 3), np.float32)]
    for start in range(0, len(planes), _BATCH):
        net.setInput(planes[start : start + _BATCH])
        opening, verdict = net.forward(["opening", "void"])
        # Log odds of each px, (n, 1, 32, 32); of each candidate three figures: log odds
        # of a void, then the column and row parts of its light.
        drawn.append(np.asarray(opening, dtype=np.float32)[:, 0])
        judged.append(np.asarray(verdict, dtype=np.float32).reshape(-1, 3))
    verdicts = np.concatenate(judged).astype(np.float64)
    logit = np.concatenate(drawn)
    return Answers(
        opening=np.asarray(1.0 / (1.0 + np.exp(-logit)), dtype=np.float32),
        void_logit=verdicts[:, 0],
        light=verdicts[:, 1:],
    )


def joined(parts: list[Answers], numbers: NDArray[np.intp]) -> Answers:
    """Put answers together, in the order of the candidates they are about."""
    whole = Answers(
        opening=np.concatenate([part.opening for part in parts]),
        void_logit=np.concatenate([part.void_logit for part in parts]),
        light=np.concatenate([part.light for part in parts]),
    )
    if (np.diff(numbers) > 0).all():  # as where all were found on one photo
        return whole
    order = np.argsort(numbers, kind="stable")
    return Answers(
        opening=whole.opening[order],
        void_logit=whole.void_logit[order],
        light=whole.light[order],
    )
