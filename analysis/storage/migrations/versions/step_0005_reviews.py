"""Reviews: who decided what about a reading, and when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import key, link, moment, name_text

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "review",
        key(),
        link("reading_id", "reading", needed=True),
        name_text("signed_by", needed=True),
        moment("reviewed_at", needed=True),
        sa.Column("marks", sa.JSON, nullable=False),
        sa.UniqueConstraint("reading_id"),
    )
