"""The log's tables as they are today. `migrations` leads here from any older state.

They are one list, however long: they refer to each other, and whoever asks `METADATA`
for all of them (a new log, a copy of a whole log, a restore) must not miss one because
its room was not imported.
"""

from __future__ import annotations

import sqlalchemy as sa

from analysis.model.batch_marks import BATCH_MARKS
from analysis.model.folder import OUTCOMES
from analysis.model.gauge import STUDY_KINDS, USUAL_BASES
from analysis.model.photo import SCALE_METHODS
from analysis.model.waiting import STATES as WAITING_STATES
from analysis.model.waiting import WHYS
from analysis.storage.columns import (
    Day,
    UtcTime,
    Words,
    columns_of,
    kept,
    key,
    link,
    moment,
    name_text,
    note,
    number,
    unique_while_live,
    whole,
    word,
)
from analysis.vocabulary import (
    FACE_KINDS,
    STAGES,
)

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
METADATA = sa.MetaData(naming_convention=NAMES)


TERM = sa.Table(
    "term",
    METADATA,
    key(),
    name_text("vocabulary", needed=True),
    name_text("name", needed=True),
    link("merged_into_id", "term"),
    moment("created_at", needed=True),
    sa.UniqueConstraint("vocabulary", "name"),
)

TERM_CHANGE = sa.Table(
    "term_change",
    METADATA,
    key(),
    link("term_id", "term", needed=True),
    word("change", ("added", "renamed", "merged", "parted"), needed=True),
    note("before"),
    note("after"),
    moment("changed_at", needed=True),
)

PRODUCT_LINE = sa.Table(
    "product_line",
    METADATA,
    key(),
    *columns_of("product_line"),
    *kept(),
    unique_while_live("product_line", "name"),
)

FINISH_TARGET = sa.Table(
    "finish_target",
    METADATA,
    key(),
    *columns_of("finish_target"),
    *kept(),
    sa.CheckConstraint("low_share <= high_share", name="band"),
)

MIX = sa.Table(
    "mix",
    METADATA,
    key(),
    *columns_of("mix"),
    *kept(),
    unique_while_live("mix", "name"),
)

MIX_PART = sa.Table(
    "mix_part",
    METADATA,
    key(),
    link("mix_id", "mix", needed=True),
    whole("position", 0, 1000, needed=True),
    *columns_of("mix_part"),
)

FORM = sa.Table(
    "form",
    METADATA,
    key(),
    *columns_of("form"),
    *kept(),
    unique_while_live("form", "name"),
)

FORM_JOINT = sa.Table(
    "form_joint",
    METADATA,
    key(),
    link("form_id", "form", needed=True),
    whole("position", 0, 1000, needed=True),
    *columns_of("form_joint"),
    sa.UniqueConstraint("form_id", "name"),
)

FORM_CARE = sa.Table(
    "form_care",
    METADATA,
    key(),
    link("form_id", "form", needed=True),
    *columns_of("form_care"),
    *kept(),
)

FORM_REMINDER = sa.Table(
    "form_reminder",
    METADATA,
    key(),
    link("form_id", "form", needed=True),
    *columns_of("form_reminder"),
    *kept(),
)

PHOTO_RECIPE = sa.Table(
    "photo_recipe",
    METADATA,
    key(),
    link("form_id", "form", needed=True),
    *columns_of("photo_recipe"),
    *kept(),
    unique_while_live("photo_recipe", "form_id", "face_name"),
)

POUR = sa.Table(
    "pour",
    METADATA,
    key(),
    *columns_of("pour"),
    *kept(),
    unique_while_live("pour", "name"),
)

PIECE = sa.Table(
    "piece",
    METADATA,
    key(),
    link("pour_id", "pour", needed=True),
    *columns_of("piece"),
    *kept(),
    unique_while_live("piece", "name"),
)

PIECE_JOINT = sa.Table(
    "piece_joint",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    whole("position", 0, 1000, needed=True),
    *columns_of("joint"),
    sa.UniqueConstraint("piece_id", "joint"),
)

STEP = sa.Table(
    "step",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    whole("position", 0, 1000, needed=True),
    *columns_of("step"),
    sa.UniqueConstraint("piece_id", "position"),
)

OUTCOME = sa.Table(
    "outcome",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    *columns_of("outcome"),
    *kept(),
)

REPAIR = sa.Table(
    "repair",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    *columns_of("repair"),
    *kept(),
)

HAND_FIGURES = sa.Table(
    "hand_figures",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    *columns_of("hand_figures"),
    *kept(),
)

SEEN_MARK = sa.Table(
    "seen_mark",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    *columns_of("seen_mark"),
    *kept(),
)

PHOTO = sa.Table(
    "photo",
    METADATA,
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

PHOTO_USE = sa.Table(
    "photo_use",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    link("photo_id", "photo", needed=True),
    *columns_of("photo"),
    moment("created_at", needed=True),
    moment("deleted_at"),
    whole("version", 1, needed=True, default=1),
    sa.Index(
        "uq_photo_use",
        "piece_id",
        "photo_id",
        "purpose",
        sa.text("coalesce(stage, '')"),
        sa.text("coalesce(surface_state, '')"),
        sa.text("coalesce(set_up_id, 0)"),
        sa.text("coalesce(age_h, -1)"),
        unique=True,
    ),
)

READING = sa.Table(
    "reading",
    METADATA,
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
    link("reviews_id", "reading"),
    sa.Column("second_light", sa.JSON),
    link("second_photo_id", "photo"),
    number("usual_share_low", 0, 1),
    number("usual_share_high", 0, 1),
    link("usual_spread_id", "usual_spread"),
    number("joint_band_low", 0, 1),
    number("joint_band_high", 0, 1),
    number("open_face_low", 0, 1),
    number("open_face_high", 0, 1),
    number("honeycomb_low", 0, 1),
    number("honeycomb_high", 0, 1),
    number("joint_length_mm", 0),
    number("sand_length_mm", 0),
    number("fin_length_mm", 0),
    number("arris_loss_mm2_per_m", 0),
    word("face_kind_asked", FACE_KINDS),
    number("pitch_mm_asked", 0, 1000),
    number("depth_mm_asked", 0, 1000),
    sa.CheckConstraint("void_share_low <= void_share_high", name="void_share_order"),
    sa.CheckConstraint(
        "(mm_per_px IS NULL) = (scale_method IS NULL) "
        "AND (mm_per_px IS NULL) = (scale_uncertainty IS NULL)",
        name="scale_whole",
    ),
)

VOID_PACK = sa.Table(
    "void_pack",
    METADATA,
    sa.Column("reading_id", sa.Integer, sa.ForeignKey("reading.id"), primary_key=True),
    whole("layout", 1, needed=True),
    whole("counted", needed=True),
    whole("rejected", needed=True),
    sa.Column("areas", sa.LargeBinary, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
)

REVIEW = sa.Table(
    "review",
    METADATA,
    key(),
    link("reading_id", "reading", needed=True),
    name_text("signed_by", needed=True),
    moment("reviewed_at", needed=True),
    sa.Column("marks", sa.JSON, nullable=False),
    sa.UniqueConstraint("reading_id"),
)

POINT_COUNT = sa.Table(
    "point_count",
    METADATA,
    key(),
    link("reading_id", "reading", needed=True),
    name_text("who", needed=True),
    sa.Column("plan", sa.JSON, nullable=False),
    note("answers"),
    moment("drawn_at", needed=True),
    moment("finished_at"),
    number("share", 0, 1),
    number("share_low", 0, 1),
    number("share_high", 0, 1),
    *kept(),
)

GAUGE_STUDY = sa.Table(
    "gauge_study",
    METADATA,
    key(),
    word("kind", STUDY_KINDS, needed=True),
    sa.Column("plan", sa.JSON, nullable=False),
    moment("drawn_at", needed=True),
    moment("finished_at"),
    *kept(),
)

GAUGE_MEASURE = sa.Table(
    "gauge_measure",
    METADATA,
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

# How readings of one face spread in a set-up; a row never changes, so that a reading
# keeps what it was told.
USUAL_SPREAD = sa.Table(
    "usual_spread",
    METADATA,
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

VERDICT = sa.Table(
    "verdict",
    METADATA,
    key(),
    link("reading_id", "reading", needed=True),
    link("finish_target_id", "finish_target", needed=True),
    name_text("verdict", needed=True),
    note(),
    *kept(),
)

REFERENCE_PIECE = sa.Table(
    "reference_piece",
    METADATA,
    key(),
    link("piece_id", "piece", needed=True),
    link("product_line_id", "product_line"),
    sa.Column("approved_on", Day),
    note(),
    *kept(),
)

BROUGHT_FIGURE = sa.Table(
    "brought_figure",
    METADATA,
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
    name_text("set_up"),
    number("joint_length_mm", 0),
    number("sand_length_mm", 0),
    number("fin_length_mm", 0),
    number("arris_loss_mm2_per_m", 0),
    sa.UniqueConstraint("piece_id"),
)

BATCH_MARK = sa.Table(
    "batch_mark",
    METADATA,
    key(),
    word("kind", BATCH_MARKS, needed=True),
    sa.Column("from_day", Day, nullable=False),
    sa.Column("to_day", Day),
    link("product_line_id", "product_line"),
    link("form_id", "form"),
    note(),
    *kept(),
    sa.CheckConstraint("from_day <= to_day", name="days"),
)

DRAFT = sa.Table(
    "draft",
    METADATA,
    name_text("key", needed=True),
    sa.Column("content", sa.JSON, nullable=False),
    moment("changed_at", needed=True),
    sa.PrimaryKeyConstraint("key"),
)

LOG_MARK = sa.Table(
    "log_mark",
    METADATA,
    key(),
    name_text("mark", needed=True),
    moment("created_at", needed=True),
)

WAITING = sa.Table(
    "waiting_photo",
    METADATA,
    key(),
    link("photo_id", "photo", needed=True),
    link("piece_id", "piece"),
    word("state", WAITING_STATES, needed=True),
    word("why", WHYS, needed=True),
    sa.Column("asked", sa.JSON, nullable=False),
    note("problem"),
    link("reading_id", "reading"),
    moment("added_at", needed=True),
    moment("changed_at", needed=True),
    sa.Index("uq_waiting_photo", "photo_id", unique=True),
)

LEASE = sa.Table(
    "lease",
    METADATA,
    name_text("work", needed=True),
    name_text("holder", needed=True),
    moment("until", needed=True),
    sa.PrimaryKeyConstraint("work"),
)

FOLDER_RUN = sa.Table(
    "folder_run",
    METADATA,
    key(),
    note("folder"),
    whole("photos", needed=True),
    moment("started_at", needed=True),
    moment("changed_at", needed=True),
    moment("ended_at"),
    sa.UniqueConstraint("folder"),
)

FOLDER_PHOTO = sa.Table(
    "folder_photo",
    METADATA,
    key(),
    link("folder_run_id", "folder_run", needed=True),
    note("path"),
    sa.Column("byte_count", sa.BigInteger, nullable=False),
    sa.Column("changed_ns", sa.BigInteger, nullable=False),
    word("state", OUTCOMES, needed=True),
    note("problem"),
    link("reading_id", "reading"),
    note("asked"),
    moment("told_at", needed=True),
    sa.UniqueConstraint("folder_run_id", "path"),
)

EDIT = sa.Table(
    "edit",
    METADATA,
    key(),
    name_text("record_kind", needed=True),
    whole("record_id", 1, needed=True),
    whole("version", 1, needed=True),
    sa.Column("before", sa.JSON, nullable=False),
    moment("edited_at", needed=True),
)

SAVE = sa.Table(
    "save",
    METADATA,
    name_text("token", needed=True),
    name_text("record_kind", needed=True),
    whole("record_id", 1, needed=True),
    moment("saved_at", needed=True),
    sa.PrimaryKeyConstraint("token"),
)
