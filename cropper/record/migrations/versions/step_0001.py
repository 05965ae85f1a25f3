"""Outlets, pieces, runs, licences, releases, sets and barred versions."""

from __future__ import annotations

from alembic import op
from sqlalchemy import Column

from cropper.record.migrations.columns import instant, kept

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables of what runs where."""
    kept("outlet")
    kept("piece", "version", "set_name", "master_sha256")
    kept(
        "run",
        "piece",
        "version",
        "set_name",
        "outlet",
        more=(Column("start", instant(), nullable=False), Column("until", instant())),
    )
    op.create_index("ix_run_start_until", "run", ["start", "until"])
    kept("licence", "version", "set_name", "outlet")
    kept("release")
    kept("set_rules")
    kept("barred")
