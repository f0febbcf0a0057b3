"""Runs the steps on the connection that ``open_database`` hands over, in its transaction."""

from __future__ import annotations

from alembic import context

from endbell.store import account_tables  # noqa: F401  its tables belong to the same metadata
from endbell.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transaction_per_migration=False,
    render_as_batch=True,
)
context.run_migrations()
