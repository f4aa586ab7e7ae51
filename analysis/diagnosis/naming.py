"""Patterns that stand out, named with evidence; nothing is named on a random face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.diagnosis import NamedPattern

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
        at = f", most of it at joint {found.honeycomb_at}" if found.honeycomb_at else ""
        named.append(
            NamedPattern(
                pattern="honeycomb",
                where=found.honeycomb_at,
                evidence=f"About {100 * found.honeycomb_share:.2g} % of the face "
                f"looks like honeycomb{at}.",
            )
        )
    named += [
        NamedPattern(
            pattern="joint_leak",
            where=zone.name,
            evidence=(
                f"Joint {zone.name} has {_times(zone)} the void area of the open face, "
                f"along {100 * zone.stretch:.0f} % of its length."
            ),
        )
        for zone in found.joints
        if _stands_out(zone, LEAK_RATIO) and zone.stretch >= LEAK_STRETCH
    ]
    leaking = [one.where for one in named if one.pattern == "joint_leak"]
    is_named = sand_at in leaking if sand_at else bool(leaking)
    if sand_share >= SAND_SHARE and not is_named:
        place = f"joint {sand_at}" if sand_at else "the joints"
        named.append(
            NamedPattern(
                pattern="joint_leak",
                where=sand_at,
                evidence=f"Bare sand lies along {100 * sand_share:.0f} % of {place}: "
                "paste ran out there.",
            )
        )
    if _stands_out(found.slope, ZONE_RATIO):
        named.append(_of_zone("under_slope", found.slope, "Under the slope there is"))
    if _stands_out(found.insert, ZONE_RATIO):
        named.append(_of_zone("beside_insert", found.insert, "Beside inserts there is"))
    explained = bool(named)
    if not explained and _stands_out(found.top, TOP_RATIO):
        named.append(
            _of_zone("more_at_top", found.top, "In the top third as cast there is")
        )
        explained = True
    if not explained and _clustered(found):
        named.append(
            NamedPattern(
                pattern="clusters",
                where="",
                evidence=(
                    "Voids are bunched together: from each to the next it is only "
                    f"{found.neighbour_ratio:.2g} of the distance that scattered voids "
                    "have."
                ),
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


def _times(zone: Zone) -> str:
    return "many times" if zone.ratio > 50 else f"{zone.ratio:.2g} times"  # noqa: PLR2004


def _of_zone(pattern: Pattern, zone: Zone | None, where: str) -> NamedPattern:
    told = "" if zone is None else _times(zone)
    return NamedPattern(
        pattern=pattern,
        where="",
        evidence=f"{where} {told} the void area of the rest of the face.",
    )
