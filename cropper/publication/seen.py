"""What was meant, and what people spoke of: the intent noted beforehand beside the remarks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from cropper.publication.responses import (
    ANY_VERSION,
    Count,
    Intent,
    Measure,
    Question,
    standing,
)
from cropper.publication.samples import LEVEL
from cropper.publication.saying import span
from cropper.publication.shares import Share, chance_of_split, share
from cropper.publication.tags import Sightings


class Sight(StrEnum):
    """How the remarks stand to the intent."""

    AS_MEANT = "seen as meant"
    OTHERWISE = "seen otherwise"
    OPEN = "too few remarks to tell"
    NOTHING_MEANT = "nothing was noted beforehand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Under one version: the share of remarks that speak of each tag, most spoken of first."""

    version: str
    remarks: int
    shares: tuple[tuple[str, Share], ...]
    meant: tuple[str, ...]
    sight: Sight
    sentence: str


def seen(
    question: Question, found: Sequence[Sightings], *, first_out: datetime | None = None
) -> tuple[Seen, ...]:
    """The remarks under each version beside what was meant.

    ``first_out`` is when the first picture ran or the first count was taken: an intent noted after
    it is told as such, and not judged.
    """
    return tuple(
        _seen(one, question.intent(one.version), first_out) for one in found if one.remarks
    )


def counted_by_hand(counts: Sequence[Count]) -> tuple[Sightings, ...]:
    """Sightings from totals: mentions of tags, out of the comments that were read through."""
    now = standing(counts)
    comments: dict[str, int] = {}
    mentions: dict[str, dict[str, int]] = {}
    for one in now:
        if one.measure is Measure.COMMENTS:
            comments[one.version] = comments.get(one.version, 0) + one.number
        elif one.measure is Measure.MENTIONS:
            mine = mentions.setdefault(one.version, {})
            mine[one.tag] = mine.get(one.tag, 0) + one.number
    return tuple(
        Sightings(
            version=version,
            # More mentions of one tag than comments counted: then at least so many were read.
            remarks=max(comments.get(version, 0), *mine.values()),
            mentions=mine,
        )
        for version, mine in sorted(mentions.items())
    )


def _seen(found: Sightings, intent: Intent | None, first_out: datetime | None) -> Seen:
    order = sorted(found.mentions, key=lambda tag: -found.mentions[tag])
    told = tuple((tag, share(found.mentions[tag], found.remarks)) for tag in order)
    late = intent is not None and first_out is not None and intent.noted_at > first_out
    sight = Sight.NOTHING_MEANT if intent is None or late else _sight(found, intent.tags[0])
    return Seen(
        version=found.version,
        remarks=found.remarks,
        shares=told,
        meant=intent.tags if intent else (),
        sight=sight,
        sentence=_sentence(found, told, intent, sight, late=late),
    )


def _sight(found: Sightings, meant: str) -> Sight:
    """Whether the tag meant to be first is spoken of more than each other, beyond chance.

    Between two tags only remarks that speak of one of them tell anything: an exact test of their
    split (McNemar's). For "otherwise" p is raised for the tags it could have been.
    """
    others = [tag for tag in found.mentions if tag != meant]
    if not others:
        return Sight.OPEN
    if all(_more(found, meant, other) < LEVEL for other in others):
        return Sight.AS_MEANT
    if any(_more(found, other, meant) * len(others) < LEVEL for other in others):
        return Sight.OTHERWISE
    return Sight.OPEN


def _more(found: Sightings, tag: str, other: str) -> float:
    """The p of ``tag`` being spoken of more than ``other``; 1 where it is not."""
    if found.mentions.get(tag, 0) <= found.mentions.get(other, 0):
        return 1.0
    if found.alone:
        alone = found.alone.get((tag, other), 0)
        return chance_of_split(alone, alone + found.alone.get((other, tag), 0))
    # Counted by hand, nobody knows which remarks speak of both: intervals apart are clear enough.
    low = share(found.mentions[tag], found.remarks).low
    return 0.0 if low > share(found.mentions.get(other, 0), found.remarks).high else 1.0


def _sentence(
    found: Sightings,
    told: Sequence[tuple[str, Share]],
    intent: Intent | None,
    sight: Sight,
    *,
    late: bool,
) -> str:
    where = "Remarks on no one version" if found.version == ANY_VERSION else f"'{found.version}'"
    spoken = ", ".join(_said(tag, one) for tag, one in told[:3])
    if intent is None:
        return f"{where}: {spoken} of {found.remarks:,} remarks. Nothing was noted beforehand."
    meant = f"meant {intent.tags[0]} first" + (
        f", then {', '.join(intent.tags[1:])}" if intent.tags[1:] else ""
    )
    own = next((_said(tag, one) for tag, one in told[3:] if tag == intent.tags[0]), "")
    body = f"{where}: {meant}; spoken of {spoken}{', ' + own if own else ''}"
    body += f" of {found.remarks:,} remarks"
    if late:
        return f"{body}. The intent was noted after the picture went out, which proves nothing."
    return f"{body}. {_ENDS[sight]}"


_ENDS = {
    Sight.AS_MEANT: "What was meant first is spoken of most, beyond chance.",
    Sight.OTHERWISE: "Something else is spoken of more, beyond chance.",
    Sight.OPEN: "Too few remarks to tell what was seen first.",
}


def _said(tag: str, one: Share) -> str:
    return f"{tag} in {one.votes:,} ({span(one.low, one.high)})"
