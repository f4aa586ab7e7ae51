"""Where a photo was taken, and photos that can be hidden."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import link, moment, name_text, whole

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the set-up to what tells two uses of a photo apart."""
    for column in (
        link("set_up_id", "term"),
        moment("deleted_at"),
        whole("version", 1, needed=True, default=1),
    ):
        op.add_column("photo_use", column, inline_references=True)
    op.add_column("brought_figure", name_text("set_up"))
    op.drop_index("uq_photo_use", "photo_use")
    op.create_index(
        "uq_photo_use",
        "photo_use",
        [
            "piece_id",
            "photo_id",
            "purpose",
            sa.text("coalesce(stage, '')"),
            sa.text("coalesce(surface_state, '')"),
            sa.text("coalesce(set_up_id, 0)"),
        ],
        unique=True,
    )
