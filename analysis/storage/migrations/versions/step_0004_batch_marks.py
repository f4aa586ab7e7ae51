"""Baselines the maker froze, and changes after which pours are judged anew."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import Day, kept, key, link, note, word

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "batch_mark",
        key(),
        word("kind", ("change", "baseline", "refinished"), needed=True),
        sa.Column("from_day", Day, nullable=False),
        sa.Column("to_day", Day),
        link("product_line_id", "product_line"),
        link("form_id", "form"),
        note(),
        *kept(),
        sa.CheckConstraint("from_day <= to_day", name="days"),
    )
