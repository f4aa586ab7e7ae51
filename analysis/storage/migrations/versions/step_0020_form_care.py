"""What is done to a form between castings, what is due again, and how it is set up."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import Day, kept, key, link, note, whole, word

revision = "0020"
down_revision = "0019"

_CARES = (
    "cleaned",
    "waxed",
    "joint_re_sealed",
    "edge_repaired",
    "new_liner",
    "refinished",
    "storage_damage",
    "retired",
)


def upgrade() -> None:
    """Add the tables and the column."""
    op.add_column("form", note("set_up_recipe"))
    op.create_table(
        "form_care",
        key(),
        link("form_id", "form", needed=True),
        word("kind", _CARES, needed=True),
        sa.Column("done_on", Day, nullable=False),
        note("joint"),
        note(),
        *kept(),
    )
    op.create_table(
        "form_reminder",
        key(),
        link("form_id", "form", needed=True),
        word("kind", _CARES, needed=True),
        whole("every_uses", 1, 100_000, needed=True, default=0),
        note(),
        *kept(),
    )
