"""What the page may ask, checked once: untrusted JSON becomes one of these and is never a dict."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from cropper.geometry import Extent, Point
from cropper.job.adjusting import Anchor, Drawn
from cropper.job.approving import LONGEST_NOTE
from cropper.job.plan import HandMarks

Coordinate = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
Place = tuple[Coordinate, Coordinate]
Number = Annotated[int, Field(ge=1, le=10_000)]


class Asked(BaseModel):
    """The base of all: nothing beside what is known is taken."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Deed(Asked):
    """Something that changes the plan, on top of the revision that the page showed."""

    revision: Annotated[str, Field(max_length=64)]


class OnOne(Deed):
    """A deed on one destination of one master."""

    version: Name
    destination: Name


class Choose(OnOne):
    """One of the proposals, by its place (0 is best)."""

    index: Annotated[int, Field(ge=0, le=100)]


class Frame(Asked):
    """A drawn frame: left, top, right, bottom; what stays put; how far it is turned."""

    box: tuple[Coordinate, Coordinate, Coordinate, Coordinate]
    anchor: Anchor = Anchor.CENTRE
    deg: Annotated[float, Field(ge=-90, le=90, allow_inf_nan=False)] = 0.0

    def drawn(self) -> Drawn:
        """The wish as the job room takes it; ``ValueError`` for an empty box."""
        return Drawn(box=Extent(*self.box), anchor=self.anchor, straighten_deg=self.deg)


class Adjust(OnOne):
    """A crop made by hand. ``gesture`` joins the saves of one movement."""

    frame: Frame
    gesture: Annotated[str, Field(max_length=64)] = ""


class Freeze(OnOne):
    """Whether a crop is frozen: nothing changes it until it is unfrozen."""

    frozen: bool


class Measure(Asked):
    """How a drawn frame would stand; changes nothing."""

    version: Name
    destination: Name
    frame: Frame


class People(Asked):
    """Everybody the finder sees in a master, numbered."""

    version: Name


class Marks(Asked):
    """All that is said by hand about one master's people."""

    eyes: tuple[Place, Place] | None = None
    crown: Place | None = None
    chin: Place | None = None
    principal: Annotated[tuple[Number, ...], Field(max_length=200)] = ()
    excluded: Annotated[tuple[Number, ...], Field(max_length=200)] = ()
    small_faces: bool = False

    def hand_marks(self) -> HandMarks:
        """The same, as the plan keeps it."""
        return HandMarks(
            eyes=(Point(*self.eyes[0]), Point(*self.eyes[1])) if self.eyes else None,
            crown=Point(*self.crown) if self.crown else None,
            chin=Point(*self.chin) if self.chin else None,
            principal=self.principal,
            excluded=self.excluded,
            small_faces=self.small_faces,
        )


class Mark(Deed):
    """New marks on one master, in the place of all that were there."""

    version: Name
    marks: Marks


GivenWord = Literal["approved", "held", "refused"]
NoteText = Annotated[str, Field(max_length=LONGEST_NOTE)]


class Say(Deed):
    """A word on some deliverables of one master; ``word`` None takes it back.

    ``note`` None keeps the note that is there.
    """

    version: Name
    destinations: Annotated[tuple[Name, ...], Field(min_length=1, max_length=500)]
    word: GivenWord | None
    note: NoteText | None = None


class Note(OnOne):
    """A note on one deliverable, with or without a word."""

    note: NoteText


class Shift(Asked):
    """A movement in shares of each crop's own height: what is seen goes ``up`` and ``left``.

    ``closer`` above 0 makes each crop smaller about the eyes by that share, below 0 larger.
    """

    up: Annotated[float, Field(ge=-0.5, le=0.5, allow_inf_nan=False)] = 0.0
    left: Annotated[float, Field(ge=-0.5, le=0.5, allow_inf_nan=False)] = 0.0
    closer: Annotated[float, Field(ge=-0.5, le=0.5, allow_inf_nan=False)] = 0.0


class One(Asked):
    """One deliverable."""

    version: Name
    destination: Name


class Many(Deed):
    """One action on several deliverables, taken back in one step: exactly one of the last three."""

    items: Annotated[tuple[One, ...], Field(min_length=1, max_length=2000)]
    word: GivenWord | None = None
    index: Annotated[int, Field(ge=0, le=100)] | None = None
    shift: Shift | None = None


class Words(Asked):
    """What is said of one version, in the job's own language."""

    version: Name
    headline: Annotated[str, Field(max_length=1000)]
    caption: Annotated[str, Field(max_length=8000)]
    alt_text: Annotated[str, Field(max_length=2000)]


class Fix(Deed):
    """Who goes where in a set; ``version`` None lifts what was fixed."""

    set_name: Name
    destination: Name
    version: Name | None


class Back(Deed):
    """Undo, or redo, the last step of one master; of all masters when none is named."""

    version: Annotated[str, Field(max_length=200)] = ""


class Export(Asked):
    """Write the files now."""

    approved_only: bool = True
    everything: bool = False
    by_recipient: bool = False


class Sheet(Asked):
    """Make the sheet for a client."""

    approved_only: bool = True
