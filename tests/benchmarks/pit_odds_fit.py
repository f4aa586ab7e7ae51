"""Fit the odds that spots in bare sand are pits, on drawn joints.

    python tests/benchmarks/pit_odds_fit.py [--seeds 4] [--seed-bases 7 11 77]

Logistic regression on the figures of `analysis.voids.leak_sand.pit_figures`, as the
product finds them; a spot is a pit where half of it lies in a drawn void. Prints the
weights, and what is counted rightly and wrongly with each seed left out of the fit in
turn, as shares of the area of all pits. Never run on the reporting base.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import numpy as np
import statsmodels.api as sm

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.imaging.photo import read_photo
from analysis.model.photo import Face, JointLine, Scale
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import examined
from analysis.voids import segmentation
from tests.benchmarks.joint_faces import KINDS, LIGHT_NAMES, draw
from tests.benchmarks.joints import REPORTING_BASE

LEAKING = tuple(name for name in KINDS if name.startswith("sand"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Spots in the sand of one face: figures, px, part in a void, smallest in px."""

    seed: tuple[int, int]
    figures: np.ndarray
    size_px: np.ndarray
    cover: np.ndarray

    @property
    def is_pit(self):
        """Half of it or more lies in a void."""
        return self.cover >= 0.5


def spots_of(kind, light, seed, base):
    """Draw and measure one face; None where no sand was found."""
    drawn = draw(kind, light, seed, base)
    lines = (JointLine(line_px=drawn.line_xy[:, ::-1].astype(float)),)
    plain, seen = segmentation.pits_in_sand, []

    def noting(sand, mm_per_px, whole, *rest):
        made = plain(sand, mm_per_px, whole, *rest)
        seen.append((whole.regions, made))
        return made

    with mock.patch.object(segmentation, "pits_in_sand", noting):
        made = examined(
            read_photo(drawn.jpeg),
            scale=Scale(
                mm_per_px=drawn.mm_per_px, relative_uncertainty=0.01, method="typed"
            ),
            face=Face(joints=lines),
            settings=MeasureSettings(),
            tell=lambda *_: None,
        )
    if not seen:
        return None
    ((regions, judged),) = seen
    size = np.bincount(regions.labels.ravel(), minlength=len(regions.area_px) + 1)
    void = np.bincount(regions.labels[drawn.labels > 0], minlength=len(size))
    large = (regions.area_px >= made.smallest_px2)[judged.inside]
    at = 1 + np.flatnonzero(judged.inside)[large]
    return Spots(
        seed=(base, seed),
        figures=judged.figures[large],
        size_px=size[at],
        cover=void[at] / size[at],
    )


def fitted(faces):
    """Constant and weights."""
    figures = np.concatenate([face.figures for face in faces])
    pit = np.concatenate([face.is_pit for face in faces])
    model = sm.GLM(
        pit.astype(float), sm.add_constant(figures), family=sm.families.Binomial()
    )
    return model.fit().params


def left_out(faces):
    """Area of pits counted, and of other spots counted, over the area of pits."""
    right = wrong = every = 0.0
    for seed in sorted({face.seed for face in faces}):
        weights = fitted([face for face in faces if face.seed != seed])
        for face in faces:
            if face.seed != seed:
                continue
            counted = weights[0] + face.figures @ weights[1:] > 0
            every += face.size_px[face.is_pit].sum()
            right += face.size_px[face.is_pit & counted].sum()
            wrong += face.size_px[~face.is_pit & counted].sum()
    return right / every, wrong / every


def main():
    parser = argparse.ArgumentParser(description="Fit the odds of pits in sand.")
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--seed-bases", type=int, nargs="+", default=[7, 11, 77])
    asked = parser.parse_args()
    if REPORTING_BASE in asked.seed_bases:
        parser.error("Fit on other bases than the reporting one: --seed-bases 7 11 77.")
    made = (
        spots_of(kind, light, seed, base)
        for base in asked.seed_bases
        for seed in range(asked.seeds)
        for kind in LEAKING
        for light in LIGHT_NAMES
    )
    faces = [face for face in made if face is not None]
    weights = ", ".join(f"{value:.2f}" for value in fitted(faces))
    right, wrong = left_out(faces)
    sys.stdout.write(
        f"{len(faces)} faces, {sum(len(face.cover) for face in faces)} spots, "
        f"{sum(int(face.is_pit.sum()) for face in faces)} pits\n({weights})\n"
        f"left out in turn: {right:.3f} counted rightly, {wrong:.3f} wrongly\n"
    )


if __name__ == "__main__":
    main()
