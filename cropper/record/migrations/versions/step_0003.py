"""Erasures. Licences may say what is asked of posts elsewhere, and may be called off.

The latter two stand in the licence's body, where older programs would pass over them and take the
licence for something else: the step keeps them from it.
"""

from __future__ import annotations

from cropper.record.migrations.columns import kept

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table of what was erased."""
    kept("erasure")
