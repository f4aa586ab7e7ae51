"""The whole log: lines and targets, mixes, outcomes, repairs, drafts, history."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from alembic import op

from analysis.storage.columns import (
    Day,
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

if TYPE_CHECKING:
    from collections.abc import Iterable

revision = "0002"
down_revision = "0001"

STAGES = ("as_struck", "brushed", "ground", "polished", "filled", "surface_sealed")
CERTAINTIES = ("measured", "guessed")
MIX_BASES = ("by_mass", "by_volume", "per_bag", "by_feel")
MIX_PARTS = ("cement", "aggregate", "admixture", "fibre", "pigment")
OUTCOMES = ("first_quality", "second", "patched", "scrapped")


def upgrade() -> None:
    """Add the rest; what is there stays as it is."""
    _vocabulary()
    _workshop()
    _castings()
    _results()
    _helpers()


def _add(table: str, columns: Iterable[sa.Column[Any]]) -> None:
    for column in columns:
        op.add_column(table, column, inline_references=True)


def _unique_while_live(table: str) -> None:
    op.create_index(
        f"uq_live_{table}_name",
        table,
        ["name"],
        unique=True,
        sqlite_where=sa.text("deleted_at IS NULL"),
        postgresql_where=sa.text("deleted_at IS NULL"),
    )


def _vocabulary() -> None:
    op.create_table(
        "term_change",
        key(),
        link("term_id", "term", needed=True),
        word("change", ("added", "renamed", "merged", "parted"), needed=True),
        note("before"),
        note("after"),
        moment("changed_at", needed=True),
    )

    op.execute(
        "INSERT INTO term_change (term_id, change, before, after, changed_at) "
        "SELECT id, 'added', '', name, created_at FROM term"
    )


def _workshop() -> None:
    op.create_table(
        "product_line",
        key(),
        name_text("name", needed=True),
        note(),
        *kept(),
    )

    _unique_while_live("product_line")

    op.create_table(
        "finish_target",
        key(),
        link("product_line_id", "product_line", needed=True),
        number("low_share", 0, 1),
        number("high_share", 0, 1),
        number("largest_void_mm", 0, 1000),
        number("honeycomb_share", 0, 1),
        note(),
        *kept(),
        sa.CheckConstraint("low_share <= high_share", name="band"),
    )

    op.create_table(
        "mix",
        key(),
        name_text("name", needed=True),
        word("basis", MIX_BASES),
        note("proportions"),
        note(),
        *kept(),
    )

    _unique_while_live("mix")

    op.create_table(
        "mix_part",
        key(),
        link("mix_id", "mix", needed=True),
        whole("position", 0, 1000, needed=True),
        word("kind", MIX_PARTS, needed=True),
        link("name_id", "term", needed=True),
        note("amount"),
    )

    _add(
        "form",
        (
            link("face_material_id", "term"),
            link("gloss_id", "term"),
            link("texture_id", "term"),
            link("storage_id", "term"),
            link("release_agent_id", "term"),
            link("product_line_id", "product_line"),
            sa.Column("made_on", Day),
        ),
    )

    op.create_table(
        "form_joint",
        key(),
        link("form_id", "form", needed=True),
        whole("position", 0, 1000, needed=True),
        name_text("name", needed=True),
        link("default_sealing_id", "term"),
        sa.UniqueConstraint("form_id", "name"),
    )


def _castings() -> None:
    _add(
        "pour",
        (
            note("zone"),
            link("mix_id", "mix"),
            number("water_added_l", 0, 100_000),
            link("consistency_id", "term"),
            number("slump_mm", 0, 500),
            number("flow_mm", 0, 2000),
            note("cement_lot"),
            number("air_c", -50, 80),
            number("mix_c", -50, 80),
            number("humidity_share", 0, 1),
            note("crew"),
        ),
    )

    _add(
        "piece",
        (
            link("product_line_id", "product_line"),
            link("release_application_id", "term"),
            link("casting_process_id", "term"),
            link("orientation_id", "term"),
            link("curing_id", "term"),
            whole("lifts", 0, 1000),
            number("fill_s", 0, 1_000_000),
            number("strike_after_h", 0, 100_000),
            number("sealing_min", 0, 100_000),
            number("sealing_cost", 0, 1e9),
            note("show_faces"),
        ),
    )

    _add(
        "step",
        (
            whole("strokes", 0, 1_000_000),
            link("tool_id", "term"),
            link("applied_to_id", "term"),
            note("speed"),
            number("fill_share", 0, 1),
            whole("people", 0, 1000),
            word("certainty", CERTAINTIES),
            link("stop_rule_id", "term"),
        ),
    )


def _results() -> None:
    op.create_table(
        "outcome",
        key(),
        link("piece_id", "piece", needed=True),
        word("outcome", OUTCOMES),
        whole("eye_score", 1, 10),
        word("stage", STAGES),
        note(),
        *kept(),
    )

    op.create_table(
        "repair",
        key(),
        link("piece_id", "piece", needed=True),
        sa.Column("repaired_on", Day),
        number("minutes", 0, 100_000),
        link("filler_id", "term"),
        note(),
        *kept(),
    )

    _add(
        "reading",
        (link("reviews_id", "reading"),),
    )

    op.create_table(
        "verdict",
        key(),
        link("reading_id", "reading", needed=True),
        link("finish_target_id", "finish_target", needed=True),
        name_text("verdict", needed=True),
        note(),
        *kept(),
    )

    op.create_table(
        "brought_figure",
        key(),
        link("piece_id", "piece", needed=True),
        number("void_share", 0, 1, needed=True),
        number("face_area_mm2", 0),
        whole("void_count"),
        word("stage", STAGES),
        name_text("light"),
        number("smallest_counted_mm", 0),
        name_text("method_version"),
        number("joint_band_share", 0, 1),
        number("open_face_share", 0, 1),
        number("honeycomb_share", 0, 1),
        moment("created_at", needed=True),
        sa.UniqueConstraint("piece_id"),
    )


def _helpers() -> None:
    op.create_table(
        "draft",
        name_text("key", needed=True),
        sa.Column("content", sa.JSON, nullable=False),
        moment("changed_at", needed=True),
        sa.PrimaryKeyConstraint("key"),
    )

    op.create_table(
        "edit",
        key(),
        name_text("record_kind", needed=True),
        whole("record_id", 1, needed=True),
        whole("version", 1, needed=True),
        sa.Column("before", sa.JSON, nullable=False),
        moment("edited_at", needed=True),
    )
