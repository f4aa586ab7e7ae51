"""What a study says: components of variance, lights, and the usual spread.

General values: one drawn face in nine lights spreads by about 12 % (results of the
benchmark of lights). A shop's own figures are drawn towards them, the less the more it
has measured: the spread as if four degrees of freedom stood behind the general one, a
light's bias by its own standard error (a normal law about no difference).
"""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from analysis.distributions import t_ppf
from analysis.errors import InputError
from analysis.gauge.components import components
from analysis.model.gauge import LightBias, UsualSpread
from analysis.model.method import newest_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from analysis.model.gauge import GaugeAnswer, Measured, Study

GENERAL_SPREAD = 0.12
GENERAL_DEGREES = 4.0
ENOUGH_REPEATS = 6
_TWO = 2
_LEAST_FACES = 3


def log_share(share: float, smallest_share: float) -> float:
    """Return the logarithm of a share; half of a smallest void stands for none.

    Examples
    --------
    >>> round(log_share(0.0, 0.002), 3)
    -6.908
    """
    return math.log(max(share, smallest_share / 2, 1e-9))


def gauge_answer(study: Study) -> GaugeAnswer | None:
    """Split the variance over the items that everybody has measured each time.

    Returns
    -------
    GaugeAnswer or None
        None with fewer than two whole items or one repeat only.
    """
    plan = study.plan
    values = _values(study.measured)
    whole = [
        item
        for item in plan.items
        if all(
            (item, who, "", turn) in values
            for who in plan.people
            for turn in range(plan.repeats)
        )
    ]
    if len(whole) < _TWO or plan.repeats < _TWO:
        return None
    return components(
        [
            [
                [values[item, who, "", turn] for turn in range(plan.repeats)]
                for who in plan.people
            ]
            for item in whole
        ]
    )


def usual_from_study(study: Study) -> UsualSpread | None:
    """Return the shop's own spread and its lights' biases, drawn to the general ones.

    Only faces that everybody photographed in every light count.

    Returns
    -------
    UsualSpread or None
        None with fewer than three such faces.

    Raises
    ------
    InputError
        The readings were made by several versions of the method.
    """
    plan = study.plan
    values = _values(study.measured)
    table = np.array(
        [
            [
                [_mean(values, item, who, light, plan.repeats) for who in plan.people]
                for light in plan.lights
            ]
            for item in plan.items
        ]
    )
    table = table[np.isfinite(table).all(axis=(1, 2))]
    if len(table) < _LEAST_FACES:
        return None
    (version, *others) = sorted(
        {newest_name(one.method_version) for one in study.measured}
    )
    if others:
        msg = (
            f"The study holds readings of the method's versions {version} and "
            f"{', '.join(others)}: measure all of it with one version."
        )
        raise InputError(msg)
    # (faces, lights, people): the usual light is the first one.
    usual = table[:, 0]
    degrees = usual.shape[0] * (usual.shape[1] - 1)
    spread, behind = shrunk_spread(float(usual.var(axis=1, ddof=1).mean()), degrees)
    return UsualSpread(
        set_up=plan.lights[0],
        spread=spread,
        degrees=behind,
        basis="study",
        method_version=version,
        lights=tuple(
            light_bias(light, table[:, at].mean(axis=1) - usual.mean(axis=1))
            for at, light in enumerate(plan.lights)
            if at
        ),
        study_id=study.id,
    )


def usual_from_repeats(
    set_up: str, method_version: str, groups: Iterable[Sequence[float]]
) -> UsualSpread | None:
    """Return the spread of repeated photos of one face each.

    Parameters
    ----------
    set_up, method_version : str
        The same of all of them.
    groups : iterable of sequence of float
        Log shares of the photos of one piece.

    Returns
    -------
    UsualSpread or None
        None with fewer than six degrees of freedom.

    Examples
    --------
    >>> usual_from_repeats("bench", "5", [[-5.0, -5.1]]) is None
    True
    """
    some = [np.array(group) for group in groups if len(group) >= _TWO]
    degrees = sum(len(group) - 1 for group in some)
    if degrees < ENOUGH_REPEATS:
        return None
    square = sum(float(((one - one.mean()) ** 2).sum()) for one in some) / degrees
    spread, behind = shrunk_spread(square, degrees)
    return UsualSpread(
        set_up=set_up,
        spread=spread,
        degrees=behind,
        basis="repeats",
        method_version=method_version,
    )


def shrunk_spread(variance: float, degrees: float) -> tuple[float, float]:
    """Draw a variance of log shares towards the general one.

    Examples
    --------
    >>> [round(value, 3) for value in shrunk_spread(0.01, 10)]
    [0.106, 14.0]
    """
    behind = GENERAL_DEGREES + degrees
    # As if GENERAL_DEGREES degrees of freedom more had shown the general spread (a
    # scaled inverse chi-square prior).
    pooled = (GENERAL_DEGREES * GENERAL_SPREAD**2 + degrees * variance) / behind
    return math.sqrt(pooled), behind


def light_bias(light: str, differences: NDArray[np.float64]) -> LightBias:
    """Draw a light's mean difference from the usual one towards none.

    Parameters
    ----------
    light : str
    differences : ndarray of float64, (faces,)
        Log share in this light less that in the usual one, face by face.
    """
    count = len(differences)
    raw = float(differences.mean())
    # A spread of a few faces is itself drawn towards what is usual.
    spread, degrees = shrunk_spread(float(differences.var(ddof=1)), count - 1)
    error = spread / math.sqrt(count)
    # The mean of a normal law about 0 given the raw difference (shrinkage): the noisier
    # it is, the less of it is kept.
    kept = GENERAL_SPREAD**2 / (GENERAL_SPREAD**2 + error**2)
    reach = float(t_ppf(0.975, degrees)) * error * math.sqrt(kept)
    value = kept * raw
    return LightBias(
        light=light, raw=raw, value=value, low=value - reach, high=value + reach
    )


def _values(
    measured: Iterable[Measured],
) -> dict[tuple[int, str, str, int], float]:
    return {
        (one.cell.item, one.cell.who, one.cell.light, one.cell.turn): log_share(
            one.share, one.smallest_share
        )
        for one in measured
    }


def _mean(
    values: Mapping[tuple[int, str, str, int], float],
    item: int,
    who: str,
    light: str,
    repeats: int,
) -> float:
    found = [values.get((item, who, light, turn), math.nan) for turn in range(repeats)]
    return sum(found) / len(found)


def repeats_by_set_up(
    rows: Iterable[tuple[str, str, int, float]],
) -> dict[tuple[str, str], list[list[float]]]:
    """Group log shares by set-up and version, then by piece.

    Parameters
    ----------
    rows : iterable of (set-up, method version, piece, log share)

    Returns
    -------
    dict
        From (set-up, version) to the pieces' lists.

    Examples
    --------
    >>> repeats_by_set_up([("bench", "5", 1, -5.0), ("bench", "5", 1, -5.2)])
    {('bench', '5'): [[-5.0, -5.2]]}
    """
    found: dict[tuple[str, str], dict[int, list[float]]] = defaultdict(dict)
    for set_up, version, piece, value in rows:
        found[set_up, version].setdefault(piece, []).append(value)
    return {key: list(pieces.values()) for key, pieces in found.items()}
