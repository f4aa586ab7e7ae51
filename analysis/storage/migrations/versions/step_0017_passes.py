"""Passes of a screed, a plate or a roller, in a step of consolidation."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import number

revision = "0017"
down_revision = "0016"


def upgrade() -> None:
    """Add the column."""
    op.add_column("step", number("passes", 0, 1_000_000))
