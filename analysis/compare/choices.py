"""What a table of pieces can be asked: factors, levels, outcomes, some of the rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.levels import MOST_LEVELS, levels_in_order
from analysis.compare.rows import RESULTS
from analysis.fields import columns_of_role
from analysis.model.comparison import OUTCOMES
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.comparison import PieceTable

FIRST = (
    JOINTS_SEALED,
    "joint_sealing",
    "release_agent",
    "release_application",
    "vibration_method",
    "vibration_s",
    "mix",
    "form_type",
    "form",
)
# How a piece was looked at, not how it was made; or no choice at all.
NOT_CHOSEN = frozenset(
    {
        *columns_of_role("condition_of_measuring"),
        "pour",
        "cast_on",
        "second",
    }
)


def factors(table: PieceTable) -> tuple[str, ...]:
    r"""Return the factors that were tried at two levels or more, likeliest first.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,mix,joint_sealing\n1,A,C25,tape\n2,B,C40,none\n")
    >>> factors(table)
    ('joints_sealed', 'joint_sealing', 'mix')
    """
    found = [
        name
        for name in table.text
        if name not in RESULTS | NOT_CHOSEN
        and 1 < len(levels_in_order(table.levels(name).names)) <= MOST_LEVELS
    ]
    order = {name: place for place, name in enumerate(FIRST)}
    return tuple(sorted(found, key=lambda name: order.get(name, len(order))))


def outcomes(table: PieceTable) -> tuple[str, ...]:
    r"""Return the outcomes that are known for two pieces or more.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,void_area_percent\n1,A,0.3\n2,A,0.4\n")
    >>> outcomes(table)
    ('void_area_percent',)
    """

    def known(name: str) -> int:
        columns = ("void_count", "face_area_mm2") if name == "voids_per_m2" else (name,)
        if any(column not in table.number for column in columns):
            return 0
        values = np.array([table.number[column] for column in columns])
        return int((~np.isnan(values)).all(axis=0).sum())

    return tuple(name for name in OUTCOMES if known(name) > 1)


def narrowed(
    table: PieceTable,
    *,
    alike: dict[str, str] | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
) -> PieceTable:
    r"""Return the rows with these levels, cast on these days, both ends included.

    Pieces without a date are left out where a day is asked for.

    Examples
    --------
    >>> from datetime import date
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour,cast_on\n1,A,2026-03-01\n2,B,2026-03-09\n")
    >>> narrowed(table, from_day=date(2026, 3, 2)).text["piece"].tolist()
    ['2']
    """
    keep = np.ones(len(table), dtype=bool)
    for name, level in (alike or {}).items():
        keep &= table.text.get(name, np.full(len(table), "")) == level
    days = np.array(
        [cell[:10] for cell in table.text.get("cast_on", np.full(len(table), ""))]
    )
    if from_day is not None:
        keep &= (days != "") & (days >= from_day.isoformat())
    if to_day is not None:
        keep &= (days != "") & (days <= to_day.isoformat())
    return table.taken(keep)
