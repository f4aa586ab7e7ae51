"""Form, pour, piece, photo, reading and void.

The words are written out here: a step must not change when the program's words do.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import (
    Day,
    UtcTime,
    WallTime,
    Words,
    kept,
    key,
    link,
    moment,
    name_text,
    note,
    number,
    whole,
    word,
)

revision = "0001"
down_revision = None

STAGES = ("as_struck", "brushed", "ground", "polished", "filled", "surface_sealed")
PURPOSES = ("representative", "worst_spot", "show", "relief")
SURFACE_STATES = ("dry", "damp", "wet")
SCALE_METHODS = ("typed", "two_points", "corners", "sheet", "none")
KINDS = (
    "pinhole",
    "bughole",
    "large_void",
    "honeycomb",
    "crack",
    "joint_or_fin",
    "stain",
    "grain",
    "bloom",
    "other",
)


def upgrade() -> None:
    """Lay the first tables."""
    _castings()
    _photos()


def _castings() -> None:
    op.create_table(
        "term",
        key(),
        name_text("vocabulary", needed=True),
        name_text("name", needed=True),
        link("merged_into_id", "term"),
        moment("created_at", needed=True),
        sa.UniqueConstraint("vocabulary", "name"),
    )

    op.create_table(
        "form",
        key(),
        name_text("name", needed=True),
        link("form_type_id", "term"),
        whole("starting_use_count", 0, 100_000, needed=True, default=0),
        note(),
        *kept(),
    )

    op.create_table(
        "pour",
        key(),
        name_text("name", needed=True),
        sa.Column("cast_on", Day, nullable=False),
        sa.Column("cast_at", WallTime),
        note(),
        *kept(),
    )

    op.create_table(
        "piece",
        key(),
        name_text("name", needed=True),
        link("pour_id", "pour", needed=True),
        link("form_id", "form"),
        link("release_agent_id", "term"),
        note(),
        *kept(),
    )

    op.create_table(
        "piece_joint",
        key(),
        link("piece_id", "piece", needed=True),
        whole("position", 0, 1000, needed=True),
        sa.Column("joint", Words("joint", 200), nullable=False, server_default=""),
        link("sealing_id", "term"),
        link("leak_id", "term"),
        sa.UniqueConstraint("piece_id", "joint"),
    )

    op.create_table(
        "step",
        key(),
        link("piece_id", "piece", needed=True),
        whole("position", 0, 1000, needed=True),
        link("method_id", "term"),
        number("seconds", 0, 86400),
        sa.UniqueConstraint("piece_id", "position"),
    )


def _photos() -> None:
    op.create_table(
        "photo",
        key(),
        sa.Column(
            "sha256",
            Words("sha256", 64),
            sa.CheckConstraint("length(sha256) = 64", name="sha256"),
            nullable=False,
            unique=True,
        ),
        note("name"),
        name_text("file_format", needed=True),
        whole("byte_count", 1, needed=True),
        whole("width_px", 1, 1_000_000, needed=True),
        whole("height_px", 1, 1_000_000, needed=True),
        name_text("taken_at"),
        moment("created_at", needed=True),
    )

    op.create_table(
        "photo_use",
        key(),
        link("piece_id", "piece", needed=True),
        link("photo_id", "photo", needed=True),
        word("purpose", PURPOSES, needed=True),
        word("stage", STAGES),
        word("surface_state", SURFACE_STATES),
        moment("created_at", needed=True),
    )

    op.create_table(
        "reading",
        key(),
        link("photo_use_id", "photo_use", needed=True),
        whole("width_px", 1, 1_000_000, needed=True),
        whole("height_px", 1, 1_000_000, needed=True),
        number("mm_per_px", 1e-9, 1e6),
        number("scale_uncertainty", 0, 0.5),
        word("scale_method", SCALE_METHODS),
        sa.Column("face", sa.JSON, nullable=False),
        number("smallest_mm_asked", 0, 1000),
        number("face_area_px", 0, needed=True),
        number("face_area_mm2", 0),
        number("void_area_px", 0, needed=True),
        number("void_area_mm2", 0),
        number("void_share", 0, 1, needed=True),
        number("void_share_low", 0, 1, needed=True),
        number("void_share_high", 0, 1, needed=True),
        number("sampled_share", 0, 1, needed=True),
        number("sampled_share_low", 0, 1, needed=True),
        number("sampled_share_high", 0, 1, needed=True),
        whole("void_count", needed=True),
        number("voids_per_m2", 0),
        number("largest_void_mm", 0),
        number("smallest_counted_mm", 0),
        number("smallest_counted_px", 0, needed=True),
        number("joint_band_share", 0, 1),
        number("open_face_share", 0, 1),
        number("honeycomb_share", 0, 1, needed=True),
        sa.Column("honeycomb_px", sa.JSON, nullable=False),
        sa.Column("light_flags", sa.JSON, nullable=False),
        sa.Column("flags", sa.JSON, nullable=False),
        number("lamp_towards_rad", -10, 10),
        name_text("method_version", needed=True),
        sa.Column("library_versions", sa.JSON, nullable=False),
        sa.Column("measured_at", UtcTime, nullable=False),
        *kept(),
        sa.CheckConstraint(
            "void_share_low <= void_share_high", name="void_share_order"
        ),
        sa.CheckConstraint(
            "(mm_per_px IS NULL) = (scale_method IS NULL) "
            "AND (mm_per_px IS NULL) = (scale_uncertainty IS NULL)",
            name="scale_whole",
        ),
    )

    op.create_table(
        "void",
        key(),
        link("reading_id", "reading", needed=True),
        whole("position", needed=True),
        word("kind", KINDS, needed=True),
        whole("rejected", 0, 1, needed=True),
        note("reason"),
        number("row_px", -1e6, 1e6, needed=True),
        number("col_px", -1e6, 1e6, needed=True),
        number("area_px", 0, needed=True),
        number("area_sd_px", 0, needed=True),
        number("feret_max_px", 0, needed=True),
        number("contrast", -1e6, 1e6, needed=True),
        number("rim_sharpness", -1e6, 1e6, needed=True),
        number("shading", -1e6, 1e6, needed=True),
        number("colour_shift", -1e6, 1e6, needed=True),
        number("elongation", 0, needed=True),
        number("solidity", 0, 1e6, needed=True),
        sa.Column("flags", sa.JSON, nullable=False),
        sa.Column("outline", sa.LargeBinary, nullable=False),
    )

    op.create_table(
        "save",
        name_text("token", needed=True),
        name_text("record_kind", needed=True),
        whole("record_id", 1, needed=True),
        moment("saved_at", needed=True),
        sa.PrimaryKeyConstraint("token"),
    )

    for table in ("form", "pour", "piece"):
        op.create_index(
            f"uq_live_{table}_name",
            table,
            ["name"],
            unique=True,
            sqlite_where=sa.text("deleted_at IS NULL"),
            postgresql_where=sa.text("deleted_at IS NULL"),
        )
    op.create_index(
        "uq_photo_use",
        "photo_use",
        [
            "piece_id",
            "photo_id",
            "purpose",
            sa.text("coalesce(stage, '')"),
            sa.text("coalesce(surface_state, '')"),
        ],
        unique=True,
    )
