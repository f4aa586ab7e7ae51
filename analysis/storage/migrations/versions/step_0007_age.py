"""How long after striking a photo was taken."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import number

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add the age to what tells two uses of a photo apart."""
    op.add_column("photo_use", number("age_h", 0, 1_000_000))
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
            sa.text("coalesce(age_h, -1)"),
        ],
        unique=True,
    )
