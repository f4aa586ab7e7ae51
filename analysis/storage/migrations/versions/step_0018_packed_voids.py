"""The voids of a reading packed into one row."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import whole
from analysis.storage.void_packs import catalogue, packed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.reading import VoidCatalog

revision = "0018"
down_revision = "0017"

_NUMBERS = (
    "row_px",
    "col_px",
    "area_px",
    "area_sd_px",
    "feret_max_px",
    "contrast",
    "rim_sharpness",
    "shading",
    "colour_shift",
    "elongation",
    "solidity",
)
_VOID = sa.table(
    "void",
    *(sa.column(name) for name in ("reading_id", "position", "kind", "rejected")),
    *(sa.column(name) for name in ("reason", "outline", *_NUMBERS)),
    sa.column("flags", sa.JSON),
)
_READINGS_AT_A_TIME = 500


def upgrade() -> None:
    """Add the table, pack what the old one holds, and drop it."""
    op.create_table(
        "void_pack",
        sa.Column(
            "reading_id", sa.Integer, sa.ForeignKey("reading.id"), primary_key=True
        ),
        whole("layout", 1, needed=True),
        whole("counted", needed=True),
        whole("rejected", needed=True),
        sa.Column("areas", sa.LargeBinary, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    connection = op.get_bind()
    query = sa.text("SELECT id FROM reading ORDER BY id")
    readings = list(connection.execute(query).scalars())
    for start in range(0, len(readings), _READINGS_AT_A_TIME):
        _pack(connection, readings[start : start + _READINGS_AT_A_TIME])
    op.drop_table("void")


def _pack(connection: sa.Connection, readings: list[int]) -> None:
    """Pack the voids of some readings, those without any too."""
    query = (
        sa.select(_VOID)
        .where(_VOID.c.reading_id.between(readings[0], readings[-1]))
        .order_by(_VOID.c.reading_id, _VOID.c.rejected, _VOID.c.position)
    )
    found = {
        reading_id: list(rows)
        for reading_id, rows in groupby(
            connection.execute(query), key=lambda row: row.reading_id
        )
    }
    into = sa.table(
        "void_pack",
        *(sa.column(name) for name in ("reading_id", "layout", "counted", "rejected")),
        sa.column("areas", sa.LargeBinary),
        sa.column("content", sa.LargeBinary),
    )
    rows = []
    for reading_id in readings:
        its = found.get(reading_id, [])
        voids = _catalogue(row for row in its if not row.rejected)
        others = _catalogue(row for row in its if row.rejected)
        rows.append({"reading_id": reading_id, **packed(voids, others)})
    connection.execute(sa.insert(into), rows)


def _catalogue(rows: Iterable[Any]) -> VoidCatalog:
    its = list(rows)
    numbers = np.array(
        [[getattr(row, name) for row in its] for name in _NUMBERS], dtype=np.float64
    )
    return catalogue(
        [row.kind for row in its],
        numbers.reshape(len(_NUMBERS), len(its)),
        [row.reason for row in its],
        [row.flags for row in its],
        [np.frombuffer(row.outline, dtype="<f8").reshape(-1, 2) for row in its],
    )
