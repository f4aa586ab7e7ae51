"""Every tuned number of the measurement, stage by stage, each with its reason.

Light is linear; depth is 1 - light / background, 0 for the background itself and 1 for
black; sigmas are standard deviations of the background's noise. Px are those of the
photo unless a stage says otherwise. Numbers that only share out memory, and those of
plain mathematics, stay where they are used: no result depends on the former.

A change of one number is another method: see `analysis.model.method`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, fields, is_dataclass
from typing import TYPE_CHECKING, Any, Final

from analysis.model.method import STEPS
from analysis.voids.stages.candidate_finding import (
    BackgroundSettings,
    BodySettings,
    BoundarySettings,
    FeatureSettings,
    LightSettings,
    LineSettings,
    PassSettings,
    SplittingSettings,
)
from analysis.voids.stages.deciding import (
    HoneycombSettings,
    JointSettings,
    JudgingSettings,
    OpeningSettings,
    PatchSettings,
    RejectionSettings,
    SandSettings,
)
from analysis.voids.stages.telling import (
    ArrisSettings,
    FlagSettings,
    IntervalSettings,
    SeededSettings,
    SlopeSettings,
    TilingSettings,
)

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionSettings:
    """All of them."""

    background: BackgroundSettings = field(default_factory=BackgroundSettings)
    passes: PassSettings = field(default_factory=PassSettings)
    boundary: BoundarySettings = field(default_factory=BoundarySettings)
    features: FeatureSettings = field(default_factory=FeatureSettings)
    light: LightSettings = field(default_factory=LightSettings)
    lines: LineSettings = field(default_factory=LineSettings)
    bodies: BodySettings = field(default_factory=BodySettings)
    splitting: SplittingSettings = field(default_factory=SplittingSettings)
    patches: PatchSettings = field(default_factory=PatchSettings)
    opening: OpeningSettings = field(default_factory=OpeningSettings)
    judging: JudgingSettings = field(default_factory=JudgingSettings)
    rejection: RejectionSettings = field(default_factory=RejectionSettings)
    honeycomb: HoneycombSettings = field(default_factory=HoneycombSettings)
    sand: SandSettings = field(default_factory=SandSettings)
    joints: JointSettings = field(default_factory=JointSettings)
    arris: ArrisSettings = field(default_factory=ArrisSettings)
    slope: SlopeSettings = field(default_factory=SlopeSettings)
    flags: FlagSettings = field(default_factory=FlagSettings)
    interval: IntervalSettings = field(default_factory=IntervalSettings)
    seeded: SeededSettings = field(default_factory=SeededSettings)
    tiling: TilingSettings = field(default_factory=TilingSettings)


SETTINGS: Final = DetectionSettings()


def named_numbers(settings: Any) -> Iterator[tuple[str, object]]:  # noqa: ANN401  any stage
    """Yield the name and value of each number, stage by stage.

    Examples
    --------
    >>> dict(named_numbers(SETTINGS))["boundary.cut_share"]
    0.5
    """
    for one in fields(settings):
        value = getattr(settings, one.name)
        if is_dataclass(value):
            for name, number in named_numbers(value):
                yield f"{one.name}.{name}", number
        else:
            yield one.name, value


def fingerprint(settings: DetectionSettings) -> str:
    """Return eight hexadecimal digits that change with any of the numbers.

    Examples
    --------
    >>> len(fingerprint(SETTINGS))
    8
    """
    told = repr(sorted(named_numbers(settings)))
    return hashlib.sha256(told.encode()).hexdigest()[:8]


METHOD_VERSION: Final = f"{STEPS}.{fingerprint(SETTINGS)}"
# Where the network could not be used, openings are drawn from darkness alone.
BY_DARKNESS: Final = f"{METHOD_VERSION} by darkness"
