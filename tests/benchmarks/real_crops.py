"""Crops of real photos with outlines drawn by hand: reading, changing, scoring them.

Crops go by a neutral key; the files are found by it (`T2_*_crop.png`). Rules, beside
those of `scoring`:

- An outline wins over the ignored area; what is found there otherwise is not scored.
- Found blobs below a crop's `speck_px2` that touch no outline are not wrong.
- Changed views ask only for outlines of 4 px2 and more in the view: the least that
  is counted without a scale.
- Outlines below a crop's `from_px` across (a circle of the same area) need not be
  found and are not in the share; they only excuse what hits them.
- 'ring' crops are outlined in part: only the outlines and 3 px around are scored.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import cv2
import numpy as np
from skimage.draw import polygon2mask

from tests.benchmarks import scoring

RING_PX = 3
FINE = 8  # outlines are filled on a grid this much finer
# Ignored from the border of the picture on, and at least so large: not the face.
BACKGROUND_PX, BACKGROUND_ROUGHNESS_PX = 400, 0.7
FACE_PX = 2500
BLUR_FACTOR, BLUR_PX = 2, 1.5
MOTION_PX = 7
SQUEEZE = 4
COUNTED_PX = float(np.sqrt(4 * 4 / np.pi))  # 4 px2


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """How a crop is scored and what is asked of it.

    Attributes
    ----------
    mode : {'full', 'ring', 'none'}
        'none' has no void at all.
    from_px : float
        Voids of this diameter and more must be found.
    speck_px2 : float
        Smaller blobs that touch no outline are not wrong.
    group : str
        Crops whose means are judged together.
    least_recall, least_precision, least_iou, most_off : float or None
        What the crop by itself must reach; `most_off` is |found / outlined - 1|.
    background : bool
        The picture shows more than the face: judged with the face outlined.
    """

    mode: str = "full"
    from_px: float = 0.0
    speck_px2: float = 12.0
    group: str = ""
    least_recall: float | None = None
    least_precision: float | None = None
    least_iou: float | None = None
    most_off: float | None = None
    background: bool = False


_SMOOTH = Rule(group="T2 T3 T4", least_iou=0.63, most_off=0.20)
_SEEN = Rule(
    group="P2 P4 P5 P8 N3",
    from_px=3.0,
    speck_px2=np.pi / 4 * 3.0**2,
    least_recall=0.8,
    least_precision=0.8,
    most_off=0.20,
)
RULES = {
    "T2": _SMOOTH,
    "T3": _SMOOTH,
    "T4": _SMOOTH,
    "T6": Rule(mode="ring", least_recall=0.95, most_off=0.35),
    "N3": replace(_SEEN, background=True),
    "N4": Rule(mode="ring", most_off=0.35),
    "N7": Rule(mode="none", speck_px2=0.0),
    "P2": replace(_SEEN, background=True, most_off=None),
    "P4": _SEEN,
    "P5": _SEEN,
    "P8": _SEEN,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crop:
    """An outlined crop: the photo, its outlines as continuous (x, y), what to ignore.

    `image` is (rows, cols, 3) BGR, `outlines` one (n, 2) array a void where pixel i
    covers [i, i + 1), `ignore` (rows, cols) bool.
    """

    key: str
    rule: Rule
    image: np.ndarray
    outlines: tuple[np.ndarray, ...]
    ignore: np.ndarray

    @property
    def png(self):
        return cv2.imencode(".png", self.image)[1].tobytes()

    @property
    def diameters_px(self):
        """Diameter of the circle of each outline's area."""
        return scoring.diameters_mm([polygon_area(p) for p in self.outlines], 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CropScore:
    """One outlined crop scored; ratios, not percent."""

    hits: scoring.Hits
    mean_iou: float
    true_share: float
    found_share: float

    @property
    def share_ratio(self):
        return self.found_share / self.true_share if self.true_share else float("nan")


def only(place, pattern):
    """Return the one file of a folder that fits a pattern."""
    found = sorted(place.glob(pattern))
    if len(found) != 1:
        refusal = f"{pattern} fits {len(found)} files in {place}, not one."
        raise FileNotFoundError(refusal)
    return found[0]


def read_crop(place, key):
    """Read one crop of `RULES` by its key."""
    photo = only(place, f"{key}_*_crop.png")
    stem = photo.name.removesuffix("_crop.png")
    known = json.loads((place / f"{stem}.json").read_text(encoding="utf-8"))
    return Crop(
        key=key,
        rule=RULES[key],
        image=cv2.imread(str(photo)),
        outlines=tuple(map(outline_points, known["voids"])),
        ignore=read_mask(place / f"{stem}_ignore.png"),
    )


def read_mask(path):
    return cv2.imread(str(path), cv2.IMREAD_GRAYSCALE) > 127


# -- outlines


def ellipse_points(x, y, rx, ry, degrees=0.0):
    """Outline of an ellipse turned clockwise on screen."""
    turn, angle = np.radians(degrees), np.linspace(0, 2 * np.pi, 64, endpoint=False)
    along, across = rx * np.cos(angle), ry * np.sin(angle)
    return np.stack(
        [
            x + along * np.cos(turn) - across * np.sin(turn),
            y + along * np.sin(turn) + across * np.cos(turn),
        ],
        axis=1,
    )


def outline_points(void):
    """Points of an outline in any of the ways they are noted."""
    if "polygon" in void:
        return np.asarray(void["polygon"], float).reshape(-1, 2)
    kind = void.get("shape", void.get("type"))
    if kind == "polygon":
        return np.asarray(void.get("data", void.get("points")), float).reshape(-1, 2)
    return ellipse_points(
        *(void.get("data") or [void[k] for k in ("cx", "cy", "rx", "ry")])
    )


def polygon_area(points):
    """Area of a polygon by the shoelace formula."""
    x, y = np.asarray(points, float).T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def fill(points, shape):
    """Pixels at least half inside a polygon of continuous (x, y)."""
    points = np.asarray(points, float)
    low = np.maximum(np.floor(points.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + 1, shape[::-1])
    inside = np.zeros(shape, bool)
    wide, tall = high - low
    if wide <= 0 or tall <= 0:
        return inside
    fine = polygon2mask(
        (tall * FINE, wide * FINE), (points - low)[:, ::-1] * FINE - 0.5
    )
    share = fine.reshape(tall, FINE, wide, FINE).mean(axis=(1, 3))
    inside[low[1] : high[1], low[0] : high[0]] = share >= 0.5
    return inside


def outline_labels(outlines, shape):
    """Label image of outlines, in their order; at least one pixel each."""
    labels = np.zeros(shape, np.int32)
    for number, points in enumerate(outlines, start=1):
        inside = fill(points, shape)
        if not inside.any():
            col, row = np.int64(points.mean(axis=0))
            inside[min(row, shape[0] - 1), min(col, shape[1] - 1)] = True
        labels[inside & (labels == 0)] = number
    return labels


def grown(mask, radius_px):
    """Pixels within a distance of a mask."""
    away = cv2.distanceTransform(np.uint8(~mask), cv2.DIST_L2, 5)
    return away <= radius_px


def face_outlines(ignore):
    """Outlines a user would draw round the faces of a crop with background in it.

    Ignored areas that reach the border of the picture are background; each large
    piece of what is left is a face by itself.

    Returns
    -------
    list of ndarray, (n, 2)
        (x, y), the origin at the centre of the first px.
    """
    _, parts, stats, _ = cv2.connectedComponentsWithStats(np.uint8(ignore))
    edge = np.unique(np.r_[parts[0], parts[-1], parts[:, 0], parts[:, -1]])
    away = [n for n in edge if n and stats[n, cv2.CC_STAT_AREA] >= BACKGROUND_PX]
    faces = np.uint8(~np.isin(parts, away))
    lines, _ = cv2.findContours(faces, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [
        cv2.approxPolyDP(line, BACKGROUND_ROUGHNESS_PX, closed=True).reshape(-1, 2)
        for line in lines
        if cv2.contourArea(line) >= FACE_PX
    ]


# -- the same crop seen worse


def enlarged(crop):
    """Twice the size, out of focus: a Gaussian of 1.5 px."""
    size = tuple(BLUR_FACTOR * side for side in crop.ignore.shape[::-1])
    image = cv2.resize(crop.image, size, interpolation=cv2.INTER_CUBIC)
    return _changed(crop, cv2.GaussianBlur(image, (0, 0), BLUR_PX), BLUR_FACTOR, 1)


def moved(crop):
    """Motion blur along a row of 7 px."""
    kernel = np.full((1, MOTION_PX), 1 / MOTION_PX)
    return _changed(crop, cv2.filter2D(crop.image, -1, kernel), 1, 1)


def squeezed(crop):
    """A grazing view: a quarter of the width."""
    high, wide = crop.ignore.shape
    image = cv2.resize(
        crop.image, (wide // SQUEEZE, high), interpolation=cv2.INTER_AREA
    )
    return _changed(crop, image, 1, 1 / SQUEEZE)


VIEWS = {"enlarged, blurred": enlarged, "moved": moved, "squeezed": squeezed}


def _changed(crop, image, scale, across):
    stretch, larger = np.array([scale * across, scale]), across * scale**2
    ignore = cv2.resize(
        np.uint8(crop.ignore), image.shape[1::-1], interpolation=cv2.INTER_AREA
    )
    return replace(
        crop,
        rule=replace(
            crop.rule,
            from_px=max(crop.rule.from_px * larger**0.5, COUNTED_PX),
            speck_px2=crop.rule.speck_px2 * larger,
        ),
        image=image,
        outlines=tuple(points * stretch for points in crop.outlines),
        ignore=ignore > 0,
    )


# -- scoring


def score_crop(true_labels, ignore, found_labels, rule, diameters_px=None):
    """Score one outlined crop.

    Parameters
    ----------
    true_labels : ndarray of int, (rows, cols)
    ignore : ndarray of bool, (rows, cols)
        Not scored, except where an outline lies on it.
    found_labels : ndarray of int, (rows, cols)
    rule : Rule
    diameters_px : ndarray, (outlines,), optional
        Taken from the labels where not given.
    """
    outlined = true_labels > 0
    scored = grown(outlined, RING_PX) if rule.mode == "ring" else ~ignore | outlined
    if diameters_px is None:
        diameters_px = scoring.diameters_mm(scoring.areas_of(true_labels), 1.0)
    wanted = np.asarray(diameters_px) >= rule.from_px
    small = np.isin(true_labels, np.flatnonzero(~wanted) + 1)
    areas = scoring.areas_of(found_labels)
    numbers = np.arange(1, len(areas) + 1)
    inside = scoring.areas_of(np.where(scored, found_labels, 0), len(areas))
    real = np.isin(numbers, np.unique(found_labels[outlined]))
    keep = real | ((areas >= rule.speck_px2) & (inside > areas / 2))
    kept = np.where(scored & np.isin(found_labels, numbers[keep]), found_labels, 0)
    hits = scoring.match(true_labels, kept, wanted)
    if rule.mode == "ring":
        hits = replace(hits, wrong=0)
    ious = scoring.pair_ious(true_labels, kept, hits.pairs)
    return CropScore(
        hits=hits,
        mean_iou=float(ious.mean()) if len(ious) else float("nan"),
        true_share=float((outlined & ~small).mean()),
        found_share=float((_without(kept, small, hits) > 0).mean()),
    )


def _without(kept, small, hits):
    """What was found, less what hits small outlines and matches no wanted one."""
    areas, paired = scoring.areas_of(kept), [found for _, found in hits.pairs]
    on_small = scoring.areas_of(np.where(small, kept, 0), len(areas))
    excused = np.flatnonzero((on_small > 0) & (on_small >= areas / 4)) + 1
    return np.where(np.isin(kept, np.setdiff1d(excused, paired)), 0, kept)
