"""The network that says of each place whether it is face, beside it, or a thing.

Trained on drawn photos only (`analysis.training.faces`), read by OpenCV.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.imaging.face_finding.packed import network_bytes

if TYPE_CHECKING:
    from numpy.typing import NDArray

SIDE_PX = 256
BESIDE, FACE, THING = 0, 1, 2
_MIRRORS = ((1, 1), (1, -1), (-1, 1), (-1, -1))
_FILE = Path(__file__).with_name("face.w8")
# OpenCV's networks hold what they last saw: one caller at a time.
_ONE_AT_A_TIME = Lock()


def looks_like(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return how likely each place is beside the face, face, or a thing.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, of any size.

    Returns
    -------
    ndarray of float32, (4, 256, 256, 3)
        Four looks, three of them through mirrors and mirrored back, each over the
        whole photo squeezed into a square; the three shares add up to 1.

    Examples
    --------
    >>> looks_like(np.full((90, 120, 3), 150, np.uint8)).shape
    (4, 256, 256, 3)
    """
    side = (SIDE_PX, SIDE_PX)
    small = cv2.resize(pixels, side, interpolation=cv2.INTER_AREA)
    plain = small.astype(np.float32).transpose(2, 0, 1) / 127.5 - 1
    looks = np.stack([plain[:, ::down, ::across] for down, across in _MIRRORS])
    with _ONE_AT_A_TIME:
        network = _network()
        network.setInput(np.ascontiguousarray(looks))
        logits = np.array(network.forward(), np.float32)
    # Softmax; less the largest, so that no exponential overflows.
    logits -= logits.max(axis=1, keepdims=True)
    share = np.exp(logits)
    share /= share.sum(axis=1, keepdims=True)
    for look, (down, across) in zip(share, _MIRRORS, strict=True):
        # A mirror is its own inverse. Both sides share memory: hence the copy.
        look[:] = look[:, ::down, ::across].copy()
    return np.ascontiguousarray(share.transpose(0, 2, 3, 1))


@cache
def _network() -> cv2.dnn.Net:
    return cv2.dnn.readNetFromONNX(network_bytes(_FILE.read_bytes()))
