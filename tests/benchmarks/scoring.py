"""How a found mask is scored against a true one. No drawing and no measuring here.

Rules
-----
- A match: overlap of at least 30 % of the smaller of the two, one to one, the
  largest overlaps first.
- Scored at a size (2 mm in the reports): true voids of that size and more must be
  found. What matches a smaller true void is neither right nor wrong, and so is
  what is found below the size and matches nothing.
- Shares and pixels: true voids at or above the smallest counted size; pixels of
  smaller true voids, with a ring of one pixel, are not scored.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

MATCH_SHARE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Hits:
    """Counts of a matching; `pairs` are (true, found) labels."""

    right: int
    missed: int
    wrong: int
    pairs: tuple[tuple[int, int], ...] = ()

    @property
    def recall(self):
        return _ratio(self.right, self.right + self.missed)

    @property
    def precision(self):
        return _ratio(self.right, self.right + self.wrong)

    @property
    def f1(self):
        """Not a number when there is nothing to find and nothing was found."""
        return _ratio(2 * self.right, 2 * self.right + self.missed + self.wrong)

    def __add__(self, other):
        return Hits(
            right=self.right + other.right,
            missed=self.missed + other.missed,
            wrong=self.wrong + other.wrong,
        )


def _ratio(part, whole):
    return part / whole if whole else float("nan")


def label(mask, centres=()):
    """Numbered blobs (8-connected); a blob with several centres is split.

    Parameters
    ----------
    mask : ndarray of bool, (rows, cols)
    centres : sequence of (row, col)
        Centroids of the voids as listed: where several fall on one blob, each of
        its pixels goes to the nearest.
    """
    count, labels = cv2.connectedComponents(np.uint8(mask), connectivity=8)
    if not len(centres) or count == 1:
        return labels
    _, near = cv2.distanceTransformWithLabels(
        np.uint8(labels == 0), cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL
    )
    at = np.clip(np.rint(np.asarray(centres)).astype(int), 0, np.array(mask.shape) - 1)
    owner = np.zeros(near.max() + 1, np.int32)
    owner[near[labels > 0]] = labels[labels > 0]
    blob = owner[near[at[:, 0], at[:, 1]]]
    for number in np.flatnonzero(np.bincount(blob, minlength=count) > 1):
        mine = np.asarray(centres)[blob == number]
        pixels = np.argwhere(labels == number)
        gap = ((pixels[:, None] - mine[None]) ** 2).sum(axis=2)
        nearest = gap.argmin(axis=1)
        parts = np.where(nearest == 0, number, count + nearest - 1)
        labels[tuple(pixels.T)] = parts
        count += len(mine) - 1
    return labels


def areas_of(labels, count=0):
    """Pixels of each label from 1 on, at least `count` of them."""
    return np.bincount(labels.ravel(), minlength=count + 1)[1:].astype(float)


def diameters_mm(areas_px, mm_per_px):
    return np.sqrt(4 * np.asarray(areas_px) / np.pi) * mm_per_px


def overlaps(true_labels, found_labels):
    """Rows of (true, found, pixels in common), largest first."""
    both = (true_labels > 0) & (found_labels > 0)
    wide = int(found_labels.max()) + 1
    keys = true_labels[both].astype(np.int64) * wide + found_labels[both]
    pairs, common = np.unique(keys, return_counts=True)
    order = np.argsort(-common, kind="stable")
    return np.stack([pairs // wide, pairs % wide, common], 1)[order]


def match(true_labels, found_labels, true_wanted=None, found_wanted=None):
    """Match found blobs to true ones.

    Parameters
    ----------
    true_labels, found_labels : ndarray of int, (rows, cols)
    true_wanted : ndarray of bool, (true,), optional
        Which true voids must be found; the others only excuse what hits them.
    found_wanted : ndarray of bool, (found,), optional
        Which found ones are wrong when they match nothing.

    Returns
    -------
    Hits
    """
    found_areas = areas_of(found_labels)
    true_areas = areas_of(true_labels, 0 if true_wanted is None else len(true_wanted))
    if true_wanted is None:
        true_wanted = true_areas > 0
    if found_wanted is None:
        found_wanted = found_areas > 0
    taken_true, taken_found, excused = set(), set(), set()
    pairs = []
    for true, found, common in overlaps(true_labels, found_labels).tolist():
        smaller = min(true_areas[true - 1], found_areas[found - 1])
        if common < MATCH_SHARE * smaller:
            continue
        if not true_wanted[true - 1]:
            excused.add(found)
        elif true not in taken_true and found not in taken_found:
            taken_true.add(true)
            taken_found.add(found)
            pairs.append((true, found))
    alone = set((np.flatnonzero(found_wanted & (found_areas > 0)) + 1).tolist())
    return Hits(
        right=len(pairs),
        missed=int(np.sum(true_wanted)) - len(pairs),
        wrong=len(alone - taken_found - excused),
        pairs=tuple(pairs),
    )


def pixel_iou(true_mask, found_mask, scored=None):
    """Pixels in both over pixels in either; not a number when there are none."""
    true_mask, found_mask = np.asarray(true_mask, bool), np.asarray(found_mask, bool)
    if scored is not None:
        true_mask, found_mask = true_mask & scored, found_mask & scored
    return _ratio(
        int((true_mask & found_mask).sum()), int((true_mask | found_mask).sum())
    )


def pair_ious(true_labels, found_labels, pairs):
    """IoU of each matched pair."""
    true_areas, found_areas = areas_of(true_labels), areas_of(found_labels)
    common = {
        (true, found): pixels
        for true, found, pixels in overlaps(true_labels, found_labels).tolist()
    }
    return np.array(
        [
            common[pair]
            / (true_areas[pair[0] - 1] + found_areas[pair[1] - 1] - common[pair])
            for pair in pairs
        ]
    )


def holds(low, high, truth):
    """Whether an interval holds the truth, to rounding."""
    return low - 1e-9 <= truth <= high + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceScore:
    """One drawn face scored. Percent where the name says so."""

    renderer: str = "second"
    light: str = ""
    kind: str
    seed: int
    tier: str
    grainy: bool
    true_percent: float
    found_percent: float
    low_percent: float
    high_percent: float
    iou: float
    at_2_mm: Hits
    at_smallest: Hits
    lines_percent: float
    honeycomb_true_percent: float
    honeycomb_found_percent: float
    unreliable: bool
    smallest_as_stated: bool
    seconds: float

    @property
    def error_percent(self):
        """Relative error of the share; not a number on a clean face."""
        return 100 * _ratio(self.found_percent - self.true_percent, self.true_percent)

    @property
    def covered(self):
        return holds(self.low_percent, self.high_percent, self.true_percent)

    @property
    def high_over_low(self):
        return self.high_percent / self.low_percent if self.low_percent > 0 else np.inf


def smallest_mm(mm_per_px):
    """Smallest counted size by default: the larger of 0.5 mm and 4 px."""
    return max(0.5, 4 * mm_per_px)


def match_at(true_labels, true_areas_px, found_labels, limit_px):
    """Match at a size, an equivalent diameter in px."""
    return match(
        true_labels,
        found_labels,
        diameters_mm(true_areas_px, 1.0) >= limit_px,
        diameters_mm(areas_of(found_labels), 1.0) >= limit_px,
    )
