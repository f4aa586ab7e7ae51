"""Pit, grain or stain: what of a dark spot changes with the lamp."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.pairs.planes import Planes
    from analysis.pairs.spots import PairCandidates

# Mean change of the log of light inside a spot, beyond its noise, that only relief
# makes; and half of it where the two halves of the spot change against each other.
SURE_LOG, LIKELY_LOG, LIKELY_TURN_LOG = 0.09, 0.05, 0.025
_SIGMAS = 4.0
# Photos that lie this far off each other make an edge of a grain change by as much.
_EDGE_OFF = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signals:
    """The relief of each spot, measured.

    Attributes
    ----------
    change : ndarray of float64, (n,)
        Mean of how much the log of light inside changes with the lamp, 0 or more.
    turn : ndarray of complex128, (n,)
        First moment of the change over the spot, per its radius, as col + i row: it
        points to where the second lamp casts the shadow.
    noise : ndarray of float64, (n,)
        What `change` would be of a spot without relief.
    side : ndarray of float64, (n,)
        -1 where all of the spot is darker in the first photo, 1 in the second.
    """

    change: NDArray[np.float64]
    turn: NDArray[np.complex128]
    noise: NDArray[np.float64]
    side: NDArray[np.float64]

    def along(self, towards_rad: float | None) -> NDArray[np.float64]:
        """Part of `turn` along a direction; more than 0 sinks, less stands proud."""
        if towards_rad is None:
            return np.zeros(len(self.change))
        return np.asarray((self.turn * np.exp(-1j * towards_rad)).real)


def signals_of(found: PairCandidates, planes: Planes, scatter_px: float) -> Signals:
    """Measure the relief of each spot.

    Parameters
    ----------
    found : PairCandidates
    planes : Planes
    scatter_px : float
        How far parts of the photos may lie off each other: edges of grains change by
        that much times their slope.
    """
    pixels, shapes = found.pixels, found.shapes
    relief = planes.relief.ravel()[pixels.flat].astype(np.float64)
    colour = planes.colour.ravel()[pixels.flat].astype(np.float64)
    count = pixels.total()
    size = np.maximum(np.abs(relief), 1e-9)
    change = pixels.total(size) / count
    across = pixels.col - shapes.col_px[pixels.label]
    down = pixels.row - shapes.row_px[pixels.label]
    radius = np.sqrt(count / np.pi)
    turn = pixels.total(relief * across) + 1j * pixels.total(relief * down)
    # An edge of contrast c, off by d px, changes by c * d / 2 over about one px.
    # The part of a disc that its rim, a px wide, takes: 2 pi r over pi r^2.
    rim = np.minimum(2.0 / np.maximum(radius, 1.0), 1.0)
    contrast = -pixels.total(np.minimum(colour, 0.0)) / count
    edge = contrast * np.minimum(scatter_px, 0.5) * rim / 2
    return Signals(
        change=change,
        turn=np.asarray(turn / (count * np.maximum(radius, 1.0)), dtype=np.complex128),
        # Independent sources: their squares add.
        noise=np.hypot(planes.noise, np.hypot(edge, _EDGE_OFF * contrast * rim)),
        # Sum of signed changes over the sum of their sizes.
        side=pixels.total(relief) / (change * count),
    )


def sunken_towards(signals: Signals) -> float | None:
    """Direction from the first lamp's shadows to the second's, told by all spots.

    Returns
    -------
    float or None
        Radians from the column axis towards the row axis; None where none changes.
    """
    strong = signals.change > np.maximum(SURE_LOG, _SIGMAS * signals.noise)
    if not strong.any():
        return None
    # A sum of vectors, not a mean of angles: strong spots say more, those without a
    # direction nothing, and 359 and 1 degrees do not make 180.
    together = complex(signals.turn[strong].sum())
    return None if together == 0 else float(np.angle(together))


def has_relief(signals: Signals, towards_rad: float | None) -> NDArray[np.bool_]:
    """Tell which spots change with the lamp as sunken ones do.

    Examples
    --------
    >>> one = np.ones(1)
    >>> pit = Signals(change=0.3 * one, turn=0.2 * one + 0j, noise=0.02 * one, side=one)
    >>> has_relief(pit, 0.0), has_relief(pit, np.pi)
    (array([ True]), array([False]))
    """
    along = signals.along(towards_rad)
    sure = signals.change > np.maximum(SURE_LOG, _SIGMAS * signals.noise)
    likely = (signals.change > np.maximum(LIKELY_LOG, 2 * signals.noise)) & (
        along > np.maximum(LIKELY_TURN_LOG, signals.noise)
    )
    proud = along < -np.maximum(LIKELY_TURN_LOG, 0.3 * signals.change)
    return np.asarray((sure | likely) & ~proud)
