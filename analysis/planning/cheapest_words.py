"""What is cheapest, in words and as keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import percent

if TYPE_CHECKING:
    from analysis.planning.cheapest import Cheapest, Priced

MISSING = {
    "sealing": "What sealing takes is not logged: note its minutes with a pour.",
}


def option_name(one: Priced) -> str:
    """Name an option.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> option_name(SimpleNamespace(kind="vibration", level="30"))
    '30 s of vibration'
    """
    return {
        "as_now": "as now",
        "vibration": f"{one.level} s of vibration",
        "seal": "sealed joints",
        "leave_open": "open joints",
        "refinish": f"{one.level} refinished",
    }[one.kind]


def cheapest_sentence(found: Cheapest) -> str:
    """Say in one sentence what is cheapest.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.planning.cheapest import Cheapest
    >>> cheapest_sentence(Cheapest(
    ...     options=(), verdict="stay", minutes_per_percent=6.0, minutes_low=5.0,
    ...     minutes_high=7.0, minutes_at_none=1.0, n_pieces=20, n_pours=10))
    'As now is cheapest: everything else priced here costs more.'
    """
    if found.verdict == "stay":
        return "As now is cheapest: everything else priced here costs more."
    if not found.options[1:]:
        return (
            "There is nothing to choose from yet: try another time, or joints sealed."
        )
    best = found.options[0]
    name = option_name(best)
    if found.verdict == "change":
        return (
            f"{_large(name)} is cheaper: it saves {best.saves:.2f} a piece "
            f"({best.saves_low:.2f} to {best.saves_high:.2f})."
        )
    if best.kind == "as_now":
        return "Not clear yet: as now looks cheapest, but another may cost no more."
    return (
        f"Not clear yet: {name} looks cheapest by {best.saves:.2f} a piece "
        f"({best.saves_low:.2f} to {best.saves_high:.2f})."
    )


def cheapest_lines(found: Cheapest) -> list[str]:
    """Say what each option costs, and what repair takes.

    Examples
    --------
    >>> from analysis.planning.cheapest import Cheapest
    >>> cheapest_lines(Cheapest(
    ...     options=(), verdict="stay", minutes_per_percent=6.0, minutes_low=5.0,
    ...     minutes_high=7.0, minutes_at_none=1.0, n_pieces=20, n_pours=10))[0]
    'Repair takes 1.0 minutes a piece, and 6.0 more for each 1 % of void area (5.0 to 7.0), from 20 pieces of 10 pours.'
    """  # noqa: E501  one sentence
    repair = (
        f"Repair takes {found.minutes_at_none:.1f} minutes a piece, and "
        f"{found.minutes_per_percent:.1f} more for each 1 % of void area "
        f"({found.minutes_low:.1f} to {found.minutes_high:.1f}), from "
        f"{found.n_pieces} pieces of {found.n_pours} pours."
    )
    missing = [MISSING[name] for name in found.missing]
    return [repair, *map(_line, found.options), *missing]


def _large(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def _line(one: Priced) -> str:
    start = (
        f"{_large(option_name(one))}: {one.total:.2f} a piece, {one.make:.2f} to make "
        f"and {one.mend:.2f} to mend, at {percent(one.share_percent / 100)} % void area"
    )
    if one.kind == "as_now":
        return f"{start}."
    side = "saves" if one.saves >= 0 else "costs"
    near, far = sorted((abs(one.saves_low), abs(one.saves_high)))
    if one.saves_low < 0 < one.saves_high:
        return (
            f"{start}; between {-one.saves_low:.2f} dearer and {one.saves_high:.2f} "
            f"cheaper than now."
        )
    more = " more" if side == "costs" else ""
    return (
        f"{start}; {side} {abs(one.saves):.2f}{more} ({near:.2f} to {far:.2f}) against "
        f"now."
    )


def cheapest_keys(found: Cheapest) -> dict[str, object]:
    """Return the answer in plain types, as the command line writes it.

    Examples
    --------
    >>> from analysis.planning.cheapest import Cheapest
    >>> cheapest_keys(Cheapest(
    ...     options=(), verdict="stay", minutes_per_percent=6.0, minutes_low=5.0,
    ...     minutes_high=7.0, minutes_at_none=1.0, n_pieces=20, n_pours=10))["verdict"]
    'stay'
    """
    return {
        "verdict": found.verdict,
        "options": [
            {
                "kind": one.kind,
                "level": one.level or None,
                "expected_percent": one.share_percent,
                "make": one.make,
                "mend": one.mend,
                "total": one.total,
                "saves": one.saves,
                "saves_low": one.saves_low,
                "saves_high": one.saves_high,
            }
            for one in found.options
        ],
        "repair_minutes_at_none": found.minutes_at_none,
        "repair_minutes_per_percent": found.minutes_per_percent,
        "repair_minutes_per_percent_low": found.minutes_low,
        "repair_minutes_per_percent_high": found.minutes_high,
        "n_pieces": found.n_pieces,
        "n_pours": found.n_pours,
        "missing": list(found.missing),
        "sentence": cheapest_sentence(found),
    }
