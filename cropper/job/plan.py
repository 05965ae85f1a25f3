"""A job's plan: masters, what was found in them, what was proposed, and what somebody chose.

The plan is the memory of a job folder. It holds every destination as it was when the plan was
made, so that a job stays readable after a preset changes. Changing something makes a new value.
Coordinates are pixels of the upright master (see :mod:`cropper.geometry`); times are UTC.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Final

from cropper.destination.destination import Destination
from cropper.geometry import Crop, Point
from cropper.job.masters import Masters
from cropper.job.rival_sets import Sets
from cropper.master.stored import placed
from cropper.proposal.proposal import Answer, Cost, Proposal, Verdict
from cropper.subject.subject import Finding

FORMAT: Final = 4
"""The plan format that this program writes; it refuses to touch a newer one."""

CROPPER: Final = "cropper"
PHOTOGRAPHER: Final = "photographer"


class ChoiceState(StrEnum):
    """How far a choice has been looked at."""

    PROPOSED = "proposed"
    CHOSEN = "chosen"
    ADJUSTED = "adjusted"
    LOOK_AGAIN = "look again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The crop that counts: one of the proposals by its place (0 is best), or one made by hand.

    A hand crop is kept as a whole measured :class:`Proposal`, so it survives whatever is proposed
    later. ``look again`` marks a photographer's choice whose ground has moved since: the master,
    the subjects or the destination changed. It is kept all the same. A ``frozen`` one also stays
    when a whole destination is adjusted; one that is ``proposed`` and the photographer's was only
    frozen, and is the program's again without it.
    """

    index: int | None = None
    hand: Proposal | None = None
    chosen_by: str = CROPPER
    at: datetime
    state: ChoiceState = ChoiceState.PROPOSED
    frozen: bool = False

    def __post_init__(self) -> None:
        if (self.index is None) == (self.hand is None):
            message = "a choice is either one of the proposals or a crop made by hand"
            raise ValueError(message)
        if self.chosen_by not in {CROPPER, PHOTOGRAPHER}:
            message = f"chosen by {CROPPER} or {PHOTOGRAPHER}, not {self.chosen_by!r}"
            raise ValueError(message)

    @property
    def by_hand(self) -> bool:
        """Whether the photographer made it; such a choice is never overwritten."""
        return self.chosen_by == PHOTOGRAPHER


class Word(StrEnum):
    """What the photographer says of a deliverable after looking at it."""

    APPROVED = "approved"
    HELD = "held"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """The photographer's word on one deliverable, and the very crop it was given for."""

    word: Word
    crop: Crop
    at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMarks:
    """What the photographer said about one master's people.

    ``eyes`` are the two pupils; ``principal`` and ``excluded`` are places in the finder's list of
    people, counted from 1 as :command:`cropper find` prints them.
    """

    eyes: tuple[Point, Point] | None = None
    crown: Point | None = None
    chin: Point | None = None
    principal: tuple[int, ...] = ()
    excluded: tuple[int, ...] = ()
    small_faces: bool = False

    @property
    def given(self) -> bool:
        """Whether anything was said at all."""
        return self != HandMarks()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMaster:
    """One master of the job.

    ``file`` is the name as it was given; ``path`` leads from the job folder to the file (posix),
    or is absolute when no relative way exists. ``version`` names it in file names and matrices,
    once in a job. Of a stored file ``file`` and ``path`` are its address. ``bytes`` is the file's
    length, 0 where that is not known. ``basis`` holds, per destination, a digest of all that its
    answer rests on. ``notes`` are what the photographer wrote beside a destination without a word
    yet; the note of a word stands with the word.
    """

    file: str
    path: str
    sha256: str
    width: int
    height: int
    version: str
    finding: Finding
    marks: HandMarks = field(default_factory=HandMarks)
    answers: tuple[Answer, ...] = ()
    choices: Mapping[str, Choice] = field(default_factory=dict)
    basis: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()
    bytes: int = 0
    approvals: Mapping[str, Approval] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)

    def answer(self, destination: str) -> Answer | None:
        """What was proposed for ``destination``; None if it was not asked for."""
        return next((one for one in self.answers if one.destination == destination), None)

    def chosen(self, destination: str) -> Proposal | None:
        """The crop that counts for ``destination``; None when there is none."""
        choice = self.choices.get(destination)
        if choice is None:
            return None
        if choice.hand is not None:
            return choice.hand
        answer = self.answer(destination)
        if answer is None or choice.index is None or choice.index >= len(answer.proposals):
            return None
        return answer.proposals[choice.index]

    def located(self, job: Path) -> Path:
        """Where the file lies, for a job folder at ``job``."""
        return placed(job, self.path)

    def with_choice(self, destination: str, choice: Choice | None) -> PlannedMaster:
        """The same master with another crop counting for ``destination``, or with none."""
        if choice is not None:  # in its place: an undo brings the file back to the byte
            return replace(self, choices={**self.choices, destination: choice})
        others = {name: one for name, one in self.choices.items() if name != destination}
        return replace(self, choices=others)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One version for one destination in a set's matrix.

    ``lost`` is the share of the master's area left out by the crop, 0..1; ``spare_px`` how many
    pixels of width the crop has beyond the delivered width (negative: enlarged). None: no crop.
    """

    version: str
    destination: str
    verdict: Verdict
    cost: Cost | None = None
    lost: float | None = None
    spare_px: int | None = None
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSet:
    """Rival versions of one idea: which suits what, and which goes where.

    ``versions`` are names of the job's masters. ``best`` maps a destination to the version that
    goes there (None: none does, see ``sentences``); ``runner_up`` is the next best whole
    assignment, None if there is no other; ``runner_up_costs`` says in words what it would cost.
    ``fixed`` maps a destination to the version that the photographer put there. ``basis`` is a
    digest of all that the assignment rests on but ``fixed``; empty: work it out again.
    """

    name: str
    versions: tuple[str, ...]
    matrix: tuple[Cell, ...] = ()
    best: Mapping[str, str | None] = field(default_factory=dict)
    runner_up: Mapping[str, str | None] | None = None
    runner_up_costs: str = ""
    sentences: tuple[str, ...] = ()
    assigned: bool = False
    fixed: Mapping[str, str] = field(default_factory=dict)
    basis: str = ""

    def cell(self, version: str, destination: str) -> Cell | None:
        """One field of the matrix."""
        wanted = (version, destination)
        return next((one for one in self.matrix if (one.version, one.destination) == wanted), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedMaster:
    """A file that was handed in and could not be planned, with the sentence that says why."""

    file: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingMaster:
    """A file that a run took on and has not come to yet, with the name it will have.

    ``destinations`` are those that were asked for it; ``place`` is its place in the job's order.
    """

    file: str
    path: str
    version: str
    place: int
    destinations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a job folder remembers. Masters and destinations keep the order they came in.

    ``masters`` and ``sets`` are opened when they are looked at (see :mod:`cropper.job.masters` and
    :mod:`cropper.job.rival_sets`). ``waiting`` is what an interrupted run left to be done. ``id``
    tells this job from every other, wherever its folder goes; a plan of before ids has none until
    it is planned again. ``folder`` is where the job's folder lay when it was planned last.
    ``outlets`` maps a destination to the outlets its file runs in, as ``outlets.toml`` said when
    the plan was made.
    """

    format: int = FORMAT
    program_version: str
    made_at: datetime
    id: str = ""
    folder: str = ""
    destinations: tuple[Destination, ...] = ()
    masters: Sequence[PlannedMaster] = ()
    sets: Sequence[PlannedSet] = ()
    failed: tuple[FailedMaster, ...] = ()
    outlets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    waiting: tuple[WaitingMaster, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "masters", Masters.of(self.masters))
        object.__setattr__(self, "sets", Sets.of(self.sets))

    @property
    def shelf(self) -> Masters:
        """The masters, to be asked by name and without opening them."""
        return Masters.of(self.masters)

    @property
    def rivals(self) -> Sets:
        """The sets, to be asked by name or version and without reading them."""
        return Sets.of(self.sets)

    def destination(self, name: str) -> Destination | None:
        """The destination called ``name``."""
        return next((one for one in self.destinations if one.name == name), None)

    def master(self, version: str) -> PlannedMaster | None:
        """The master called ``version``."""
        return self.shelf.get(version)

    def with_master(self, master: PlannedMaster) -> Plan:
        """The plan with this master in the place of its former self, or last."""
        return replace(self, masters=self.shelf.put(master))

    def set_of(self, version: str) -> PlannedSet | None:
        """The set of rivals that ``version`` belongs to."""
        return self.rivals.holding(version)
