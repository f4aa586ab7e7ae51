"""Folders that are measured: how far each is, photo by photo."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import key, link, moment, note, whole, word

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "folder_run",
        key(),
        note("folder"),
        whole("photos", needed=True),
        moment("started_at", needed=True),
        moment("changed_at", needed=True),
        moment("ended_at"),
        sa.UniqueConstraint("folder"),
    )
    op.create_table(
        "folder_photo",
        key(),
        link("folder_run_id", "folder_run", needed=True),
        note("path"),
        sa.Column("byte_count", sa.BigInteger, nullable=False),
        sa.Column("changed_ns", sa.BigInteger, nullable=False),
        word("state", ("measured", "skipped", "failed"), needed=True),
        note("problem"),
        link("reading_id", "reading"),
        moment("told_at", needed=True),
        sa.UniqueConstraint("folder_run_id", "path"),
    )
