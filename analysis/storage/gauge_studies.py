"""Studies of the gauge: the order is kept before anything is measured."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.checks import plain_text
from analysis.errors import InputError
from analysis.model.gauge import Cell, Measured, Study, StudyPlan
from analysis.storage.engine import reading as reading_from
from analysis.storage.engine import writing
from analysis.storage.photo_store import put
from analysis.storage.photos import photo_row, tidied
from analysis.storage.saving import insert, now, row_of, save_once, set_deleted
from analysis.storage.tables import GAUGE_MEASURE, GAUGE_STUDY

if TYPE_CHECKING:
    from analysis.model.log_views import Saved
    from analysis.model.photo import Photo
    from analysis.storage.engine import Log


def begin_study(log: Log, plan: StudyPlan, *, save_token: str) -> Saved:
    """Write the order down; nothing is measured yet."""
    for name in (*plan.people, *plan.lights):
        plain_text(name, "Each name of a study")

    def work(connection: sa.Connection) -> int:
        return insert(
            connection,
            GAUGE_STUDY,
            {
                "kind": plan.kind,
                "plan": asdict(plan),
                "drawn_at": now(),
                "created_at": now(),
            },
        )

    return save_once(log, save_token, "gauge_study", work)


def keep_measured(
    log: Log,
    study_id: int,
    measured: Measured,
    *,
    photo_bytes: bytes,
    photo: Photo,
    save_token: str,
) -> Saved:
    """Keep what one cell of a study gave, with its photo.

    Parameters
    ----------
    log : Log
    study_id : int
    measured : Measured
    photo_bytes : bytes
        The file, kept unchanged.
    photo : Photo
        The same, decoded.
    save_token : str

    Raises
    ------
    InputError
        The study is finished, or the cell was measured before.
    NotInLogError
        There is no such study.
    """

    def work(connection: sa.Connection) -> int:
        row = _row(connection, study_id)
        plan = unpack_study(row.plan)
        if row.finished_at is not None:
            msg = f"Study {study_id} is finished: begin another one."
            raise InputError(msg)
        place = plan.order.index(measured.cell)
        taken = sa.select(GAUGE_MEASURE.c.id).where(
            GAUGE_MEASURE.c.study_id == study_id, GAUGE_MEASURE.c.place == place
        )
        if connection.scalar(taken) is not None:
            msg = "This one was measured before: go on with the next."
            raise InputError(msg)
        put(log, photo_bytes, photo.sha256)
        return insert(
            connection,
            GAUGE_MEASURE,
            {
                "study_id": study_id,
                "place": place,
                "photo_id": photo_row(connection, photo, len(photo_bytes)),
                "share": measured.share,
                "share_low": measured.low,
                "share_high": measured.high,
                "smallest_share": measured.smallest_share,
                "method_version": measured.method_version,
                "detail": measured.detail,
                "measured_at": measured.measured_at,
            },
        )

    with tidied(log, photo.sha256):
        return save_once(log, save_token, "gauge_measure", work)


def finish_study(log: Log, study_id: int) -> None:
    """Close a study; what it says is read from what was measured."""
    with writing(log) as connection:
        _row(connection, study_id)
        connection.execute(
            sa.update(GAUGE_STUDY)
            .where(GAUGE_STUDY.c.id == study_id, GAUGE_STUDY.c.finished_at.is_(None))
            .values(finished_at=now(), version=GAUGE_STUDY.c.version + 1)
        )


def delete_study(log: Log, study_id: int) -> None:
    """Take a study out; nothing is erased."""
    set_deleted(log, GAUGE_STUDY, study_id, deleted=True)


def studies(log: Log, kind: str) -> tuple[Study, ...]:
    """Return the studies of a kind, latest first, without those taken out.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     studies(open_log(folder), "again")
    ()
    """
    query = (
        sa.select(GAUGE_STUDY)
        .where(GAUGE_STUDY.c.kind == kind, GAUGE_STUDY.c.deleted_at.is_(None))
        .order_by(GAUGE_STUDY.c.id.desc())
    )
    with reading_from(log) as connection:
        return tuple(_study(connection, row) for row in connection.execute(query).all())


def load_study(log: Log, study_id: int) -> Study:
    """Return a study.

    Raises
    ------
    NotInLogError
        There is no such study.
    """
    with reading_from(log) as connection:
        return _study(connection, _row(connection, study_id))


def _row(connection: sa.Connection, study_id: int) -> Any:  # noqa: ANN401 - rows carry any type
    query = sa.select(GAUGE_STUDY).where(
        GAUGE_STUDY.c.id == study_id, GAUGE_STUDY.c.deleted_at.is_(None)
    )
    return row_of(connection, query, GAUGE_STUDY, study_id)


def _study(connection: sa.Connection, row: Any) -> Study:  # noqa: ANN401 - rows carry any type
    plan = unpack_study(row.plan)
    rows = connection.execute(
        sa.select(GAUGE_MEASURE)
        .where(GAUGE_MEASURE.c.study_id == row.id)
        .order_by(GAUGE_MEASURE.c.id)
    )
    return Study(
        id=row.id,
        plan=plan,
        drawn_at=row.drawn_at,
        finished_at=row.finished_at,
        version=row.version,
        measured=tuple(
            Measured(
                cell=plan.order[one.place],
                share=one.share,
                low=one.share_low,
                high=one.share_high,
                smallest_share=one.smallest_share,
                method_version=one.method_version,
                detail=one.detail,
                measured_at=one.measured_at,
            )
            for one in rows
        ),
    )


def unpack_study(packed: dict[str, Any]) -> StudyPlan:
    """Return a plan again, as JSON held it.

    Examples
    --------
    >>> cells = [{"item": 1, "who": "a", "light": "", "turn": 0}]
    >>> packed = {"kind": "again", "items": [1, 2], "people": ["a", "b"]}
    >>> packed |= {"lights": [], "repeats": 1, "seed": 3, "order": cells}
    >>> unpack_study(packed).order[0].who
    'a'
    """
    return StudyPlan(
        kind=packed["kind"],
        items=tuple(packed["items"]),
        people=tuple(packed["people"]),
        lights=tuple(packed["lights"]),
        repeats=packed["repeats"],
        seed=packed["seed"],
        order=tuple(Cell(**one) for one in packed["order"]),
    )
