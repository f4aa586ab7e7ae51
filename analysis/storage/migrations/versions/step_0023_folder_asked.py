"""How each photo of a folder was asked for."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import note

revision = "0023"
down_revision = "0022"


def upgrade() -> None:
    """Add the column."""
    op.add_column("folder_photo", note("asked"))
