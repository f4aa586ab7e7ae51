"""What kind of face a form has, and as what a face was measured."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import number, word

revision = "0021"
down_revision = "0020"

_KINDS = ("flat", "round", "ribbed", "faceted", "free")


def upgrade() -> None:
    """Add the columns; blank is not known, as it was."""
    op.add_column("form", word("face_kind", _KINDS))
    op.add_column("form", number("pitch_mm", 1, 1000))
    op.add_column("form", number("depth_mm", 0.1, 1000))
    op.add_column("reading", word("face_kind_asked", _KINDS))
    op.add_column("reading", number("pitch_mm_asked", 0, 1000))
    op.add_column("reading", number("depth_mm_asked", 0, 1000))
