"""Steps from each older state of the tables to the next, run when a log is opened."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from analysis.errors import NewerLogError
from analysis.storage.tables import METADATA

if TYPE_CHECKING:
    import sqlalchemy as sa


def _config() -> Config:
    """Return the settings that other projects keep in an ini file."""
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
    script = ScriptDirectory.from_config(_config())
    return tuple(step.revision for step in script.walk_revisions())[::-1]


def current_revision(connection: sa.Connection) -> str | None:
    """Return the state the tables are in, None for an empty database."""
    return MigrationContext.configure(connection).get_current_revision()


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
