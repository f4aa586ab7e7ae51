"""The second photo of a reading made in two lights."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import link

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Add the columns."""
    op.add_column("reading", sa.Column("second_light", sa.JSON))
    second = link("second_photo_id", "photo")
    op.add_column("reading", second, inline_references=True)
