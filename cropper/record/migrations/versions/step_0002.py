"""What came back: questions, counts and remarks."""

from __future__ import annotations

from sqlalchemy import Column, Text

from cropper.record.migrations.columns import kept

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables of what came back."""
    kept("question", "set_name")
    kept("tally", "set_name")
    kept("remark", "question", more=(Column("set_name", Text, nullable=False),))
