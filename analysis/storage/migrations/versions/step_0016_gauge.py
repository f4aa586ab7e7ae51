"""Studies of the gauge, and the spread of readings in a shop's usual set-up."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.model.gauge import STUDY_KINDS, USUAL_BASES
from analysis.storage.columns import (
    kept,
    key,
    link,
    moment,
    name_text,
    number,
    whole,
    word,
)

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Add tables and columns."""
    op.create_table(
        "gauge_study",
        key(),
        word("kind", STUDY_KINDS, needed=True),
        sa.Column("plan", sa.JSON, nullable=False),
        moment("drawn_at", needed=True),
        moment("finished_at"),
        *kept(),
    )
    op.create_table(
        "gauge_measure",
        key(),
        link("study_id", "gauge_study", needed=True),
        whole("place", needed=True),
        link("photo_id", "photo"),
        number("share", 0, 1, needed=True),
        number("share_low", 0, 1, needed=True),
        number("share_high", 0, 1, needed=True),
        number("smallest_share", 0, 1, needed=True),
        name_text("method_version", needed=True),
        sa.Column("detail", sa.JSON, nullable=False),
        moment("measured_at", needed=True),
        sa.UniqueConstraint("study_id", "place"),
    )
    op.create_table(
        "usual_spread",
        key(),
        link("set_up_id", "term", needed=True),
        link("study_id", "gauge_study"),
        word("basis", USUAL_BASES, needed=True),
        number("spread", 1e-9, 10, needed=True),
        number("degrees", 1e-9, 1e9, needed=True),
        name_text("method_version", needed=True),
        sa.Column("lights", sa.JSON, nullable=False),
        *kept(),
    )
    op.add_column("reading", number("usual_share_low", 0, 1))
    op.add_column("reading", number("usual_share_high", 0, 1))
    of = link("usual_spread_id", "usual_spread")
    op.add_column("reading", of, inline_references=True)
