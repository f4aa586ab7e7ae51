"""How often intervals hold the truth, by renderer and by light.

Rows of faces may come with the ends of an interval, or with the terms it is made of:
then `leave_one_renderer_out` fits the interval on all other renderers and scores it
on the one left out, so that no renderer judges constants chosen on itself.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.measuring import measure
from tests.benchmarks.real_summary import number, table

QUANTILES = (0.025, 0.975)
LEAST_FACES = 20  # fewer make no quantile of a group
FIRST_MM_PER_PX = 0.12
UNCODED = "The drawn face could not be coded as JPEG."


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareRow:
    """One face: shares in percent.

    `terms` are what an interval is made of (standard deviations of the log share,
    centre shifts, whatever `fit` of `leave_one_renderer_out` understands).
    """

    renderer: str
    kind: str
    light: str
    tier: str
    found_percent: float
    true_percent: float
    low_percent: float
    high_percent: float
    terms: tuple[float, ...] = ()

    @property
    def held(self):
        return scoring.holds(self.low_percent, self.high_percent, self.true_percent)

    @property
    def high_over_low(self):
        return self.high_percent / self.low_percent if self.low_percent > 0 else np.inf


def rows_of(scores):
    """Rows of scored faces."""
    names = set(ShareRow.__dataclass_fields__) - {"terms"}
    return [ShareRow(**{name: getattr(s, name) for name in names}) for s in scores]


def summary(rows):
    """Faces, share held, held of those too low and too high, median high over low."""
    held = np.array([row.held for row in rows])
    above = np.array([row.true_percent > row.high_percent for row in rows])
    open_faces = [row.high_over_low for row in rows if row.true_percent > 0]
    return {
        "faces": len(rows),
        "held": float(held.mean()) if len(rows) else float("nan"),
        "truth above": float((above & ~held).mean()) if len(rows) else float("nan"),
        "truth below": float((~above & ~held).mean()) if len(rows) else float("nan"),
        "median high/low": float(np.median(open_faces)) if open_faces else float("nan"),
    }


def report(rows):
    """Lines: coverage by renderer, and by light within it; clean faces apart."""

    def cells(name, light, chosen):
        figures = summary(chosen)
        rest = [number(figures[key], 3) for key in list(figures)[1:]]
        return [name, light, str(figures["faces"]), *rest]

    def lines():
        for name in dict.fromkeys(row.renderer for row in rows):
            mine = [row for row in rows if row.renderer == name]
            for tier in ("easy", "hard", "clean"):
                chosen = [row for row in mine if row.tier == tier]
                if chosen:
                    yield cells(f"**{name}**", f"**all {tier}**", chosen)
            opened = [row for row in mine if row.tier != "clean"]
            for light in dict.fromkeys(row.light for row in opened):
                chosen = [row for row in opened if row.light == light]
                yield cells(name, light or "-", chosen)

    head = ("renderer", "light", "faces", "held", "truth above", "truth below",
            "median high/low")  # fmt: skip
    yield from table(head, lines())


def quantile_fit(rows, quantiles=QUANTILES):
    """Fit an asymmetrical interval to faces: quantiles of log(true / found) over size.

    `terms` of a row are standard deviations of the log share; their root sum of
    squares is the size. Groups (renderer and light) weigh the same, however many
    faces each has, so that no light is bought with another.

    Returns
    -------
    callable
        Row to (low, high) in percent.
    """
    usable = [r for r in rows if r.found_percent > 0 and r.true_percent > 0]
    groups = [(r.renderer, r.light) for r in usable]
    weight = np.array([1 / groups.count(group) for group in groups])
    errors = np.array(
        [np.log(r.true_percent / r.found_percent) / _size(r) for r in usable]
    )
    order = np.argsort(errors)
    at = np.cumsum(weight[order]) - weight[order] / 2
    low, high = np.interp(np.array(quantiles) * weight.sum(), at, errors[order])

    def interval(row):
        return (
            row.found_percent * float(np.exp(low * _size(row))),
            row.found_percent * float(np.exp(high * _size(row))),
        )

    return interval


def _size(row):
    return float(np.sqrt(np.sum(np.square(row.terms)))) if row.terms else 1.0


def leave_one_renderer_out(rows, fit=quantile_fit):
    """Rows with the ends that a fit on all other renderers gives.

    Parameters
    ----------
    rows : list of ShareRow
    fit : callable
        List of rows to a function from a row to (low, high) in percent.

    Returns
    -------
    list of ShareRow
        In the order given; faces without anything found keep their ends.
    """
    names = list(dict.fromkeys(row.renderer for row in rows))
    fitted = {
        name: fit([row for row in rows if row.renderer != name])
        for name in names
        if sum(row.renderer != name for row in rows) >= LEAST_FACES
    }

    def again(row):
        if row.renderer not in fitted or row.found_percent <= 0:
            return row
        low, high = fitted[row.renderer](row)
        known = {name: getattr(row, name) for name in row.__dataclass_fields__}
        return ShareRow(**(known | {"low_percent": low, "high_percent": high}))

    return [again(row) for row in rows]


# -- the product's own renderer, of which only shares are known here


def first_recipes():
    """Kinds of `analysis.synthetic` by name: (light, tier, recipe)."""
    from analysis.synthetic import (  # noqa: PLC0415  only where it is asked for
        Aggregate,
        Camera,
        FaceRecipe,
        PitPopulation,
        Surface,
    )
    from analysis.synthetic.scene import Lamp  # noqa: PLC0415

    lamps = {
        "raking": Lamp(elevation_deg=22, strength=0.75, sky=0.25),
        "mid": Lamp(elevation_deg=45, strength=0.6, sky=0.4),
        "high": Lamp(elevation_deg=68, strength=0.5, sky=0.5),
        "even": Lamp(elevation_deg=75, strength=0.15, sky=0.85),
    }
    pits = {
        "small": PitPopulation(per_m2=20_000, median_mm=1.3, spread=0.35),
        "usual": PitPopulation(per_m2=9_000, median_mm=2.2, spread=0.45),
        "few": PitPopulation(per_m2=1_500, median_mm=2.2, spread=0.45),
    }
    grounds = {
        "plain": (Surface(), "easy"),
        "stained": (Surface(stains=4, bloom=3), "easy"),
        "grainy": (Surface(aggregate=(Aggregate(share=0.06),)), "hard"),
    }
    size = {"height_px": 600, "width_px": 800, "mm_per_px": FIRST_MM_PER_PX}
    for light, lamp in lamps.items():
        for many, population in pits.items():
            for ground, (surface, tier) in grounds.items():
                recipe = FaceRecipe(
                    **size,
                    pits=(population,),
                    lamp=lamp,
                    surface=surface,
                    camera=Camera(jpeg_quality=90),
                )
                yield f"{light}_{many}_{ground}", light, tier, recipe


def first_rows(seeds, base):
    """Draw, measure and note faces of `analysis.synthetic`."""
    from analysis.synthetic import draw_face  # noqa: PLC0415

    rows = []
    for number_of, (kind, light, tier, recipe) in enumerate(first_recipes()):
        for seed in range(seeds):
            face = draw_face(recipe, seed=base + 100 * number_of + seed)
            done, data = cv2.imencode(
                ".jpg",
                np.asarray(face.pixels)[..., ::-1],
                [cv2.IMWRITE_JPEG_QUALITY, 95],
            )
            if not done:
                raise RuntimeError(UNCODED)
            figures = measure(data.tobytes(), FIRST_MM_PER_PX, with_mask=False).figures
            smallest = scoring.smallest_mm(FIRST_MM_PER_PX)
            rows.append(
                ShareRow(
                    renderer="first",
                    kind=kind,
                    light=light,
                    tier=tier,
                    found_percent=figures["void_area_percent"],
                    true_percent=100 * face.share_of(smallest),
                    low_percent=figures["void_area_percent_low"],
                    high_percent=figures["void_area_percent_high"],
                )
            )
    return rows
