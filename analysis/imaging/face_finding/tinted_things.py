"""Things of a hue of their own drawn to their edges: hands, gloves, yellow rulers.

The network sees a quarter of a finger's width at best, and answers for a spread hand
with one blot: the face between the fingers would be lost. Where the thing's hue is
clearly not the face's, each px is told by its hue; shadow and shine hardly change it.
Skin of all tones and gloves are such things; grey ones are left as they are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.imaging.face_finding.network import FACE, SIDE_PX, THING

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Mask = NDArray[np.bool_]

_LIKELY, _SURE = 0.5, 0.8
# Places of the network: how far round its blot a thing decides, how wide a gap in it
# may be, and how wide a ring of the face about it tells the face's hue.
_REACH, _GAP, _RING = 2.5, 5.0, 8.0
# Of the photo: smaller blots are left as they are.
_SMALLEST = 0.0008
# Distance of hues in a and b of CIE Lab; concrete's own mottling stays under 5.
_LEAST_APART = 8.0
# Shares of the blot's core that must be tinted, and of what is tinted and of the face
# about it that the hue must tell right.
_LEAST_TINTED, _TINTED_RIGHT, _FACE_RIGHT = 0.4, 0.85, 0.95
_MOST_STRAY = 0.1


def sharpened(
    likely: NDArray[np.float32], pixels: NDArray[np.uint8]
) -> NDArray[np.float32]:
    """Return the network's answer with tinted things drawn to their edges.

    Parameters
    ----------
    likely : ndarray of float32, (rows, cols, 3)
        How likely each px is beside the face, face or a thing.
    pixels : ndarray of uint8, (rows, cols, 3)
        The photo at that size, sRGB.

    Returns
    -------
    ndarray of float32, (rows, cols, 3)
        The same array where nothing was changed.

    Examples
    --------
    >>> likely = np.zeros((64, 64, 3), np.float32)
    >>> likely[..., 1] = 1
    >>> sharpened(likely, np.full((64, 64, 3), 128, np.uint8)) is likely
    True
    """
    blots = likely[..., THING] > _LIKELY
    count, labels, stats, _ = cv2.connectedComponentsWithStats(blots.astype(np.uint8))
    found = likely
    hue: Any = None
    for number in range(1, count):
        if stats[number, cv2.CC_STAT_AREA] < _SMALLEST * blots.size:
            continue
        if hue is None:
            lab: Any = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB).astype(np.float32)
            # JPEG keeps hues at half the size.
            hue = cv2.GaussianBlur(lab[..., 1:], (0, 0), 1.0)
        told = _by_hue(likely, hue, labels == number)
        if told is None:
            continue
        zone, thing = told
        if found is likely:
            found = likely.copy()
        _tell(found, likely, zone, thing)
    return found


def _by_hue(
    likely: NDArray[np.float32], hue: NDArray[np.float32], blot: Mask
) -> tuple[Mask, Mask] | None:
    """Return where hue decides and which of it is the thing; None where it cannot."""
    step = max(blot.shape) / SIDE_PX
    core = _eroded(blot & (likely[..., THING] > _SURE), step)
    ring = _dilated(blot, _RING * step) & ~_dilated(blot, _REACH * step)
    ring &= likely[..., FACE] > _SURE
    least = step * step * 4
    if core.sum() < least or ring.sum() < least:
        return None
    one = np.median(hue[ring], axis=0)
    # A blot holds what lies between the fingers too: only px of another hue tell.
    tinted = core & (np.hypot(*(hue - one).transpose(2, 0, 1)) > _LEAST_APART)
    if tinted.sum() < _LEAST_TINTED * core.sum():
        return None
    way = np.median(hue[tinted], axis=0) - one
    apart = float(np.hypot(*way))
    if apart < _LEAST_APART:
        return None
    # 0 at the face's hue, 1 at the thing's.
    along = (hue - one) @ (way / apart**2)
    is_thing = along > 0.5  # noqa: PLR2004  half way
    if is_thing[tinted].mean() < _TINTED_RIGHT:
        return None
    wide = max(1, round(0.4 * step))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * wide + 1, 2 * wide + 1))
    # Fingers that the network took for face hang on what it saw.
    drawn = (is_thing & _dilated(blot, _RING * step)).astype(np.uint8)
    # Marks of a ruler and creases are closed before stray px go.
    for how in (cv2.MORPH_CLOSE, cv2.MORPH_OPEN):
        drawn = np.asarray(cv2.morphologyEx(drawn, how, kernel), np.uint8)
    _, parts = cv2.connectedComponents(drawn)
    thing = np.isin(parts, np.setdiff1d(np.unique(parts[tinted]), [0]))
    wrong = (is_thing & ring & ~thing).sum() > (1 - _FACE_RIGHT) * ring.sum()
    # What lies farther off than a gap between fingers is a grey thing beside this one.
    stray = (core & ~_dilated(thing, _GAP * step)).sum() > _MOST_STRAY * core.sum()
    if wrong or stray:
        return None
    return _dilated(blot, _REACH * step) | thing, thing


def _tell(
    found: NDArray[np.float32],
    likely: NDArray[np.float32],
    zone: Mask,
    thing: Mask,
) -> None:
    """Write into an answer what hue told; what is no thing is as its surroundings."""
    found[thing] = np.eye(3, dtype=np.float32)[THING]
    freed = zone & ~thing & (likely[..., THING] > _LIKELY)
    if not freed.any():
        return
    # The nearest px that was no thing before says whether this is face or ground.
    plain = likely[..., THING] <= _LIKELY
    _, nearest = cv2.distanceTransformWithLabels(
        (~plain).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    rows, cols = np.nonzero(plain)
    place = np.zeros(int(nearest.max()) + 1, np.int64)
    place[nearest[rows, cols]] = rows * plain.shape[1] + cols
    flat = likely.reshape(-1, 3)
    found[freed] = flat[place[nearest[freed]]]


def _eroded(mask: Mask, reach: float) -> Mask:
    away = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3)
    return np.asarray(away > reach)


def _dilated(mask: Mask, reach: float) -> Mask:
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 3)
    return np.asarray(away <= reach)
