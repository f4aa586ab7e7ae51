"""How each face of a form is photographed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import (
    Day,
    kept,
    key,
    link,
    note,
    number,
    unique_while_live,
)

revision = "0022"
down_revision = "0021"


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "photo_recipe",
        key(),
        link("form_id", "form", needed=True),
        note("face_name"),
        number("camera_mm", 10, 100_000),
        note("lamp"),
        note("floor_marks"),
        number("shown_width_mm", 1, 1_000_000),
        number("brightness_share", 0, 1),
        number("light_deg", -180, 180),
        sa.Column("taken_on", Day, nullable=True),
        *kept(),
        unique_while_live("photo_recipe", "form_id", "face_name"),
    )
