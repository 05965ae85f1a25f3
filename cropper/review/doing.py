"""Everything that does something: each action answers with the new state of what it changed."""

from __future__ import annotations

from typing import TypeVar

from pydantic import BaseModel, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from cropper.errors import MisuseError
from cropper.review import asking, deeds, overview, telling
from cropper.review.answers import (
    Room,
    state_told,
    step_told,
    told,
    with_changed,
    with_master,
)
from cropper.review.desk import Deed
from cropper.review.errands import client_sheet
from cropper.review.job_words_edit import keep_words, words_told

Wanted = TypeVar("Wanted", bound=BaseModel)


class Doing:
    """Everything that does something."""

    def __init__(self, room: Room) -> None:
        self.room = room

    async def measure(self, request: Request) -> Response:
        """How a drawn frame would stand; the one rule engine answers."""
        asked = await checked(request, asking.Measure)
        plan = self.room.desk.glance().plan
        found, destination, master = deeds.tried(plan, asked)
        return told({"crop": telling.crop(found, destination, master.finding)})

    async def people(self, request: Request) -> Response:
        """Look again for everybody in a master, so that they can be named."""
        asked = await checked(request, asking.People)
        return await run_in_threadpool(self._people, asked)

    def _people(self, asked: asking.People) -> Response:
        current = self.room.desk.look()
        master = deeds.master_of(current.plan, asked.version)
        self.room.cabinet.seen(master)
        return told(with_master(self.room, current, asked.version))

    async def choose(self, request: Request) -> Response:
        """Take a proposal."""
        asked = await checked(request, asking.Choose)
        return await self._done(asked.revision, deeds.choose(self.room.desk, asked))

    async def adjust(self, request: Request) -> Response:
        """Take a crop made by hand."""
        asked = await checked(request, asking.Adjust)
        return await self._done(asked.revision, deeds.adjust(self.room.desk, asked))

    async def freeze(self, request: Request) -> Response:
        """Freeze a crop, or unfreeze it."""
        asked = await checked(request, asking.Freeze)
        return await self._done(asked.revision, deeds.freeze(self.room.desk, asked))

    async def mark(self, request: Request) -> Response:
        """Mark the people of a master."""
        asked = await checked(request, asking.Mark)
        deed = deeds.mark(self.room.desk, self.room.cabinet, asked)
        return await self._done(asked.revision, deed)

    async def say(self, request: Request) -> Response:
        """Approve, hold, refuse."""
        asked = await checked(request, asking.Say)
        return await self._done(asked.revision, deeds.say(self.room.desk, asked))

    async def note(self, request: Request) -> Response:
        """Keep a note."""
        asked = await checked(request, asking.Note)
        return await self._done(asked.revision, deeds.note(asked))

    async def many(self, request: Request) -> Response:
        """One action on several crops."""
        asked = await checked(request, asking.Many)
        deed, passed = deeds.many(self.room.desk, asked)
        current = await run_in_threadpool(self.room.desk.do, asked.revision, deed)
        return told({**state_told(self.room, current), "passed": passed, "of": len(asked.items)})

    async def words(self, request: Request) -> Response:
        """Keep what is said of a version."""
        asked = await checked(request, asking.Words)
        desk = self.room.desk
        deeds.master_of(desk.look().plan, asked.version)
        texts = asked.model_dump(include={"headline", "caption", "alt_text"})
        await run_in_threadpool(keep_words, desk.job, asked.version, texts)
        at = desk.clock().isoformat(timespec="seconds")
        return told({"words": words_told(desk.job, asked.version), "at": at})

    async def fix(self, request: Request) -> Response:
        """Fix who goes where."""
        asked = await checked(request, asking.Fix)
        current = await run_in_threadpool(self.room.desk.do, asked.revision, deeds.fix(asked))
        rivals = overview.set_of(current.plan, asked.set_name)
        shown = overview.rivals(current.plan, rivals, self.room.cabinet)
        return told({**state_told(self.room, current), "set": shown})

    async def _done(self, revision: str, deed: Deed) -> Response:
        current = await run_in_threadpool(self.room.desk.do, revision, deed)
        return told(with_changed(self.room, current, deed))

    async def undo(self, request: Request) -> Response:
        """Take the last step back."""
        asked = await checked(request, asking.Back)
        current, step = await run_in_threadpool(self.room.desk.undo, asked.revision, asked.version)
        return told(
            state_told(self.room, current, asked.version) | {"step": step_told(step, "Undone")}
        )

    async def redo(self, request: Request) -> Response:
        """Do it again."""
        asked = await checked(request, asking.Back)
        current, step = await run_in_threadpool(self.room.desk.redo, asked.revision, asked.version)
        return told(
            state_told(self.room, current, asked.version) | {"step": step_told(step, "Redone")}
        )

    async def export(self, request: Request) -> Response:
        """Begin to write the files."""
        asked = await checked(request, asking.Export)
        self.room.exporter.start(
            approved_only=asked.approved_only,
            everything=asked.everything,
            by_recipient=asked.by_recipient,
        )
        return told(self.room.exporter.progress.mapping(), 202)

    async def sheet(self, request: Request) -> Response:
        """Make the client's sheet."""
        asked = await checked(request, asking.Sheet)
        desk = self.room.desk

        def make() -> str:
            return str(client_sheet(desk.look().plan, desk.job, approved_only=asked.approved_only))

        return told({"file": await run_in_threadpool(make), "address": "/client-sheet"})


async def checked(request: Request, kind: type[Wanted]) -> Wanted:
    """The request's JSON as a checked value; :class:`MisuseError` for anything else."""
    try:
        return kind.model_validate_json(await request.body())
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"]) or "the request"
        raise MisuseError(f"{place}: {first['msg'].lower()}") from error
