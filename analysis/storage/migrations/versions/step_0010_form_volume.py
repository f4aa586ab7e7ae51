"""How much concrete a form holds."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import number

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add the column; a form's weight follows from it."""
    op.add_column("form", number("volume_l", 0.001, 100_000))
