"""Work that only one process does at a time."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import moment, name_text

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "lease",
        name_text("work", needed=True),
        name_text("holder", needed=True),
        moment("until", needed=True),
        sa.PrimaryKeyConstraint("work"),
    )
