"""A small invented year of the demo's set: runs, an exclusive, a near-clash, an undecided vote.

Nothing of it happened; pages made from it say so. Told backwards and forwards from a given day, so
that the demo always has something running, something over and something to come.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from cropper.account.report_making import put
from cropper.account.reporting import report
from cropper.account.tallying import count, declare
from cropper.account.timeline_making import ask as timeline_of
from cropper.account.timeline_making import put as put_timeline
from cropper.publication.licences import Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.responses import Count, Design, Intent, Measure, Question, Remark
from cropper.publication.runs import Piece, Run, RunState
from cropper.publication.spans import Span
from cropper.publication.tags import STARTER, TagList
from cropper.record import Record, Stamp, open_record
from cropper.record.naming import pieces_of_job, sets_of

WHO: Final = "invented for the demo"
POLL: Final = "which-cover"
LIKES: Final = "likes-in-the-feed"

OUTLETS: Final = (
    Outlet(name="studio-feed", kind=OutletKind.STREAM, audience=frozenset({"followers"}), own=True),
    Outlet(
        name="mill-shop",
        kind=OutletKind.PLACED,
        audience=frozenset({"mill customers"}),
        owner="Fernhollow Mill",
        industry="knitwear",
        commercial=True,
    ),
    Outlet(name="gazette", kind=OutletKind.PLACED, audience=frozenset({"readers"}), medium="print"),
    Outlet(name="mill-wall", kind=OutletKind.PLACED, audience=frozenset({"mill staff"})),
)

TAKES: Final = {
    "studio-feed": ("tall-post", "square-post"),
    "mill-shop": ("banner", "page-header"),
    "gazette": ("print-a4", "wide"),
    "mill-wall": ("canvas",),
}
"""Destinations of the kind that an outlet takes."""

# Outlet, which of the two versions, first and last day from today (None: open end), issue, page.
YEAR: Final[tuple[tuple[str, int, int, int | None, str, str], ...]] = (
    ("gazette", 0, -300, -240, "spring", "12"),
    ("studio-feed", 0, -240, None, "", ""),
    ("mill-shop", 1, -180, -60, "", ""),
    ("studio-feed", 1, -150, None, "", ""),
    ("mill-shop", 0, -60, None, "", ""),  # the near-clash: up on the day the rival comes down
    ("mill-wall", 0, -30, 200, "", ""),
    ("gazette", 1, 40, 70, "autumn", "3"),
)

SAID: Final = (
    "her eyes!",
    "the light, and those eyes",
    "calm, and the copper glow",
    "wool I can feel",
    "love the shawl",
    "eyes again and again",
    "hair and makeup are lovely",
    "beautiful",
    "smiling eyes",
    "which one is the new one?",
)


def write_year(
    job: Path, set_name: str, versions: Sequence[str], *, now: datetime
) -> tuple[Path, ...]:
    """Fill the job's own record once, and write its timeline and report; the pages' paths."""
    today = now.replace(hour=0, minute=0, second=0, microsecond=0)
    with open_record(str(job / "record.sqlite")) as record:
        if not record.responses(set_name).questions:
            _runs(record, pieces_of_job(job, {}), set_name, versions, today)
            _answers(record, set_name, versions, today)
        span = Span(today - timedelta(days=310), today + timedelta(days=80))
        chart = timeline_of(record, span, now=now, invented=True)
        tags = TagList.from_mapping(tomllib.loads(STARTER))
        told = report(record, set_name, job=job, tags=tags, now=now, invented=True)
    return (*put_timeline(chart, job / "timeline"), *put(told, job))


def _runs(
    record: Record, pieces: Sequence[Piece], set_name: str, versions: Sequence[str], today: datetime
) -> None:
    stamp = Stamp(at=today, by=WHO)
    record.keep_outlets(OUTLETS, stamp)
    record.take_in(pieces, stamp)
    for rules in sets_of(tuple(pieces), {}):
        record.keep_set(rules, stamp)
    record.keep_licence(
        Licence(
            id="gazette-spring",
            kind=LicenceKind.EXCLUSIVE,
            span=Span(_day(today, -300), _day(today, -240)),
            outlet="gazette",
            set=set_name,
            note=WHO,
        ),
        stamp,
    )
    for number, (outlet, which, first, last, issue, page) in enumerate(YEAR, start=1):
        span = Span(_day(today, first), None if last is None else _day(today, last))
        piece = _piece_of(pieces, versions[which], outlet)
        run = Run(
            id=f"invented-{number}",
            piece=piece.sha256 if piece else "",
            version=versions[which],
            outlet=outlet,
            span=span,
            set=set_name,
            destination=piece.destination if piece else "",
            issue=issue,
            page=page,
            who=WHO,
            state=_state(span, today),
        )
        record.record_run(run, stamp)


def _piece_of(pieces: Sequence[Piece], version: str, outlet: str) -> Piece | None:
    """One of the version's finished files, of a kind that the outlet would take if there is one."""
    mine = [one for one in pieces if one.version == version]
    fitting = [one for name in TAKES[outlet] for one in mine if one.destination == name]
    return next(iter((*fitting, *mine)), None)


def _state(span: Span, today: datetime) -> RunState:
    if span.start > today:
        return RunState.PLANNED
    return RunState.LIVE if span.holds(today) else RunState.ENDED


def _day(today: datetime, days: int) -> datetime:
    return today + timedelta(days=days)


def _answers(record: Record, set_name: str, versions: Sequence[str], today: datetime) -> None:
    """A vote that stays undecided, likes of two runs, and what people wrote."""
    asked_at = _day(today, -20)
    meant = (("eyes", "light"), ("garment", "eyes"))
    poll = Question(
        name=POLL,
        set=set_name,
        versions=tuple(versions),
        design=Design.ONE_POLL,
        declared_at=asked_at,
        wording="Which of the two would you put on the cover?",
        intents=tuple(
            Intent(version=version, tags=tags, noted_at=_day(today, -310))
            for version, tags in zip(versions, meant, strict=False)
        ),
    )
    likes = Question(
        name=LIKES,
        set=set_name,
        versions=tuple(versions),
        design=Design.SEPARATE_RUNS,
        declared_at=_day(today, -310),
        wording="Likes of each in the studio's own feed",
    )
    for question in (poll, likes):
        declare(record, question)
    count(record, set_name, tuple(_counts(versions, today)), now=today)
    record.add_remarks(_remarks(versions, today))


def _counts(versions: Sequence[str], today: datetime) -> Iterator[Count]:
    for days, outlet, votes in (
        (-15, "studio-feed", (52, 60)),
        (-15, "mill-shop", (17, 11)),
        (-8, "studio-feed", (123, 141)),
        (-8, "mill-shop", (36, 27)),
    ):
        for version, number in zip(versions, votes, strict=False):
            yield Count(
                question=POLL,
                version=version,
                outlet=outlet,
                measure=Measure.VOTES,
                number=number,
                at=_day(today, days),
            )
    for version, number, reach in zip(versions, (148, 190), (3100, 3350), strict=False):
        yield Count(
            question=LIKES,
            version=version,
            outlet="studio-feed",
            measure=Measure.LIKES,
            number=number,
            reach=reach,
            at=_day(today, -100),
        )


def _remarks(versions: Sequence[str], today: datetime) -> Iterator[Remark]:
    for row in range(1, 141):
        yield Remark(
            question=POLL,
            text=SAID[(row * 7 + row // 3) % len(SAID)],
            outlet="studio-feed",
            version=versions[row % 2],
            at=_day(today, -10),
            source="invented",
            row=row,
        )
