"""A run: one deliverable at one outlet for a stretch of time. And the deliverable, as recorded."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from cropper.errors import MisuseError
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.spans import Span, instant, sooner


class RunState(StrEnum):
    """How far a run has come."""

    PLANNED = "planned"
    LIVE = "live"
    ENDED = "ended"
    WITHDRAWN = "withdrawn"
    """Called off or taken back: it counts for nothing any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A finished file as the record knows it: by its content, whatever it is called now.

    ``crop`` is (x0, y0, x1, y1) in pixels of the upright master. ``people`` are those in the
    picture, as the job's words name them.
    """

    sha256: str
    file: str
    version: str
    destination: str
    master_sha256: str
    set: str | None = None
    crop: tuple[int, int, int, int] = (0, 0, 0, 0)
    straighten_deg: float = 0.0
    width: int = 0
    height: int = 0
    people: tuple[str, ...] = ()
    job: str = ""
    recorded_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Where a piece runs, and when. ``id`` names the run through all its corrections.

    ``address``, ``issue`` and ``page`` say where in the outlet; ``who`` recorded or agreed it.
    ``excused`` are the clashes it was recorded in spite of: rule, and what stood against it.
    ``revision`` counts corrections from 0.
    """

    id: str
    piece: str
    version: str
    outlet: str
    span: Span
    set: str | None = None
    destination: str = ""
    address: str = ""
    issue: str = ""
    page: str = ""
    who: str = ""
    note: str = ""
    state: RunState = RunState.LIVE
    zone: str = "UTC"
    excused: tuple[tuple[str, str], ...] = ()
    revision: int = 0
    recorded_at: datetime | None = None

    def __post_init__(self) -> None:
        if not (self.version and self.outlet):
            raise MisuseError(
                "a run is of a version, at an outlet", way_out="Name both: FILE --at OUTLET"
            )
        if self.recorded_at is not None:
            object.__setattr__(self, "recorded_at", instant(self.recorded_at))

    @property
    def counts(self) -> bool:
        """Whether it takes up its place: a withdrawn run does not."""
        return self.state is not RunState.WITHDRAWN

    def seen_in(self, outlet: Outlet) -> Span:
        """When people meet it there: in a stream only for the window in which it stands out."""
        if outlet.kind is OutletKind.PLACED:
            return self.span
        faded = self.span.start + timedelta(days=outlet.window_days)
        return Span(self.span.start, sooner(self.span.until, faded))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRules:
    """A set of rivals and the rest that must lie between two of them before one audience."""

    name: str
    versions: tuple[str, ...] = field(default=())
    rest_days: int = 0

    def __post_init__(self) -> None:
        if self.rest_days < 0:
            raise MisuseError(
                f"{self.rest_days} days are no rest", way_out="Give 0 or more days between rivals"
            )

    @property
    def rest(self) -> timedelta:
        """The rest as a length of time."""
        return timedelta(days=self.rest_days)
