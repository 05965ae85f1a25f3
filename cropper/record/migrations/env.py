"""Alembic's entry: every step runs on the connection, and in the transaction, it is handed."""

from __future__ import annotations

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
