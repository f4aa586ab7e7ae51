"""The log's mark for its cards, and photos that wait to be measured."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import key, link, moment, name_text, note, word

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Add the tables."""
    op.create_table(
        "log_mark",
        key(),
        name_text("mark", needed=True),
        moment("created_at", needed=True),
    )
    op.create_table(
        "waiting_photo",
        key(),
        link("photo_id", "photo", needed=True),
        link("piece_id", "piece"),
        word("state", ("given", "check", "ready", "done", "failed"), needed=True),
        word(
            "why",
            ("card", "form_card", "time", "only_one", "by_hand", "unknown"),
            needed=True,
        ),
        sa.Column("asked", sa.JSON, nullable=False),
        note("problem"),
        link("reading_id", "reading"),
        moment("added_at", needed=True),
        moment("changed_at", needed=True),
    )
    op.create_index("uq_waiting_photo", "waiting_photo", ["photo_id"], unique=True)
