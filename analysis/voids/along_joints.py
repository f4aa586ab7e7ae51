"""Which spots along a joint are voids: what lies in sand, in a break, in a fin."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.completion import inside
from analysis.voids.joints import along_one_side, joint_marks
from analysis.voids.leak_sand import pit_figures, pit_odds
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import region_pixels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.reading import JointMarks
    from analysis.voids.background import Background
    from analysis.voids.completion import Completed
    from analysis.voids.features import Features
    from analysis.voids.joints import JointLines
    from analysis.voids.leak_sand import Sand
    from analysis.voids.shapes import Shapes

    _Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SandSpots:
    """Spots of a face, as those in bare sand are judged.

    Attributes
    ----------
    inside : ndarray of bool, (n,)
        In sand, and no line.
    figures : ndarray of float64, (m, 8)
        Of those inside, what the odds are made of.
    probability : ndarray of float64, (n,)
        Of being a void, 0..1; of those outside as it was.
    """

    inside: NDArray[np.bool_]
    figures: NDArray[np.float64]
    probability: NDArray[np.float64]


def pits_in_sand(
    sand: Sand, mm_per_px: float, whole: Completed, shapes: Shapes, features: Features
) -> SandSpots:
    """Judge spots in bare sand by odds of their own.

    Parameters
    ----------
    sand : Sand
    mm_per_px : float
    whole : Completed
    shapes, features : Shapes, Features
        Of its openings.

    Returns
    -------
    SandSpots
    """
    within = inside(sand.mask, shapes)
    within &= features.thinness < SETTINGS.rejection.line_thinness
    row, col = (
        np.rint(at[within]).astype(np.intp) for at in (shapes.row_px, shapes.col_px)
    )
    regions = whole.regions
    figures = pit_figures(
        whole.network_logit[within],
        regions.depth[within],
        regions.noise[within],
        sand.grit[row, col].astype(np.float64),
        features.thinness[within],
        shapes.solidity[within],
        whole.rim_doubt_px[within] / np.maximum(regions.area_px[within], 1.0),
        float(np.count_nonzero(sand.mask)) * mm_per_px**2,
    )
    probability = whole.probability.copy()
    probability[within] = 1.0 / (1.0 + np.exp(-pit_odds(figures)))
    return SandSpots(inside=within, figures=figures, probability=probability)


def told_along_joints(
    light: NDArray[np.float32],
    background: Background,
    face: _Mask,
    sand: Sand | None,
    pits: SandSpots | None,
    joints: JointLines,
    whole: Completed,
    features: Features,
    shapes: Shapes,
    reason: NDArray[np.str_],
) -> tuple[JointMarks, Completed]:
    """Turn down, in place, what is sand or a break; take in pits that lie in sand.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, with the sand's tone levelled.
    background : Background
        The light the face would show without voids.
    face : ndarray of bool, (rows, cols)
        Px whose marks are told.
    sand : Sand or None
    pits : SandSpots or None
        None where there is no sand.
    joints : JointLines
    whole : Completed
    features, shapes : Features, Shapes
        Of its openings.
    reason : ndarray of str, (n,)
        Why each is turned down; empty for a void. Changed in place.

    Returns
    -------
    marks : JointMarks
    whole : Completed
        With the probabilities that follow.
    """
    regions = whole.regions
    plain = whole.probability >= SETTINGS.joints.plainly_from
    plain &= (features.thinness < SETTINGS.joints.round_thinness) & (reason == "")
    px = region_pixels(regions.labels, len(regions.area_px))
    at_joint = px.total(joints.seam.ravel()[px.flat].astype(np.float64)) > 0
    reach_mm = along_one_side(px, at_joint & (reason == ""), joints)
    ledge = reach_mm > 0
    plain &= ~ledge
    deep = reach_mm >= SETTINGS.joints.least_reach_mm
    # A False in front stands for label 0, the background: so a truth a region, read at
    # the labels, becomes a picture.
    marks, broken, fins = joint_marks(
        light,
        background,
        face,
        np.concatenate([[False], plain])[regions.labels],
        np.concatenate([[False], deep])[regions.labels],
        None if sand is None else sand.mask,
        joints,
    )
    torn, ridged = (
        px.total(of.ravel()[px.flat].astype(np.float64)) > share * px.total()
        for of, share in (
            (broken, SETTINGS.joints.in_break_share),
            (fins, SETTINGS.joints.in_fin_share),
        )
    )
    # The shadow of a fin, where nothing plainly is a void.
    ridged &= (reason == "") & ~plain
    reason[ridged] = "joint_or_fin"
    seam = inside(joints.seam, shapes) & np.isin(reason, ("joint_or_fin", "crack"))
    seam |= ridged
    arris = torn | (ledge & ~ridged)
    reason[arris] = "arris"
    # Told by their place: no doubt is left that they may be voids.
    settled = np.where(arris | seam, 0.0, whole.probability)
    if broken.any():
        # What else lies at a joint whose arris broke is a void by a narrow vote only.
        narrow = np.where(at_joint & (reason == ""), SETTINGS.joints.torn_vote, 1.0)
        settled = np.minimum(settled, narrow)
    if pits is None:
        return marks, replace(whole, probability=settled)
    in_sand = pits.inside & ~arris
    likely = pits.probability >= SETTINGS.rejection.counted_from
    reason[in_sand] = np.where(likely[in_sand], "", "sand")
    probability = np.where(in_sand, pits.probability, settled)
    return marks, replace(whole, probability=probability)
