"""What joints leave beside voids, and intervals of a reading's parts."""

from __future__ import annotations

from alembic import op

from analysis.storage.columns import number

revision = "0019"
down_revision = "0018"

_MARKS = (
    "joint_length_mm",
    "sand_length_mm",
    "fin_length_mm",
    "arris_loss_mm2_per_m",
)


def upgrade() -> None:
    """Add the columns; older readings and tables do not know them."""
    for part in ("joint_band", "open_face", "honeycomb"):
        for end in ("low", "high"):
            op.add_column("reading", number(f"{part}_{end}", 0, 1))
    for name in _MARKS:
        op.add_column("reading", number(name, 0))
        op.add_column("brought_figure", number(name, 0))
