"""Accuracy on real photos with outlines drawn by hand.

    python tests/benchmarks/real_faces.py [FOLDER] [--dump FOLDER]

The photos are not part of the project. The folder is the argument, or
STRUCKFACE_REAL_FACES, or `shared/real_faces` beside the repository.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from skimage.draw import polygon2mask

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.measuring import measure

ROOT = Path(__file__).resolve().parents[2]
CROPS = {
    "T2": ("T2_dismantling2_top", "full"),
    "T3": ("T3_clockbox_IMG_8064", "full"),
    "T4": ("T4_delicate_density_leg", "full"),
    "T6": ("T6_rebar_wall", "ring"),
}
SPECK_PX = 12
RING_PX = 3
WALL = "A01_sdnet_wall_bugholes_7070-50.jpg"
WALL_OUTLINES = "sdnet_7070-50"
WALL_MM_PER_PX = 0.25
CRACK_BAND_PX = 3.0
FINE = 8  # outlines are filled on a grid this much finer


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


def folder(given=None):
    """Where the real photos are, or None."""
    place = given or os.environ.get("STRUCKFACE_REAL_FACES")
    place = Path(place) if place else ROOT.parent / "shared" / "real_faces"
    return place if place.is_dir() else None


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


def fill(points, shape):
    """Pixels at least half inside a polygon of continuous (x, y)."""
    fine = np.zeros((shape[0] * FINE, shape[1] * FINE), np.uint8)
    at = np.asarray(points, float)[:, ::-1] * FINE - 0.5
    fine[polygon2mask(fine.shape, at)] = 255
    return cv2.resize(fine, shape[::-1], interpolation=cv2.INTER_AREA) >= 128


def _outline_points(void):
    """Points of an outline in either of the two ways they are noted."""
    kind = void.get("shape", void.get("type"))
    if kind == "polygon":
        return np.asarray(void.get("data", void.get("points")), float).reshape(-1, 2)
    data = void.get("data") or [void[k] for k in ("cx", "cy", "rx", "ry")]
    return ellipse_points(*data)


def outline_labels(voids, shape):
    """Label image of outlines, in their order; at least one pixel each."""
    labels = np.zeros(shape, np.int32)
    for number, void in enumerate(voids, start=1):
        points = _outline_points(void)
        inside = fill(points, shape)
        if not inside.any():
            col, row = np.int64(points.mean(axis=0))
            inside[min(row, shape[0] - 1), min(col, shape[1] - 1)] = True
        labels[inside & (labels == 0)] = number
    return labels


def _grown(mask, radius_px):
    away = cv2.distanceTransform(np.uint8(~mask), cv2.DIST_L2, 5)
    return away <= radius_px


def _read_mask(path):
    return cv2.imread(str(path), cv2.IMREAD_GRAYSCALE) > 127


def score_crop(true_labels, ignore, found_labels, mode):
    """Score one outlined crop.

    Parameters
    ----------
    true_labels : ndarray of int, (rows, cols)
    ignore : ndarray of bool, (rows, cols)
        Not scored, except where an outline lies on it.
    found_labels : ndarray of int, (rows, cols)
    mode : {'full', 'ring'}
        'ring' scores inside the outlines and a ring of 3 px only: what is found
        elsewhere is neither right nor wrong.
    """
    outlined = true_labels > 0
    scored = _grown(outlined, RING_PX) if mode == "ring" else ~ignore | outlined
    touched = np.unique(found_labels[outlined])
    areas = scoring.areas_of(found_labels)
    numbers = np.arange(1, len(areas) + 1)
    inside = scoring.areas_of(np.where(scored, found_labels, 0), len(areas))
    real = np.isin(numbers, touched)
    keep = real | ((areas >= SPECK_PX) & (inside > areas / 2))
    kept = np.where(scored & np.isin(found_labels, numbers[keep]), found_labels, 0)
    hits = scoring.match(true_labels, kept)
    if mode == "ring":
        hits = scoring.Hits(
            right=hits.right, missed=hits.missed, wrong=0, pairs=hits.pairs
        )
    ious = scoring.pair_ious(true_labels, kept, hits.pairs)
    return CropScore(
        hits=hits,
        mean_iou=float(ious.mean()) if len(ious) else float("nan"),
        true_share=float((outlined & scored).mean()),
        found_share=float((kept > 0).mean()),
    )


def _crop_rows(place, pictures):
    for name, (stem, mode) in CROPS.items():
        photo = place / f"{stem}_crop.png"
        found = measure(photo.read_bytes(), suffix=".png")
        voids = json.loads((place / f"{stem}.json").read_text())["voids"]
        labels = outline_labels(voids, found.mask.shape)
        ignore = _read_mask(place / f"{stem}_ignore.png")
        found_labels = scoring.label(found.mask, found.centres)
        score = score_crop(labels, ignore, found_labels, mode)
        pictures[name] = (photo, labels > 0, found.mask)
        hits = score.hits
        yield [
            name,
            f"{len(voids)}",
            f"{hits.right} / {hits.missed} / {hits.wrong if mode == 'full' else '-'}",
            f"{hits.precision:.2f}" if mode == "full" else "-",
            f"{hits.recall:.2f}",
            f"{hits.f1:.2f}" if mode == "full" else "-",
            f"{score.mean_iou:.2f}",
            f"{100 * score.true_share:.2f}",
            f"{100 * score.found_share:.2f}",
            f"{score.share_ratio:.2f}",
            _crop_verdict(name, score),
        ]


def _crop_verdict(name, score):
    if name == "T6":
        return _met(score.hits.recall >= 0.90)
    good = score.hits.f1 >= 0.90 and score.mean_iou >= 0.62
    if name in {"T2", "T3"}:
        good = good and abs(score.share_ratio - 1) <= 0.25
    return _met(good)


def _met(good):
    return "met" if good else "NOT met"


def score_wall(voids, ignore, found_labels):
    """A01: majors found, pooled IoU of the majors, share over that outlined."""
    labels = outline_labels(voids, ignore.shape)
    major = np.array([void["tier"] == "major" for void in voids])
    hits = scoring.match(labels, found_labels, major, None)
    theirs = np.isin(found_labels, [found for _, found in hits.pairs])
    true_major = np.isin(labels, np.flatnonzero(major) + 1)
    minor = (labels > 0) & ~true_major
    iou = scoring.pixel_iou(true_major, theirs, ~minor & (~ignore | true_major))
    found = (found_labels > 0) & (~ignore | (labels > 0))
    limit_px = scoring.smallest_mm(WALL_MM_PER_PX) / WALL_MM_PER_PX
    large = scoring.diameters_mm(scoring.areas_of(labels, len(voids)), 1.0) >= limit_px
    counted = np.isin(labels, np.flatnonzero(large) + 1)
    return {
        "majors": int(major.sum()),
        "found": hits.right,
        "iou": iou,
        "all_percent": 100 * float((labels > 0).mean()),
        "counted_percent": 100 * float(counted.mean()),
        "found_percent": 100 * float(found.mean()),
    }


def _wall_lines(place, pictures):
    photo = place / WALL
    found = measure(photo.read_bytes(), WALL_MM_PER_PX)
    voids = json.loads((place / f"{WALL_OUTLINES}.json").read_text())["voids"]
    ignore = _read_mask(place / f"{WALL_OUTLINES}_ignore.png")
    found_labels = scoring.label(found.mask, found.centres)
    wall = score_wall(voids, ignore, found_labels)
    pictures["A01"] = (photo, outline_labels(voids, ignore.shape) > 0, found.mask)
    ratio = wall["found_percent"] / wall["all_percent"]
    yield (
        f"A01 (0.25 mm/px): majors {wall['found']} of {wall['majors']} "
        f"({_met(wall['found'] == wall['majors'])}); pooled IoU of the majors "
        f"{wall['iou']:.2f} ({_met(wall['iou'] >= 0.55)}); share {ratio:.2f} of "
        f"the outlines ({_met(abs(ratio - 1) <= 0.35)}): found "
        f"{wall['found_percent']:.2f} %, outlined {wall['all_percent']:.2f} %, of it "
        f"{wall['counted_percent']:.2f} % at or above the smallest counted size."
    )


def crack_band(cracks, pits, shape):
    """Pixels of the cracks' bands that no pit comes near."""
    band = np.zeros(shape, bool)
    for line in cracks:
        canvas = np.full(shape, 255, np.uint8)
        at = np.int32(np.rint((np.asarray(line) - 0.5) * 16))
        cv2.polylines(canvas, [at], isClosed=False, color=0, shift=4)
        band |= cv2.distanceTransform(canvas, cv2.DIST_L2, 5) <= CRACK_BAND_PX
    for pit in pits:
        band &= ~_grown(fill(ellipse_points(*pit), shape), 2.0)
    return band


def _crack_rows(place, pictures):
    outlines = tomllib.loads(Path(__file__).with_name("real_outlines.toml").read_text())
    for name, known in outlines.items():
        photo = next(place.glob(f"{name}_*.jpg"))
        found = measure(photo.read_bytes())
        shape = found.mask.shape
        sure = [fill(ellipse_points(*pit), shape) for pit in known["pits"]]
        open_to_doubt = np.zeros(shape, bool)
        for pit in (*known["pits"], *known["doubtful"]):
            open_to_doubt |= _grown(fill(ellipse_points(*pit), shape), 2.0)
        band = crack_band(known["cracks"], known["pits"], shape)
        on_crack = int((found.mask & band).sum())
        false = found.mask & ~open_to_doubt
        pictures[name] = (photo, band, found.mask)
        yield [
            name,
            str(on_crack),
            _met(on_crack == 0) if known["cracks"] else "-",
            f"{sum(bool((pit & found.mask).any()) for pit in sure)} of {len(sure)}",
            f"{100 * false.mean():.3f}",
            "yes" if "unreliable_finish" in found.figures["flags"] else "no",
        ]


def report(place, pictures=None):
    """Lines of the report; one sentence when the photos are not there."""
    yield "Real photos"
    yield ""
    if place is None:
        yield (
            "Not scored: the folder of real photos is not here. Give it as an argument "
            "or in STRUCKFACE_REAL_FACES."
        )
        return
    pictures = {} if pictures is None else pictures
    head = (
        "crop", "voids", "right / missed / wrong", "precision", "recall", "F1",
        "mean IoU", "outlined %", "found %", "ratio", "target",
    )  # fmt: skip
    yield from _table(head, _crop_rows(place, pictures))
    yield ""
    yield from _wall_lines(place, pictures)
    yield ""
    head = (
        "photo", "crack px counted", "target 0", "pits found", "false area %",
        "unreliable",
    )  # fmt: skip
    yield from _table(head, _crack_rows(place, pictures))


def _table(head, rows):
    yield "| " + " | ".join(head) + " |"
    yield "|" + "---|" * len(head)
    for row in rows:
        yield "| " + " | ".join(row) + " |"


def dump(pictures, where, zoom=3):
    """Photos enlarged, outlines in cyan, what was found in magenta."""
    where.mkdir(parents=True, exist_ok=True)
    for name, (photo, true_mask, found_mask) in pictures.items():
        image = cv2.imread(str(photo))
        size = (image.shape[1] * zoom, image.shape[0] * zoom)
        image = cv2.resize(image, size, interpolation=cv2.INTER_CUBIC)
        for mask, colour in ((true_mask, (255, 255, 0)), (found_mask, (255, 0, 255))):
            large = cv2.resize(np.uint8(mask), size, interpolation=cv2.INTER_NEAREST)
            lines, _ = cv2.findContours(large, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
            cv2.drawContours(image, lines, -1, colour, 1)
        cv2.imwrite(str(where / f"{name}.png"), image)


def main():
    parser = argparse.ArgumentParser(description="Accuracy on real photos.")
    parser.add_argument("folder", nargs="?", type=Path, default=None)
    parser.add_argument("--dump", type=Path, help="folder for the outlined pictures")
    asked = parser.parse_args()
    pictures = {}
    for line in report(folder(asked.folder), pictures):
        sys.stdout.write(line + "\n")
    if asked.dump:
        dump(pictures, asked.dump)


if __name__ == "__main__":
    main()
