"""How often steady pours are marked by chance, from simulation."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from analysis.model.monitoring import Rule


@cache
def _tables() -> tuple[tuple[frozenset[str], tuple[int, ...], tuple[float, ...]], ...]:
    """Read the committed results: rules, baseline lengths, rates."""
    source = resources.files("analysis.monitoring").joinpath("false_alarms.toml")
    data = tomllib.loads(source.read_text(encoding="utf-8"))
    return tuple(
        (frozenset(t["rules"]), tuple(t["baseline_pours"]), tuple(t["rates"]))
        for t in data["table"]
    )


def false_alarm_rate(rules: tuple[Rule, ...], baseline_pours: int) -> float | None:
    """Share of steady pours after the baseline that these rules mark by chance.

    Parameters
    ----------
    rules : tuple of Rule
        Rules in use.
    baseline_pours : int
        Pours the limits come from.

    Returns
    -------
    float or None
        0..1, between the simulated lengths by interpolation; None for a set of
        rules that was not simulated.

    Notes
    -----
    The numbers and the command that made them are in ``false_alarms.toml``.

    Examples
    --------
    >>> from analysis.monitoring.rules import BEYOND
    >>> 0.002 < false_alarm_rate((BEYOND,), 10_000) < 0.005
    True
    """
    names = frozenset(rule.name for rule in rules)
    for of, lengths, rates in _tables():
        if of == names:
            return float(np.interp(baseline_pours, lengths, rates))
    return None
