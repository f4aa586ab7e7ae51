"""Counts of points: the lot is kept before the first tap, each answer as it comes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.checks import named, plain_text
from analysis.errors import ConflictError, InputError
from analysis.model.point_count import (
    NOT_YET,
    CountField,
    CountPlan,
    PointCount,
    Stratum,
    checked_answers,
)
from analysis.storage.engine import reading as reading_from
from analysis.storage.engine import writing
from analysis.storage.saving import insert, now, row_of, save_once, set_deleted
from analysis.storage.tables import POINT_COUNT

if TYPE_CHECKING:
    from analysis.model.log_views import Saved
    from analysis.model.point_count import CountFigure
    from analysis.storage.engine import Log


def begin_count(
    log: Log, *, reading_id: int, who: str, plan: CountPlan, save_token: str
) -> Saved:
    """Write the lot down; nothing is answered yet.

    Parameters
    ----------
    log : Log
    reading_id : int
        The reading beside which the face is counted.
    who : str
        A name or a word for whoever counts.
    plan : CountPlan
    save_token : str
        Made once per form shown.

    Raises
    ------
    InputError
        Nobody is named.
    NotInLogError
        There is no such reading.
    """
    named(who, "Whoever counts")
    plain_text(who, "Whoever counts")

    def work(connection: sa.Connection) -> int:
        return insert(
            connection,
            POINT_COUNT,
            {
                "reading_id": reading_id,
                "who": who.strip(),
                "plan": pack_plan(plan),
                "answers": NOT_YET * plan.point_count,
                "drawn_at": now(),
                "created_at": now(),
            },
        )

    return save_once(log, save_token, "point_count", work)


def keep_answers(log: Log, count: PointCount, answers: str) -> int:
    """Keep what was tapped so far; return the count's new version.

    Raises
    ------
    ConflictError
        It was counted on elsewhere since.
    InputError
        The count is finished, or the answers are of another one.
    """
    return _changed(log, count, answers=checked_answers(answers, count.plan))


def finish_count(log: Log, count: PointCount, figure: CountFigure) -> int:
    """Close a count with its figure; return its new version.

    Raises
    ------
    ConflictError
        It was counted on elsewhere since.
    InputError
        It was finished before.
    """
    return _changed(
        log,
        count,
        finished_at=now(),
        share=figure.share,
        share_low=figure.low,
        share_high=figure.high,
    )


def _changed(log: Log, count: PointCount, **values: object) -> int:
    with writing(log) as connection:
        query = sa.select(POINT_COUNT.c.version, POINT_COUNT.c.finished_at).where(
            POINT_COUNT.c.id == count.id, POINT_COUNT.c.deleted_at.is_(None)
        )
        row = row_of(connection, query, POINT_COUNT, count.id)
        if row.finished_at is not None:
            msg = f"Point count {count.id} is finished: begin another one."
            raise InputError(msg)
        if row.version != count.version:
            msg = (
                f"Point count {count.id} was gone on with elsewhere: open it again, "
                "then count on."
            )
            raise ConflictError(msg, stored=row.version, given=count)
        version: int = row.version + 1
        connection.execute(
            sa.update(POINT_COUNT)
            .where(POINT_COUNT.c.id == count.id)
            .values(version=version, **values)
        )
    return version


def load_count(log: Log, count_id: int) -> PointCount:
    """Return a count.

    Raises
    ------
    NotInLogError
        There is no such count.
    """
    query = sa.select(POINT_COUNT).where(POINT_COUNT.c.id == count_id)
    with reading_from(log) as connection:
        return _count(row_of(connection, query, POINT_COUNT, count_id))


def counts_of(log: Log, reading_id: int) -> tuple[PointCount, ...]:
    """Return the counts beside a reading, latest first, without those taken out.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     counts_of(open_log(folder), 1)
    ()
    """
    query = (
        sa.select(POINT_COUNT)
        .where(
            POINT_COUNT.c.reading_id == reading_id, POINT_COUNT.c.deleted_at.is_(None)
        )
        .order_by(POINT_COUNT.c.id.desc())
    )
    with reading_from(log) as connection:
        return tuple(_count(row) for row in connection.execute(query))


def delete_count(log: Log, count_id: int) -> None:
    """Take a count out; nothing is erased."""
    set_deleted(log, POINT_COUNT, count_id, deleted=True)


def _count(row: Any) -> PointCount:  # noqa: ANN401 - rows carry any type
    return PointCount(
        id=row.id,
        reading_id=row.reading_id,
        who=row.who,
        plan=unpack_plan(row.plan),
        answers=row.answers,
        drawn_at=row.drawn_at,
        finished_at=row.finished_at,
        version=row.version,
    )


def pack_plan(plan: CountPlan) -> dict[str, Any]:
    """Return a plan as JSON holds it.

    Examples
    --------
    >>> part = Stratum(name="face", weight=1, spacing_px=2, fields_to_draw_from=3)
    >>> field = CountField(stratum=0, points_px=[[0, 1]])
    >>> plan = CountPlan(
    ...     kind="even", seed=5, strata=(part,), fields=(field,), void_px2=0
    ... )
    >>> unpack_plan(pack_plan(plan)).seed
    5
    """
    return {
        "kind": plan.kind,
        "seed": plan.seed,
        "void_px2": plan.void_px2,
        "strata": [
            {
                "name": part.name,
                "weight": part.weight,
                "spacing_px": part.spacing_px,
                "fields_to_draw_from": part.fields_to_draw_from,
            }
            for part in plan.strata
        ],
        "fields": [
            {"stratum": field.stratum, "points_px": field.points_px.tolist()}
            for field in plan.fields
        ],
    }


def unpack_plan(packed: dict[str, Any]) -> CountPlan:
    """Return the plan again."""
    return CountPlan(
        kind=packed["kind"],
        seed=packed["seed"],
        void_px2=packed["void_px2"],
        strata=tuple(Stratum(**part) for part in packed["strata"]),
        fields=tuple(CountField(**field) for field in packed["fields"]),
    )
