"""Steps from each older state of the tables to the next, run when a log is opened."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import NewerLogError
from analysis.storage.tables import METADATA

if TYPE_CHECKING:
    from alembic.config import Config

# Alembic and the steps are loaded only where a log has a step to go: nearly every log
# that is opened has none.
_AT = sa.table("alembic_version", sa.column("version_num"))


def _config() -> Config:
    """Return the settings that other projects keep in an ini file."""
    from alembic.config import Config  # noqa: PLC0415 - as above

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent))
    config.set_main_option("path_separator", "os")
    return config


def revisions() -> tuple[str, ...]:
    """Return every state of the tables, oldest first.

    Examples
    --------
    >>> revisions()[0]
    '0001'
    """
    steps = (Path(__file__).parent / "versions").glob("step_*.py")
    return tuple(sorted(step.name.split("_")[1] for step in steps))


def current_revision(connection: sa.Connection) -> str | None:
    """Return the state the tables are in, None for an empty database."""
    if not sa.inspect(connection).has_table(_AT.name):
        return None
    found: str | None = connection.execute(sa.select(_AT.c.version_num)).scalar()
    return found


def upgrade(connection: sa.Connection, target: str = "head") -> None:
    """Bring the tables up to date inside the caller's transaction.

    Raises
    ------
    NewerLogError
        The log was written by a newer version of the program.
    """
    current = current_revision(connection)
    known = revisions()
    if current is not None and current not in known:
        msg = (
            f"The log was written by a newer version of the program (its tables are "
            f"at {current}, this one knows {known[-1]}): update the program."
        )
        raise NewerLogError(msg)
    if current == known[-1]:
        return
    from alembic.runtime.environment import EnvironmentContext  # noqa: PLC0415 - as above
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - as above

    config = _config()
    script = ScriptDirectory.from_config(config)
    environment = EnvironmentContext(
        config,
        script,
        fn=lambda done, _: script._upgrade_revs(target, done),  # noqa: SLF001 - what alembic's own command calls
        destination_rev=target,
    )
    with environment:
        environment.configure(
            connection=connection, target_metadata=METADATA, transactional_ddl=True
        )
        environment.run_migrations()
