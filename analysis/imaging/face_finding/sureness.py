"""How sure an outline is: the chance that it overlaps the face by 93 % or more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.edges import stepped
from analysis.imaging.face_finding.network import FACE, SIDE_PX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.face_finding.regions import Regions

# A logistic curve of four doubts: base, and a slope for each of `terms_of`; fitted by
# tests/benchmarks/face_finding.py --fit on photos drawn from other seeds.
_BASE, _SLOPES = -6.593, (1.606, 11.707, 1.734, 2.933)
_NEAR_FRAME = 3.0  # places of the network
# Where the whole photo is face, no line can be astray: as along a sharp one.
_SHARP = 0.2
_WEAKEST = 0.2  # the part of the line that tells


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineDoubts:
    """What speaks for or against an outline.

    Attributes
    ----------
    between : float
        By how much the network's looks differ on where face is: 1 less the share of
        what any holds to be face that all do.
    solid : float
        Area of the piece over that of its convex hull: parts missed make dents.
    share : float
        Of the photo, that the piece takes: the same strip is more of a small one.
    sharp : float
        How steeply the network's answer falls along the outline where it does so
        least (a fifth of its length falls less), for each of its places.
    """

    between: float
    solid: float
    share: float
    sharp: float


def doubts(
    looks: NDArray[np.float32], regions: Regions, outline: NDArray[np.float64]
) -> OutlineDoubts:
    """Return what speaks for or against an outline.

    Parameters
    ----------
    looks : ndarray of float32, (looks, n, n, 3)
        As `looks_like` gives them.
    regions : Regions
        What was made of them.
    outline : ndarray of float64, (n, 2)
        (row, col) px of `regions`.

    Examples
    --------
    >>> from analysis.imaging.face_finding.regions import Regions
    >>> looks = np.zeros((4, 256, 256, 3), np.float32)
    >>> looks[..., 1] = 1
    >>> everything = np.ones((60, 80), bool)
    >>> found = Regions(piece=everything, left_out=~everything, whole=True)
    >>> frame = np.array([(0.0, 0), (0, 79), (59, 79), (59, 0)])
    >>> doubts(looks, found, frame).between
    0.0
    """
    # Intersection over union of all looks at the face.
    seen = looks.argmax(axis=3) == FACE
    either = max(int(seen.any(axis=0).sum()), 1)
    between = 1 - float(seen.all(axis=0).sum()) / either
    if regions.whole:
        return OutlineDoubts(between=between, solid=1.0, share=1.0, sharp=_SHARP)
    contours, _ = cv2.findContours(
        regions.piece.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    line: Any = max(contours, key=cv2.contourArea)
    hull = max(cv2.contourArea(cv2.convexHull(line)), 1.0)
    return OutlineDoubts(
        between=between,
        solid=float(cv2.contourArea(line) / hull),
        share=float(regions.piece.mean()),
        sharp=_fall(looks.mean(axis=0)[..., FACE], outline, regions.piece.shape),
    )


def _fall(
    face: NDArray[np.float32], outline: NDArray[np.float64], shape: tuple[int, ...]
) -> float:
    ratio = np.array([SIDE_PX, SIDE_PX]) / shape[:2]
    places = (stepped(outline) + 0.5) * ratio - 0.5
    away = np.minimum(places, SIDE_PX - 1 - places).min(axis=1)
    places = places[away > _NEAR_FRAME]
    if len(places) == 0:
        return _SHARP
    soft = cv2.GaussianBlur(np.ascontiguousarray(face), (0, 0), 1.0)
    # Sobel's weights add up to 8 on either axis: over 8 they are a slope per place.
    slopes = [
        cv2.Sobel(soft, cv2.CV_32F, *way, scale=1 / 8) for way in ((1, 0), (0, 1))
    ]
    col, row = (places[:, k].astype(np.float32)[:, None] for k in (1, 0))
    here = cv2.remap(np.hypot(*slopes), col, row, cv2.INTER_LINEAR)
    return float(np.quantile(np.asarray(here), _WEAKEST))


def terms_of(found: OutlineDoubts) -> NDArray[np.float64]:
    """Return doubts on the scales on which they work.

    Examples
    --------
    >>> some = OutlineDoubts(between=0.5, solid=1.0, share=1.0, sharp=0.98)
    >>> terms_of(some).round(2).tolist()
    [0.69, 1.0, 0.0, 0.0]
    """
    return np.array(
        [
            -np.log(np.clip(found.between, 1e-3, 1)),
            found.solid,
            np.log(max(found.share, 1e-3)),
            np.log(found.sharp + 0.02),
        ]
    )


def sure_of(found: OutlineDoubts) -> float:
    """Return the chance of a good outline, 0 to 1.

    Examples
    --------
    >>> alike = OutlineDoubts(between=0.01, solid=0.99, share=0.4, sharp=0.2)
    >>> unlike = OutlineDoubts(between=0.3, solid=0.8, share=0.4, sharp=0.02)
    >>> sure_of(alike) > 0.9, sure_of(unlike) < 0.1
    (True, True)
    """
    score = _BASE + float(terms_of(found) @ np.array(_SLOPES))
    return float(1 / (1 + np.exp(-np.clip(score, -30, 30))))
