"""A master's index card: what a listing wants to know without opening the master's own file.

Cards stand one to a line in a journal (see :mod:`cropper.job.shelf`); ten thousand of them are
read in a fraction of a second. A card can be made again from its master at any time.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields, replace
from sys import intern
from typing import Any, Final, NamedTuple

from cropper.errors import JobError
from cropper.job.approving import standing
from cropper.job.plan import ChoiceState, PlannedMaster
from cropper.job.rows import Row, eyes_of, question_of, row_of
from cropper.proposal.proposal import Proposal, Verdict

KIND: Final = 2
"""Which cards these are: count it up when they hold something else. Others are made again."""


class OtherKindError(JobError):
    """A card of another program version; its master's file tells all that it should."""


class Line(NamedTuple):
    """One destination on a card; ``word`` is the photographer's, while it stands.

    ``fault`` is the sentence of the rule that makes the verdict what it is; empty where all holds.
    """

    destination: str
    verdict: str
    shot: str
    sentence: str
    chosen_by: str
    others: int
    state: str
    word: str
    fault: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One master at a glance.

    ``place`` is its place in the job's order, ``text`` the SHA-256 of its own file, ``ground`` a
    digest of the destinations and rules that its answers rest on (empty: not known, look).
    """

    version: str
    file: str
    path: str
    sha256: str
    width: int
    height: int
    bytes: int
    place: int
    text: str
    ground: str
    finder: str
    eyes: str
    question: str
    lines: tuple[Line, ...]

    @property
    def look_again(self) -> tuple[str, ...]:
        """Destinations whose choice asks for another look."""
        return tuple(one.destination for one in self.lines if one.state == ChoiceState.LOOK_AGAIN)

    def rows(self) -> list[Row]:
        """The card's lines as a table has them; of all reasons, the first."""
        return [
            Row(
                version=self.version,
                destination=one.destination,
                shot=one.shot,
                verdict=one.verdict,
                sentence=one.sentence,
                reasons=(one.sentence,),
                ways_out=(),
                chosen_by=one.chosen_by,
                others=one.others,
            )
            for one in self.lines
        ]

    def json_line(self) -> str:
        """The card as one line of JSON, without its end."""
        told = {"kind": KIND, **{name: getattr(self, name) for name in _FIELDS}}
        return json.dumps(told, ensure_ascii=False, separators=(",", ":"))


_FIELDS: Final = tuple(one.name for one in fields(Card))
_KINDS: Final[dict[str, type]] = {
    name: int if name in {"width", "height", "bytes", "place"} else str
    for name in _FIELDS
    if name != "lines"
}


def card_of(master: PlannedMaster, *, place: int, text: str = "", ground: str = "") -> Card:
    """The card of a master whose file's text has the SHA-256 ``text``."""
    return Card(
        version=master.version,
        file=master.file,
        path=master.path,
        sha256=master.sha256,
        width=master.width,
        height=master.height,
        bytes=master.bytes,
        place=place,
        text=text,
        ground=ground,
        finder=master.finding.finder,
        eyes=eyes_of(master),
        question=question_of(master),
        lines=tuple(_line(master, row_of(master, answer)) for answer in master.answers),
    )


def _line(master: PlannedMaster, row: Row) -> Line:
    choice, word = master.choices.get(row.destination), standing(master, row.destination)
    return Line(
        destination=row.destination,
        verdict=row.verdict,
        shot=row.shot,
        sentence=row.sentence,
        chosen_by=row.chosen_by,
        others=row.others,
        state=str(choice.state) if choice else "",
        word=str(word.approval.word) if word.approval and word.stands else "",
        fault=_fault(master.chosen(row.destination)) or ("" if row.shot else row.sentence),
    )


def _fault(chosen: Proposal | None) -> str:
    """The first rule, in the order of their weight, that does not hold."""
    if chosen is None or chosen.verdict is Verdict.HOLDS:
        return ""
    told = (one.sentence for one in chosen.measures if one.verdict is chosen.verdict)
    return next(told, "")


def without_lines(card: Card) -> Card:
    """The card with what tells masters apart, and nothing of their destinations."""
    ground, finder, eyes = intern(card.ground), intern(card.finder), intern(card.eyes)
    return replace(card, ground=ground, finder=finder, eyes=eyes, lines=())


def card_from(told: Any) -> Card:
    """A card from the values of its line; raises :class:`JobError` when it is none.

    :class:`OtherKindError` when it is one that this program does not write.
    """
    if isinstance(told, dict) and isinstance(told.get("version"), str) and told.get("kind") != KIND:
        raise OtherKindError("a card of another kind")
    try:
        values: dict[str, Any] = {name: kind(told[name]) for name, kind in _KINDS.items()}
        lines = tuple(Line._make(one) for one in told["lines"])
    except (TypeError, KeyError, ValueError) as error:
        raise JobError(f"a card is damaged ({error})") from error
    return Card(lines=lines, **values)
