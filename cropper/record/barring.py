"""A version that may run nowhere, and why; or again, when ``why`` is empty."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """Kept as history like everything else: barring and allowing again are both rows."""

    version: str
    why: str
