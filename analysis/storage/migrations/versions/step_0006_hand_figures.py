"""Figures measured on the piece, which a photo cannot give."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import Day, kept, key, link, note, number

revision = "0006"
down_revision = "0005"
FIGURES = (
    "void_depth_mm",
    "void_volume_cm3",
    "leak_width_mm",
    "leak_depth_mm",
    "step_mm",
    "fin_mm",
    "chip_depth_mm",
    "chip_mm_per_m",
)


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "hand_figures",
        key(),
        link("piece_id", "piece", needed=True),
        sa.Column("measured_on", Day),
        note("joint"),
        *(number(name, 0, 100_000) for name in FIGURES),
        note(),
        *kept(),
    )
