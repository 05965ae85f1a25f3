"""What a person in the picture has agreed to.

The four states are those of the PLUS "Model Release Status" vocabulary, which IPTC photo metadata
uses (MR-NON, MR-NAP, MR-UMR, MR-LMR) [IPTC Photo Metadata Standard]. Whether a release is needed,
and whether one is enough, differs by law and contract: the photographer confirms it; this only
reminds.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from cropper.errors import MisuseError
from cropper.publication.spans import Span, instant


class ReleaseStatus(StrEnum):
    """PLUS codes."""

    NONE = "MR-NON"
    NOT_APPLICABLE = "MR-NAP"
    UNLIMITED = "MR-UMR"
    LIMITED = "MR-LMR"


STATUS_WORDS = {
    ReleaseStatus.NONE: "no release",
    ReleaseStatus.NOT_APPLICABLE: "no release needed",
    ReleaseStatus.UNLIMITED: "released without limits",
    ReleaseStatus.LIMITED: "released within limits",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """One person's release. ``outlets`` limit where (empty: the scope's words alone say).

    A limited release is enough for a commercial run only at one of its ``outlets``, while it
    lasts; its ``scope`` in words is for people to read.
    """

    id: str
    person: str
    status: ReleaseStatus
    signed_at: datetime | None = None
    until: datetime | None = None
    scope: str = ""
    outlets: tuple[str, ...] = ()
    note: str = ""
    recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        if not self.person.strip():
            raise MisuseError("a release is somebody's", way_out="Name the person")
        for name in ("signed_at", "until", "recorded_at"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, instant(value))

    def reaches(self, outlet: str) -> bool:
        """Whether it covers a commercial run at ``outlet``, time aside."""
        if self.status is ReleaseStatus.LIMITED:
            return outlet in self.outlets
        return self.status is not ReleaseStatus.NONE

    def enough_for(self, outlet: str, span: Span) -> bool:
        """Whether it covers a commercial run at ``outlet`` for the whole of ``span``."""
        lasts = self.until is None or (span.until is not None and span.until <= self.until)
        return self.reaches(outlet) and lasts
