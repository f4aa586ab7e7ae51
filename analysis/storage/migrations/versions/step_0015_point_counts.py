"""Counts of points beside a reading."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import kept, key, link, moment, name_text, note, number

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "point_count",
        key(),
        link("reading_id", "reading", needed=True),
        name_text("who", needed=True),
        sa.Column("plan", sa.JSON, nullable=False),
        note("answers"),
        moment("drawn_at", needed=True),
        moment("finished_at"),
        number("share", 0, 1),
        number("share_low", 0, 1),
        number("share_high", 0, 1),
        *kept(),
    )
