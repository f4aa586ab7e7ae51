"""A pretended workshop: tables of pieces with a known truth."""

from __future__ import annotations

import numpy as np

from analysis.pieces.table import piece_table


def rows(
    *,
    pours=12,
    pieces=3,
    log_ratio=-0.8,
    between=0.3,
    within=0.3,
    mixed=False,
    seed=1,
    centre=0.5,
):
    """Return rows of pieces, tape against none, by pour or inside each pour."""
    random = np.random.default_rng(seed)
    made = []
    for pour in range(pours):
        shift = random.normal(0, between)
        for piece in range(pieces):
            tape = (piece if mixed else pour) % 2 == 0
            value = centre * np.exp(
                shift + random.normal(0, within) + (log_ratio if tape else 0.0)
            )
            made.append(
                {
                    "piece": f"{pour}-{piece}",
                    "pour": f"P{pour}",
                    "joint_sealing": "tape" if tape else "none",
                    "void_area_percent": float(value),
                }
            )
    return made


def table(**changes):
    """Return the same as a table."""
    return piece_table(rows(**changes))


def with_column(made, name, values):
    """Return rows with one more column, a function of the row's number."""
    return [row | {name: values(n, row)} for n, row in enumerate(made)]


def pour_number(row):
    """Return the number of a row's pour."""
    return int(row["pour"][1:])
