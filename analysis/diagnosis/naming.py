"""Patterns that stand out, named with evidence; nothing is named on a random face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.diagnosis import NamedPattern
from analysis.model.notes import note

if TYPE_CHECKING:
    from analysis.model.diagnosis import Pattern, Placement, Zone

# Sure and large: chance of a false name on a random face stays below 5 % for all
# questions together (the placement study prints it).
SURE = 0.005
SURE_CLUSTERS = 0.01
LEAK_RATIO = 1.7
LEAK_STRETCH = 0.5  # of the joint's length: a cluster beside a joint is no leak
TOP_RATIO = 1.5
ZONE_RATIO = 1.5
CLUSTER_RATIO = 0.8
HONEYCOMB_SHARE = 0.003
# Bare sand along a fifth of the joint: paste ran out there, whatever the voids do.
SAND_SHARE = 0.2


def name_patterns(
    found: Placement, *, sand_share: float = 0.0, sand_at: str = ""
) -> tuple[NamedPattern, ...]:
    """Name what stands out, the weightiest first; empty where nothing does.

    Parameters
    ----------
    found : Placement
        From `analysis.diagnosis.placement.place`.
    sand_share : float
        Part of the joints' length with bare sand, 0..1.
    sand_at : str
        The joint it lies at; empty where there are several.

    Examples
    --------
    >>> from analysis.model.diagnosis import Placement
    >>> from analysis.model.diagnosis import Zone
    >>> leak = Zone(name="left", share=0.02, rest_share=0.004, ratio=5.0, p_value=0.001,
    ...             stretch=0.8)
    >>> seen = Placement(voids=80, faces=1, joints=(leak,), thirds_per_m2=None,
    ...     top=None, slope=None, insert=None, neighbour_ratio=0.7, neighbour_p=0.005,
    ...     fine_share=0.9, coarse_share=0.0, honeycomb_share=0.0, honeycomb_at="")
    >>> [(one.pattern, one.where) for one in name_patterns(seen)]
    [('joint_leak', 'left')]
    """
    named: list[NamedPattern] = []
    if found.honeycomb_share >= HONEYCOMB_SHARE:
        named.append(
            NamedPattern(
                pattern="honeycomb",
                where=found.honeycomb_at,
                evidence=note(
                    "honeycomb", share=found.honeycomb_share, joint=found.honeycomb_at
                ),
            )
        )
    named += [
        NamedPattern(
            pattern="joint_leak",
            where=zone.name,
            evidence=note(
                "joint_above_face",
                joint=zone.name,
                ratio=zone.ratio,
                stretch=zone.stretch,
            ),
        )
        for zone in found.joints
        if _stands_out(zone, LEAK_RATIO) and zone.stretch >= LEAK_STRETCH
    ]
    leaking = [one.where for one in named if one.pattern == "joint_leak"]
    is_named = sand_at in leaking if sand_at else bool(leaking)
    if sand_share >= SAND_SHARE and not is_named:
        named.append(
            NamedPattern(
                pattern="joint_leak",
                where=sand_at,
                evidence=note("bare_sand", share=sand_share, joint=sand_at),
            )
        )
    if _stands_out(found.slope, ZONE_RATIO):
        named.append(_of_zone("under_slope", found.slope))
    if _stands_out(found.insert, ZONE_RATIO):
        named.append(_of_zone("beside_insert", found.insert))
    explained = bool(named)
    if not explained and _stands_out(found.top, TOP_RATIO):
        named.append(_of_zone("more_at_top", found.top))
        explained = True
    if not explained and _clustered(found):
        named.append(
            NamedPattern(
                pattern="clusters",
                where="",
                evidence=note("bunched", ratio=found.neighbour_ratio),
            )
        )
    return tuple(named)


def _stands_out(zone: Zone | None, ratio: float) -> bool:
    return zone is not None and zone.p_value <= SURE and zone.ratio >= ratio


def _clustered(found: Placement) -> bool:
    return (
        found.neighbour_ratio is not None
        and found.neighbour_p is not None
        and found.neighbour_p <= SURE_CLUSTERS
        and found.neighbour_ratio <= CLUSTER_RATIO
    )


def _of_zone(pattern: Pattern, zone: Zone | None) -> NamedPattern:
    ratio = 1.0 if zone is None else zone.ratio
    evidence = note("zone_above_face", zone=pattern, ratio=ratio)
    return NamedPattern(pattern=pattern, where="", evidence=evidence)
