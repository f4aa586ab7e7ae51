"""Marks seen on a face beside its voids."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import kept, key, link, note

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "seen_mark",
        key(),
        link("piece_id", "piece", needed=True),
        link("mark_id", "term", needed=True),
        note(),
        *kept(),
    )
