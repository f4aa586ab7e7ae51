"""Alembic's entry: works on the connection it is handed."""

from __future__ import annotations

from alembic import context

from analysis.record.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
