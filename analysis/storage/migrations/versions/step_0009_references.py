"""Pieces approved as references."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import Day, kept, key, link, note

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "reference_piece",
        key(),
        link("piece_id", "piece", needed=True),
        link("product_line_id", "product_line"),
        sa.Column("approved_on", Day),
        note(),
        *kept(),
    )
