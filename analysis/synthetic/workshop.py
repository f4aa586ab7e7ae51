"""An invented workshop whose truths are known: what it cast, and what came out.

Built in: taped joints halve the voids of the troughs; these drift to fewer voids once
their release agent is sprayed on; one pot form wears; the release agent never changed
without the mix; panels are vibrated too little and bench legs too much; bowls are
wanted with voids. With the effects off the same castings come out as if none of it
mattered.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

POURS = 26
SEED = 26_011
FIRST_DAY = date(2026, 3, 2)
DRIFT_FROM, DRIFT_OVER = 14, 4
SPREAD_BETWEEN, SPREAD_WITHIN = 0.10, 0.20  # of log shares
TAPED, DRIFTED, WORN_PER_USE = np.log(0.5), np.log(0.45), 0.04
LESS_PER_S, MORE_PER_S = -0.024, 0.012
FACE_MM2 = 180.0 * 120.0
VOID_MM2 = 4.0
SMALLEST_MM = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFacts:
    """A form and how it is used.

    Attributes
    ----------
    name, form_type, product_line, face_material : str
        As in the log.
    volume_l : float
        Concrete it holds.
    joints : tuple of str
        Names of its joints; none for a form in one piece.
    uses_before : int
        Castings before the log begins.
    base_percent : float
        Void share of a usual piece, with open joints where it has the choice.
    method : str
        How it is vibrated.
    seconds : tuple of float
        Times in use.
    """

    name: str
    form_type: str
    product_line: str
    face_material: str
    volume_l: float
    joints: tuple[str, ...]
    uses_before: int
    base_percent: float
    method: str
    seconds: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFacts:
    """A product line and the void share wanted of it, percent."""

    name: str
    low_percent: float
    high_percent: float


LINES = (
    LineFacts(name="flower troughs", low_percent=0.0, high_percent=1.2),
    LineFacts(name="smooth pots", low_percent=0.0, high_percent=0.8),
    LineFacts(name="garden benches", low_percent=0.0, high_percent=0.5),
    LineFacts(name="wall panels", low_percent=0.0, high_percent=0.9),
    LineFacts(name="pitted bowls", low_percent=2.5, high_percent=8.0),
)
_TROUGH = ("trough", "flower troughs", "coated plywood", 22.0, ("left", "right"))
_POT = ("pot", "smooth pots", "fibreglass", 5.0, ("front", "back"))
_LEG = ("bench leg", "garden benches", "steel", 8.0, ("left", "right"))
_PANEL = ("panel", "wall panels", "coated plywood", 14.0, ("top", "bottom"))
_BOWL = ("bowl", "pitted bowls", "silicone rubber", 3.0, ())
_USED = (
    ("Trough A", _TROUGH, 12, 1.6, "table", (40.0,)),
    ("Trough B", _TROUGH, 9, 1.6, "table", (40.0,)),
    ("Pot 1", _POT, 15, 0.45, "table", (30.0,)),
    ("Pot 2", _POT, 60, 0.45, "table", (30.0,)),
    ("Leg A", _LEG, 20, 0.45, "table", (60.0, 90.0, 120.0)),
    ("Leg B", _LEG, 20, 0.45, "table", (60.0, 90.0, 120.0)),
    ("Panel A", _PANEL, 4, 1.6, "table", (10.0, 20.0, 30.0)),
    ("Panel B", _PANEL, 4, 1.6, "table", (10.0, 20.0, 30.0)),
    ("Bowl", _BOWL, 0, 4.0, "tapping", (20.0,)),
)
FORMS = tuple(
    FormFacts(
        name=name,
        form_type=kind[0],
        product_line=kind[1],
        face_material=kind[2],
        volume_l=kind[3],
        joints=kind[4],
        uses_before=before,
        base_percent=base,
        method=method,
        seconds=seconds,
    )
    for name, kind, before, base, method, seconds in _USED
)
MIXES = ("grey", "grey with plasticiser")
AGENTS = ("oil", "water-based release")
SEALINGS = ("tape", "none")


def castings(
    *, effects: bool = True, method_version: str | None = None
) -> list[dict[str, object]]:
    """Return one row per piece, in the columns of a table of pieces.

    Parameters
    ----------
    effects : bool
        Off gives the same castings as if nothing that was done mattered, with release
        agents assigned apart from the mixes.
    method_version : str, optional
        What the rows say they were measured with.

    Examples
    --------
    >>> rows = castings()
    >>> len(rows), rows[0]["pour"], rows[0]["form"]
    (221, 'P01', 'Trough A')
    """
    random = np.random.default_rng(SEED)
    half = np.arange(POURS) % 2
    mix, agent = random.permutation(half), random.permutation(half)
    if effects:
        agent = mix
    taped = random.permutation(half)
    # The six pairs of unlike times, over and over: two forms of a kind are never
    # vibrated alike in one pour.
    times = {
        kind: random.permutation(np.resize(_unequal_pairs(), (POURS, 2)))
        for kind in ("bench leg", "panel")
    }
    between = random.normal(0, SPREAD_BETWEEN, POURS)
    rows: list[dict[str, object]] = []
    for pour in range(POURS):
        for place, form in enumerate(FORMS):
            within = random.normal(0, SPREAD_WITHIN)
            if form.name == "Bowl" and pour % 2 == 0:
                continue
            second = place % 2
            at = int(times[form.form_type][pour, second]) if form.seconds[1:] else 0
            seconds = form.seconds[at]
            sealing = "tape" if form.joints else ""
            if form.form_type == "trough":
                # Of the two troughs of a pour one is taped, by lot.
                sealing = SEALINGS[int(taped[pour]) ^ second]
            shift = between[pour] + within
            if effects:
                shift += _effect(form, pour, sealing, seconds)
            percent = _base(form, effects=effects) * float(np.exp(shift))
            rows.append(
                {
                    "piece": f"{len(rows) + 1:03d}",
                    "pour": f"P{pour + 1:02d}",
                    "cast_on": (FIRST_DAY + timedelta(days=7 * pour)).isoformat(),
                    "form": form.name,
                    "product_line": form.product_line,
                    "mix": MIXES[int(mix[pour])],
                    "joint_sealing": sealing,
                    "release_agent": AGENTS[int(agent[pour])],
                    "release_application": (
                        "sprayed"
                        if form.form_type == "trough" and pour >= DRIFT_FROM
                        else "brushed on"
                    ),
                    "vibration_method": form.method,
                    "vibration_s": seconds,
                    "void_area_percent": round(percent, 3),
                    "face_area_mm2": FACE_MM2,
                    "void_count": round(percent / 100 * FACE_MM2 / VOID_MM2),
                    "stage": "as_struck",
                    "light": "plain",
                    "smallest_counted_mm": SMALLEST_MM,
                    "method_version": method_version,
                }
            )
    return rows


def over_vibrated(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Return pieces that show it: every third one vibrated for the longest time.

    Examples
    --------
    >>> sorted({row["form"] for row in over_vibrated(castings())})
    ['Leg A', 'Leg B']
    """
    longest = max(max(form.seconds) for form in FORMS)
    return [row for row in rows if row["vibration_s"] == longest][::3]


def photographed(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Return the pieces that get a photo: those of the last pours.

    Examples
    --------
    >>> len(photographed(castings()))
    12
    """
    last = {form.name: 3 if form.form_type == "trough" else 1 for form in FORMS}
    last["Pot 1"] = 0
    chosen = []
    for row in reversed(rows):
        if last[str(row["form"])]:
            last[str(row["form"])] -= 1
            chosen.append(row)
    return chosen[::-1]


def _unequal_pairs() -> list[tuple[int, int]]:
    return [(a, b) for a in range(3) for b in range(3) if a != b]


def _base(form: FormFacts, *, effects: bool) -> float:
    """Return the usual share; without effects bowls come out as pots do."""
    return 0.45 if form.name == "Bowl" and not effects else form.base_percent


def _effect(form: FormFacts, pour: int, sealing: str, seconds: float) -> float:
    """Return the built-in truths as a shift of the log share."""
    found = 0.0
    if form.form_type == "trough":
        found += TAPED if sealing == "tape" else 0.0
        found += DRIFTED * min(1.0, max(0.0, (pour - DRIFT_FROM + 1) / DRIFT_OVER))
    if form.name == "Pot 2":
        found += WORN_PER_USE * pour
    if form.form_type == "panel":
        found += LESS_PER_S * (seconds - form.seconds[0])
    if form.form_type == "bench leg":
        found += MORE_PER_S * (seconds - form.seconds[0])
    return float(found)
