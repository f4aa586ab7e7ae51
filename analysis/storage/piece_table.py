"""One row per piece, for comparing and following.

Photos of a piece are pooled by area. Representative photos only, one stage, one reading
per photo: a person's review before the machine's, else the latest. With a common floor,
counts and shares are taken again from the stored voids at the largest smallest-counted
size in the set, so that a sharper photo does not count more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.checks import one_of
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log_views import PieceRow
from analysis.model.vocabulary import MIXED, STAGES
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.storage.castings import castings
from analysis.storage.engine import reading
from analysis.storage.records import select
from analysis.storage.tables import BROUGHT_FIGURE, PHOTO_USE, READING, VOID
from analysis.storage.terms import term_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from analysis.model.log_views import Casting
    from analysis.storage.engine import Log

PLAIN_LIGHT = "plain"


def piece_table(
    log: Log, *, stage: str | None = None, common_floor: bool = False
) -> tuple[PieceRow, ...]:
    """Return every piece that is not hidden, earliest casting first.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest stage, which its
        row names.
    common_floor : bool
        Count every piece from the largest smallest-counted size in the set. Pieces
        without a scale keep their own figures.

    Returns
    -------
    tuple of PieceRow
        Pieces without a reading have their settings and None for the figures.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     piece_table(open_log(folder))
    ()
    """
    if stage is not None:
        one_of(stage, "Stage", STAGES)
    with reading(log) as connection:
        pieces = castings(connection)[::-1]
        forms = {form.id: form for form in select(connection, Form)}
        lines = {line.id: line.name for line in select(connection, ProductLine)}
        mixes = {mix.id: mix.name for mix in select(connection, Mix)}
        chosen = _one_stage(_readings(connection), stage)
        floor = _floor(chosen) if common_floor else None
        if floor is not None:
            chosen = _from(connection, chosen, floor)
        brought = _brought(connection, stage)
        words = term_names(connection)
    return tuple(
        _row(
            casting,
            forms.get(casting.piece.form_id or 0),
            {
                "product_line": lines.get(casting.piece.product_line_id or 0),
                "mix": mixes.get(casting.pour.mix_id or 0),
            },
            _pooled(chosen[key], words) if key in chosen else brought.get(key, {}),
        )
        for casting in pieces
        for key in [casting.piece.id or 0]
    )


def outcomes_of_pieces(
    log: Log, *, stage: str | None = None
) -> dict[str, dict[str, object]]:
    """Return what became of each piece, beyond its row of the table, by its name.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        As for `piece_table`.

    Returns
    -------
    dict of str to dict
        ``largest_void_mm`` over the photos; ``repair_minutes`` in all, 0 for a piece
        that was judged and not repaired; ``second``, ``"yes"`` or ``"no"`` by the
        latest judgement. Only what is known.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     outcomes_of_pieces(open_log(folder))
    {}
    """
    with reading(log) as connection:
        names = {one.piece.id: one.piece.name for one in castings(connection)}
        chosen = _one_stage(_readings(connection), stage)
        repairs = select(connection, Repair)
        judged = sorted(select(connection, Outcome), key=lambda one: one.id or 0)
    found: defaultdict[str, dict[str, object]] = defaultdict(dict)
    for piece_id, its in chosen.items():
        sizes = [one["largest_void_mm"] for one in its]
        if piece_id in names and None not in sizes:
            found[names[piece_id]]["largest_void_mm"] = max(sizes)
    for one in judged:
        if one.outcome is not None and one.piece_id in names:
            mine = found[names[one.piece_id]]
            mine["second"] = "yes" if one.outcome == "second" else "no"
    patched = {one.piece_id for one in judged if one.outcome == "patched"}
    for one in judged:
        if one.outcome is not None and one.piece_id in names.keys() - patched:
            found[names[one.piece_id]]["repair_minutes"] = 0.0
    minutes: defaultdict[int, list[float | None]] = defaultdict(list)
    for repair in repairs:
        minutes[repair.piece_id].append(repair.minutes)
    for piece_id, parts in minutes.items():
        if piece_id in names:
            known = [part for part in parts if part is not None]
            whole = sum(known) if len(known) == len(parts) else None
            found[names[piece_id]]["repair_minutes"] = whole
    return dict(found)


def _readings(connection: sa.Connection) -> list[dict[str, Any]]:
    """Return one reading per photo and stage: reviewed first, else the latest."""
    of_photo = (PHOTO_USE.c.piece_id, PHOTO_USE.c.photo_id, PHOTO_USE.c.stage)
    rank = sa.func.row_number().over(
        partition_by=of_photo,
        order_by=(
            READING.c.reviews_id.is_(None),
            READING.c.measured_at.desc(),
            READING.c.id.desc(),
        ),
    )
    ranked = (
        sa.select(
            READING,
            PHOTO_USE.c.piece_id,
            PHOTO_USE.c.stage,
            PHOTO_USE.c.surface_state,
            PHOTO_USE.c.set_up_id,
            rank.label("rank"),
        )
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .where(READING.c.deleted_at.is_(None), PHOTO_USE.c.purpose == "representative")
        .subquery()
    )
    query = sa.select(ranked).where(ranked.c.rank == 1).order_by(ranked.c.id)
    return [dict(row._mapping) for row in connection.execute(query)]  # noqa: SLF001 - its public name


def _one_stage(
    readings: Iterable[dict[str, Any]], stage: str | None
) -> dict[int, list[dict[str, Any]]]:
    """Group by piece, each at one stage: the one asked for, else its earliest."""
    of_piece: defaultdict[int, list[dict[str, Any]]] = defaultdict(list)
    for one in readings:
        of_piece[one["piece_id"]].append(one)
    chosen = {}
    for piece_id, its in of_piece.items():
        wanted = stage or min((one["stage"] for one in its), key=_age)
        kept = [one for one in its if one["stage"] == wanted]
        if kept:
            chosen[piece_id] = _comparable(kept)
    return chosen


def _age(stage: str | None) -> int:
    """Return a stage's place in a piece's life; unknown comes last."""
    return STAGES.index(stage) if stage in STAGES else len(STAGES)


def _comparable(readings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out photos without a scale, or of a wet face, where better ones are."""
    with_scale = [one for one in readings if one["mm_per_px"] is not None] or readings
    return [
        one for one in with_scale if one["surface_state"] not in {"damp", "wet"}
    ] or with_scale


def _floor(chosen: Mapping[int, list[dict[str, Any]]]) -> float | None:
    """Return the largest smallest-counted size, mm."""
    sizes = (one["smallest_counted_mm"] for its in chosen.values() for one in its)
    return max((size for size in sizes if size is not None), default=None)


def _from(
    connection: sa.Connection,
    chosen: Mapping[int, list[dict[str, Any]]],
    floor: float,
) -> dict[int, list[dict[str, Any]]]:
    """Count again from the stored voids at `floor` mm and above.

    Shares of the joint band and the open face need the face again and are left out
    where the floor moved.
    """
    smallest_mm2 = math.pi / 4 * floor**2 * (1 - 1e-9)
    area_mm2 = VOID.c.area_px * READING.c.mm_per_px * READING.c.mm_per_px
    query = (
        sa.select(
            VOID.c.reading_id,
            sa.func.count().label("count"),
            sa.func.sum(VOID.c.area_px).label("area_px"),
        )
        .join(READING, VOID.c.reading_id == READING.c.id)
        .where(VOID.c.rejected == 0, area_mm2 >= smallest_mm2)
        .group_by(VOID.c.reading_id)
    )
    counted = {row.reading_id: row for row in connection.execute(query)}

    def again(one: dict[str, Any]) -> dict[str, Any]:
        size = one["smallest_counted_mm"]
        if size is None or size >= floor:
            return one
        row = counted.get(one["id"])
        return one | {
            "void_area_px": 0.0 if row is None else row.area_px,
            "void_count": 0 if row is None else row[1],
            "smallest_counted_mm": floor,
            "joint_band_share": None,
            "open_face_share": None,
        }

    return {key: [again(one) for one in its] for key, its in chosen.items()}


def _pooled(readings: list[dict[str, Any]], words: Mapping[int, str]) -> dict[str, Any]:
    """Return a piece's figures from its photos, weighted by face area."""
    weights = [
        one["face_area_px"] if one["face_area_mm2"] is None else one["face_area_mm2"]
        for one in readings
    ]
    shares = [
        one["void_area_px"] / one["face_area_px"] if one["face_area_px"] else None
        for one in readings
    ]
    sizes = [one["smallest_counted_mm"] for one in readings]
    has_scale = all(one["face_area_mm2"] is not None for one in readings)
    return {
        "void_area_percent": _weighted(shares, weights),
        "face_area_mm2": sum(weights) if has_scale else None,
        "void_count": sum(one["void_count"] for one in readings),
        "stage": readings[0]["stage"],
        "light": _same(
            "+".join(sorted(one["light_flags"])) or PLAIN_LIGHT for one in readings
        ),
        "set_up": _same(words.get(one["set_up_id"]) for one in readings),
        "smallest_counted_mm": None if None in sizes else max(sizes),
        "method_version": _same(one["method_version"] for one in readings),
        "reviewed": _same(
            "no" if one["reviews_id"] is None else "yes" for one in readings
        ),
        **{
            f"{name}_percent": _weighted(
                [one[f"{name}_share"] for one in readings], weights
            )
            for name in ("joint_band", "open_face", "honeycomb")
        },
    }


def _weighted(shares: Iterable[float | None], weights: Iterable[float]) -> float | None:
    """Return the mean of the known shares by weight, in percent."""
    known = [
        (share, weight)
        for share, weight in zip(shares, weights, strict=True)
        if share is not None
    ]
    total = sum(weight for _, weight in known)
    if not total:
        return None
    return 100 * sum(share * weight for share, weight in known) / total


def _same(words: Iterable[str | None]) -> str | None:
    """Return the word they share, or mixed."""
    found = set(words)
    return found.pop() if len(found) == 1 else MIXED


def _brought(connection: sa.Connection, stage: str | None) -> dict[int, dict[str, Any]]:
    """Return figures that came with an imported table, by piece."""
    query = sa.select(BROUGHT_FIGURE)
    if stage is not None:
        query = query.where(BROUGHT_FIGURE.c.stage == stage)
    return {
        row.piece_id: {
            "void_area_percent": _percent(row.void_share),
            "face_area_mm2": row.face_area_mm2,
            "void_count": row.void_count,
            "stage": row.stage,
            "light": row.light,
            "set_up": row.set_up,
            "smallest_counted_mm": row.smallest_counted_mm,
            "method_version": row.method_version,
            "joint_band_percent": _percent(row.joint_band_share),
            "open_face_percent": _percent(row.open_face_share),
            "honeycomb_percent": _percent(row.honeycomb_share),
        }
        for row in connection.execute(query)
    }


def _percent(share: float | None) -> float | None:
    """Return a share in percent; 15 digits undo the division on the way in."""
    return None if share is None else float(f"{100 * share:.15g}")


def _row(
    casting: Casting,
    form: Form | None,
    names: Mapping[str, Any],
    figures: Mapping[str, Any],
) -> PieceRow:
    """Put a piece's row together."""
    piece, pour = casting.piece, casting.pour
    return PieceRow(
        piece=piece.name,
        pour=pour.name,
        cast_on=pour.cast_on,
        form=None if form is None else form.name,
        form_type=None if form is None else form.form_type,
        form_use=casting.form_use,
        joint_sealing=piece.joint_sealing,
        release_agent=piece.release_agent,
        vibration_method=piece.vibration_method,
        vibration_s=piece.vibration_s,
        face_material=None if form is None else form.face_material,
        gloss=None if form is None else form.gloss,
        consistency=pour.consistency,
        leak=piece.leak,
        release_application=piece.release_application,
        casting_process=piece.casting_process,
        orientation=piece.orientation,
        curing=piece.curing,
        lifts=piece.lifts,
        strike_after_h=piece.strike_after_h,
        air_c=pour.air_c,
        mix_c=pour.mix_c,
        humidity_percent=_percent(pour.humidity_share),
        water_added_l=pour.water_added_l,
        note=piece.note or None,
        **names,
        **figures,
    )
