"""What the interval of a face is made of: how unsure its voids are, as areas."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.completion import inside
from analysis.voids.light_slope import glare_cells, in_cells
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background
    from analysis.voids.completion import Completed
    from analysis.voids.joints import JointLines
    from analysis.voids.shapes import Shapes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doubts:
    """What the interval is made of, as areas in px² of the counted voids.

    Attributes
    ----------
    rim_px : float
        Px whose side of the rim is not sure, each by how unsure it is.
    strict_px : float
        Of voids counted with a probability of 0.8 and more.
    missed_px, wrong_px : float
        Expected area of candidates that were too unlikely to count but may be voids,
        and of counted ones that may be none.
    shaped_px : float
        Of likely voids turned down by their shape or as stains.
    """

    rim_px: float
    strict_px: float
    missed_px: float
    wrong_px: float
    shaped_px: float


def doubted_in_glare(
    whole: Completed, background: Background, shapes: Shapes
) -> Completed:
    """Doubt the whole opening of a void around which the lamp mirrors."""
    cells = glare_cells(background)
    if cells is None:
        return whole
    within = in_cells(cells, shapes.row_px, shapes.col_px, background.shape)
    doubt = np.where(within, whole.regions.area_px, whole.rim_doubt_px)
    return replace(whole, rim_doubt_px=doubt)


def doubts_by_part(
    whole: Completed,
    shapes: Shapes,
    joints: JointLines | None,
    counted: NDArray[np.bool_],
    turned_down: NDArray[np.bool_],
) -> tuple[Doubts, Doubts] | None:
    """Add up the doubts of the joint band and of the open face, each apart.

    Parameters
    ----------
    whole : Completed
    shapes : Shapes
        Of the openings.
    joints : JointLines or None
    counted, turned_down : ndarray of bool, (n,)
        Openings large enough that count, and that do not.

    Returns
    -------
    tuple of Doubts, or None
        Band, then open face; None without joints.
    """
    if joints is None:
        return None
    band = inside(joints.band, shapes)
    return (
        doubts_of(whole, counted & band, turned_down & band),
        doubts_of(whole, counted & ~band, turned_down & ~band),
    )


def doubts_of(
    whole: Completed, counted: NDArray[np.bool_], turned_down: NDArray[np.bool_]
) -> Doubts:
    """Add up the doubts of the counted voids and of those turned down.

    Parameters
    ----------
    whole : Completed
    counted, turned_down : ndarray of bool, (n,)
        Openings large enough that count, and that do not.

    Returns
    -------
    Doubts
    """
    area, likely = whole.regions.area_px, whole.probability
    unlikely = turned_down & (likely < SETTINGS.rejection.counted_from)
    return Doubts(
        rim_px=float(whole.rim_doubt_px[counted].sum()),
        strict_px=float(area[counted & (likely > SETTINGS.interval.strict_from)].sum()),
        missed_px=float((area * likely)[unlikely].sum()),
        wrong_px=float((area * (1 - likely))[counted].sum()),
        shaped_px=float(
            area[turned_down & (likely >= SETTINGS.rejection.counted_from)].sum()
        ),
    )
