"""Accuracy on real photos with outlines drawn by hand.

    python tests/benchmarks/real_faces.py [FOLDER] [--leave-one-out] [--no-views]
        [--dump FOLDER]

The photos are not part of the project. The folder is the argument, or
STRUCKFACE_REAL_FACES, or `shared/real_faces` beside the repository.

From another script: ``rows = score_all(folder())``.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tomllib
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.measuring import measure
from tests.benchmarks.real_crops import (
    RULES,
    VIEWS,
    ellipse_points,
    face_outlines,
    fill,
    grown,
    only,
    outline_labels,
    outline_points,
    read_crop,
    read_mask,
    score_crop,
)
from tests.benchmarks.real_summary import report_lines

ROOT = Path(__file__).resolve().parents[2]
UNRELIABLE = "unreliable_finish"
WALL, WALL_OUTLINES = "A01", "sdnet_*"
WALL_MM_PER_PX = 0.25
WALL_MOST_OFF = 0.30
CRACK_BAND_PX = 3.0
CRACKED = ("A03", "A05", "B01", "B03")  # no px of a crack may be counted
HONEYCOMBS = ("H01", "H02")
PLAIN = ("A07", "B16")  # not outlined: what is found is reported
FLUSH_GRAINS_PERCENT = 0.1


def no_hits():
    return scoring.Hits(right=0, missed=0, wrong=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One photo in one view, scored. Not a number where it does not apply.

    `what` is 'crop', 'wall', 'crack', 'honeycomb' or 'plain'; `view` is 'whole' (as a
    user would who outlines nothing), 'face' (the face outlined) or one of `VIEWS`
    (faces outlined where the picture has background).
    `met` is None where nothing is asked of this row by itself.
    """

    key: str
    what: str
    view: str = "whole"
    outlined: int = 0
    hits: scoring.Hits = field(default_factory=no_hits)
    iou: float = float("nan")
    outlined_percent: float = float("nan")
    found_percent: float = float("nan")
    crack_px: int = 0
    honeycomb_percent: float = float("nan")
    low_percent: float = float("nan")
    high_percent: float = float("nan")
    group: str = ""
    precise: bool = True  # whether precision can be told
    unreliable: bool = False
    met: bool | None = None

    @property
    def ratio(self):
        if not self.outlined_percent > 0:
            return float("nan")
        return self.found_percent / self.outlined_percent


def folder(given=None):
    """Where the real photos are, or None."""
    place = given or os.environ.get("STRUCKFACE_REAL_FACES")
    place = Path(place) if place else ROOT.parent / "shared" / "real_faces"
    return place if place.is_dir() else None


def score_all(place, *, views=True, pictures=None):
    """Measure and score all real photos of a folder.

    Parameters
    ----------
    place : Path
        What `folder` says.
    views : bool
        Also the crops enlarged and blurred, moved, and squeezed.
    pictures : dict, optional
        Filled with (image, true mask, found mask) by key and view, to look at.

    Returns
    -------
    list of Row
    """
    pictures = {} if pictures is None else pictures
    rows = []
    for key, rule in RULES.items():
        crop = read_crop(place, key)
        rows.append(_crop_row(crop, "whole", pictures))
        if rule.background:
            rows.append(_crop_row(crop, "face", pictures))
        if views and rule.mode != "none":
            changed = ((view, change(crop)) for view, change in VIEWS.items())
            rows += [_crop_row(seen, view, pictures) for view, seen in changed]
    rows.append(_wall_row(place, pictures))
    outlines = tomllib.loads(Path(__file__).with_name("real_outlines.toml").read_text())
    rows += [_crack_row(place, *item, pictures) for item in outlines.items()]
    rows += [_plain_row(place, key, "honeycomb", pictures) for key in HONEYCOMBS]
    rows += [_plain_row(place, key, "plain", pictures) for key in PLAIN]
    return rows


def _crop_row(crop, view, pictures):
    rule, shape = crop.rule, crop.ignore.shape
    whole = view == "whole" or not rule.background
    outlines = [None] if whole else face_outlines(crop.ignore)
    runs = [measure(crop.png, suffix=".png", outline=line) for line in outlines]
    mask = np.any([run.mask for run in runs], axis=0)
    labels = outline_labels(crop.outlines, shape)
    found = scoring.label(mask, [at for run in runs for at in run.centres])
    sizes = crop.diameters_px
    score = score_crop(labels, crop.ignore, found, rule, sizes)
    pictures[crop.key, view] = (crop.image, labels > 0, mask)
    scored_px = 1 if rule.mode == "ring" else (~crop.ignore | (labels > 0)).mean()
    figures = {
        "outlined_percent": 100 * score.true_share / scored_px,
        "found_percent": 100 * score.found_share / scored_px,
    }
    row = Row(
        key=crop.key,
        what="crop",
        view=view,
        outlined=int(np.sum(sizes >= rule.from_px)),
        hits=score.hits,
        iou=score.mean_iou,
        group=rule.group,
        precise=rule.mode != "ring",
        unreliable=any(UNRELIABLE in run.figures["flags"] for run in runs),
        **_interval(runs),
        **figures,
    )
    judged = view == ("face" if rule.background else "whole")
    return _with_verdict(row, rule) if judged else row


def _interval(runs):
    names = {"low_percent": "_low", "high_percent": "_high"}
    if len(runs) > 1:
        return {}
    return {k: runs[0].figures["void_area_percent" + v] for k, v in names.items()}


def _with_verdict(row, rule):
    if rule.mode == "none":
        good = row.unreliable or row.found_percent <= FLUSH_GRAINS_PERCENT
    else:
        good = (
            _at_least(row.hits.recall, rule.least_recall)
            and _at_least(row.hits.precision, rule.least_precision)
            and _at_least(row.iou, rule.least_iou)
            and (rule.most_off is None or abs(row.ratio - 1) <= rule.most_off)
        )
    return replace(row, met=bool(good))


def _at_least(value, least):
    return least is None or value >= least


# -- the wall with majors and minors, cracks, honeycomb


def score_wall(voids, ignore, found_labels):
    """Majors found, pooled IoU of the majors, share over that outlined."""
    labels = outline_labels(list(map(outline_points, voids)), ignore.shape)
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


def _wall_row(place, pictures):
    photo = only(place, f"{WALL}_*.jpg")
    found = measure(photo.read_bytes(), WALL_MM_PER_PX)
    voids = json.loads(only(place, f"{WALL_OUTLINES}.json").read_text())["voids"]
    ignore = read_mask(only(place, f"{WALL_OUTLINES}_ignore.png"))
    wall = score_wall(voids, ignore, scoring.label(found.mask, found.centres))
    labels = outline_labels(list(map(outline_points, voids)), ignore.shape)
    pictures[WALL, "whole"] = (cv2.imread(str(photo)), labels > 0, found.mask)
    missed = wall["majors"] - wall["found"]
    off = abs(wall["found_percent"] / wall["all_percent"] - 1)
    return Row(
        key=WALL,
        what="wall",
        outlined=len(voids),
        hits=scoring.Hits(right=wall["found"], missed=missed, wrong=0),
        iou=wall["iou"],
        outlined_percent=wall["all_percent"],
        found_percent=wall["found_percent"],
        precise=False,
        unreliable=UNRELIABLE in found.figures["flags"],
        met=missed == 0 and off <= WALL_MOST_OFF,
        **_interval([found]),
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
        band &= ~grown(fill(ellipse_points(*pit), shape), 2.0)
    return band


def _crack_row(place, key, known, pictures):
    photo = only(place, f"{key}_*.jpg")
    found = measure(photo.read_bytes())
    shape = found.mask.shape
    sure = [fill(ellipse_points(*pit), shape) for pit in known["pits"]]
    open_to_doubt = np.zeros(shape, bool)
    for pit in (*known["pits"], *known["doubtful"]):
        open_to_doubt |= grown(fill(ellipse_points(*pit), shape), 2.0)
    band = crack_band(known["cracks"], known["pits"], shape)
    on_crack = int((found.mask & band).sum())
    pictures[key, "whole"] = (cv2.imread(str(photo)), band, found.mask)
    hit = sum(bool((pit & found.mask).any()) for pit in sure)
    return Row(
        key=key,
        what="crack",
        outlined=len(sure),
        hits=scoring.Hits(right=hit, missed=len(sure) - hit, wrong=0),
        found_percent=100 * float((found.mask & ~open_to_doubt).mean()),
        crack_px=on_crack,
        precise=False,
        unreliable=UNRELIABLE in found.figures["flags"],
        met=on_crack == 0 if key in CRACKED else None,
        **_interval([found]),
    )


def _plain_row(place, key, what, pictures):
    photo = only(place, f"{key}_*.jpg")
    found = measure(photo.read_bytes())
    pictures[key, "whole"] = (cv2.imread(str(photo)), found.mask & False, found.mask)
    return Row(
        key=key,
        what=what,
        found_percent=100 * float(found.mask.mean()),
        honeycomb_percent=found.figures["honeycomb_percent"] or 0.0,
        precise=False,
        unreliable=UNRELIABLE in found.figures["flags"],
        **_interval([found]),
    )


def report(place, *, views=True, leave_one_out=False, pictures=None):
    """Lines of the report; one sentence when the photos are not there."""
    yield "Real photos"
    yield ""
    if place is None:
        yield (
            "Not scored: the folder of real photos is not here. Give it as an argument "
            "or in STRUCKFACE_REAL_FACES."
        )
        return
    rows = score_all(place, views=views, pictures=pictures)
    yield from report_lines(rows, leave_one_out=leave_one_out)


def dump(pictures, where, zoom=3):
    """Photos enlarged, outlines in cyan, what was found in magenta."""
    where.mkdir(parents=True, exist_ok=True)
    for (key, view), (image, true_mask, found_mask) in pictures.items():
        size = (image.shape[1] * zoom, image.shape[0] * zoom)
        large_image = cv2.resize(image, size, interpolation=cv2.INTER_CUBIC)
        for mask, colour in ((true_mask, (255, 255, 0)), (found_mask, (255, 0, 255))):
            large = cv2.resize(np.uint8(mask), size, interpolation=cv2.INTER_NEAREST)
            lines, _ = cv2.findContours(large, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
            cv2.drawContours(large_image, lines, -1, colour, 1)
        name = f"{key}_{view.replace(', ', '_')}.png"
        cv2.imwrite(str(where / name), large_image)


def main():
    parser = argparse.ArgumentParser(description="Accuracy on real photos.")
    parser.add_argument("folder", nargs="?", type=Path, default=None)
    parser.add_argument("--no-views", action="store_true", help="the crops as they are")
    parser.add_argument(
        "--leave-one-out", action="store_true", help="means with each crop left out"
    )
    parser.add_argument("--dump", type=Path, help="folder for the outlined pictures")
    asked = parser.parse_args()
    pictures = {}
    lines = report(
        folder(asked.folder),
        views=not asked.no_views,
        leave_one_out=asked.leave_one_out,
        pictures=pictures,
    )
    for line in lines:
        sys.stdout.write(line + "\n")
    if asked.dump:
        dump(pictures, asked.dump)


if __name__ == "__main__":
    main()
