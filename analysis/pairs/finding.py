"""From two lined-up photos to the voids of their face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag
from analysis.pairs.doubts import refuse_same_light
from analysis.pairs.lights import lights_of
from analysis.pairs.openings import openings_of
from analysis.pairs.planes import planes_of
from analysis.pairs.reduction import enlarged_mask
from analysis.pairs.relief import SURE_LOG, has_relief, signals_of, sunken_towards
from analysis.pairs.spots import (
    candidates_of,
    edge_pixels,
    enlarged,
    parted,
    patches_of,
    segmented,
    weighed,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.pairs.lights import Lights
    from analysis.pairs.relief import Signals
    from analysis.pairs.spots import PairCandidates
    from analysis.voids.features import Features
    from analysis.voids.segmentation import Segmentation

    Plane = NDArray[np.float32]

# A shadow over a part of the face is large and runs out of it.
_LARGE_PART, _EDGE_PART = 0.03, 0.25
_DOUBT = (0.6, 1.6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairFound:
    """Voids of a face seen in two lights, in the frame of the first photo.

    Attributes
    ----------
    found : Segmentation
    inside : ndarray of bool, (rows, cols)
        The measured face: what both photos show of it.
    lights : Lights
    doubtful_px2 : float
        Area of spots whose relief is close to what decides.
    """

    found: Segmentation
    inside: NDArray[np.bool_]
    lights: Lights
    doubtful_px2: float


def find_in_pair(
    photo: NDArray[np.uint8],
    first: Plane,
    second: Plane,
    inside: NDArray[np.bool_],
    lying: Registration,
    *,
    smallest_px2: float,
    mm_per_px: float | None,
    step: int = 1,
    window_px: tuple[int, int] | None = None,
) -> PairFound:
    """Find the voids that two photos of a face show.

    Parameters
    ----------
    photo : ndarray of uint8, (rows, cols, 3)
        sRGB of the first photo.
    first, second : ndarray of float32, (rows, cols)
        Linear light of both, each in its own frame.
    inside : ndarray of bool, (rows, cols)
        Measured face in the first photo.
    lying : Registration
        How the second lies on the first.
    smallest_px2 : float
        Smallest counted area, px² of the first photo as taken.
    mm_per_px : float or None
        Its scale, as taken.
    step : int, optional
        Px of it, along a side, to one of those given (`pairs.reduction`).
    window_px : tuple of int, optional
        (rows, cols) of the first as taken, which the answer is brought back to; needed
        where `step` is above 1.

    Returns
    -------
    PairFound
        In px of the first photo as taken.

    Raises
    ------
    PairError
        The lamps stand on one side.
    """
    planes = planes_of(first, second, lying.to_second, inside)
    found = candidates_of(planes.sought, planes.inside)
    signals = signals_of(found, planes, lying.scatter_px)
    towards = sunken_towards(signals)
    pits = has_relief(signals, towards)
    # Lights alike leave no relief to see, so that all spots are asked where they stand.
    refuse_same_light(lights_of(found, planes, pits))
    refuse_same_light(lights_of(found, planes))
    mm_per_step = None if mm_per_px is None else mm_per_px * step
    patches = patches_of(found, planes.darker, planes.inside, mm_per_step, pits)
    found = openings_of(found, planes, signals, pits, towards)
    whole = found
    found = parted(found, _in_patch(patches.extent, found))
    signals = signals_of(found, planes, lying.scatter_px)
    pits = has_relief(signals, towards)
    lights = lights_of(found, planes, pits if pits.any() else None)
    kind, features = _kinds(
        found, photo, planes.darker, patches.extent, pits, signals, towards
    )
    at_edge = edge_pixels(found, planes.inside)
    kind[_runs_out(found, at_edge, planes.inside)] = "edge"
    near = _near_limit(signals)
    # How many parts there are now of each spot as it was: their middles still lie
    # in its label.
    split = np.bincount(whole.spots.labels[_middles(found)], minlength=len(whole) + 1)
    parts = split[whole.spots.labels[_middles(found)]] > 1
    inside = planes.inside
    if step > 1:
        shape = window_px or (inside.shape[0] * step, inside.shape[1] * step)
        found, patches = enlarged(found, patches, step, shape)
        inside = enlarged_mask(inside, step, shape)
    result = segmented(
        found,
        kind,
        features,
        patches,
        {
            Flag.TOUCHES_EDGE: at_edge > 0,
            Flag.SPLIT: parts,
            Flag.SHALLOW: near,
        },
        face=inside,
        noise=planes.noise,
        lamp_rad=lights.first_rad if pits.any() else None,
        smallest_px2=smallest_px2,
        mm_per_px=mm_per_px,
    )
    doubt = near & (found.spots.area_px >= smallest_px2) & (kind != "crack")
    return PairFound(
        found=result,
        inside=inside,
        lights=lights,
        doubtful_px2=float(found.spots.area_px[doubt].sum()),
    )


def _kinds(
    found: PairCandidates,
    photo: NDArray[np.uint8],
    darker: Plane,
    patches: NDArray[np.bool_],
    pits: NDArray[np.bool_],
    signals: Signals,
    towards: float | None,
) -> tuple[NDArray[np.str_], Features]:
    """Why each spot is turned down; empty for a void."""
    in_patch = _in_patch(patches, found)
    features, line, soft = weighed(found, photo, darker, in_patch)
    # As wide as the longest kind, since NumPy cuts what is longer. What is written
    # later holds: relief makes a void of any colour, and a line is never one.
    kind = np.where(soft, "stain", "grain").astype("<U12")
    kind[signals.along(towards) < -signals.noise - 0.3 * signals.change] = (
        "joint_or_fin"
    )
    kind[pits | in_patch] = ""
    kind[line != ""] = line[line != ""]
    return kind, features


def _near_limit(signals: Signals) -> NDArray[np.bool_]:
    low, high = _DOUBT
    limit = np.maximum(SURE_LOG, 4 * signals.noise)
    return np.asarray((signals.change > low * limit) & (signals.change < high * limit))


def _in_patch(patches: NDArray[np.bool_], found: PairCandidates) -> NDArray[np.bool_]:
    return np.asarray(patches[_middles(found)])


def _middles(found: PairCandidates) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return a px of each spot near its middle: the middle one of its list."""
    # Pixels are sorted by spot, so each spot is a run between two places. A px of the
    # spot itself is wanted: the centroid of a bent one may lie beside it.
    pixels = found.pixels
    starts = np.searchsorted(pixels.label, np.arange(len(found)))
    ends = np.searchsorted(pixels.label, np.arange(len(found)), side="right")
    flat = pixels.flat[(starts + ends - 1) // 2] if len(found) else np.empty(0, np.intp)
    row, col = np.divmod(flat, pixels.shape[1])
    return row.astype(np.intp), col.astype(np.intp)


def _runs_out(
    found: PairCandidates, at_edge: NDArray[np.int64], inside: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell large dark areas that the edge of the face bounds for a good part."""
    large = found.spots.area_px > _LARGE_PART * np.count_nonzero(inside)
    # Of a disc of the same area: the shortest rim it can have.
    rim = 2 * np.sqrt(np.pi * found.spots.area_px)
    return np.asarray(large & (at_edge > _EDGE_PART * rim))
