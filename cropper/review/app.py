"""The page's application: addresses, and what answers there. Guarded as a whole by ``guard``.

GET shows, POST does. Every deed answers with the new revision and the master it changed, so that
the page never guesses what the plan holds.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from cropper._layout import finite
from cropper.errors import CropperError, MisuseError
from cropper.proof.overlays import LAYERS
from cropper.review import asking, deeds, leafing, overview, telling
from cropper.review.cabinet import LENGTHS, Cabinet
from cropper.review.desk import Current, Deed, Desk, StaleError
from cropper.review.errands import CLIENT_SHEET, OUR_FAULT, Exporter, client_sheet
from cropper.review.guard import Guard, Keys
from cropper.review.own_files import TYPES, environment, static
from cropper.review.whereabouts import runs_told

SETS_NAMED: Final = 8
"""So many sets are named at the head of every page; the wall leads to more (house: a line)."""
JUMPS: Final = 200
"""So many neighbours of a master can be jumped to from its page (house: a list to be read)."""
KEPT_FOREVER: Final = "private, max-age=31536000, immutable"
Wanted = TypeVar("Wanted", bound=BaseModel)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What the endpoints share."""

    desk: Desk
    cabinet: Cabinet
    exporter: Exporter
    keys: Keys
    cookie: str
    wall: leafing.Wall = field(default_factory=leafing.Wall)


def application(
    desk: Desk, cabinet: Cabinet, keys: Keys, *, hosts: frozenset[str], port: int
) -> Guard:
    """The guarded application for one job folder."""
    cookie = f"cropper_review_{port}"
    room = Room(desk=desk, cabinet=cabinet, exporter=Exporter(desk), keys=keys, cookie=cookie)
    app = Starlette(routes=_routes(room), exception_handlers=_handlers())
    return Guard(app, keys=keys, hosts=hosts, cookie=cookie)


def _routes(room: Room) -> list[Route]:
    pages = Pages(room)
    doing = Doing(room)
    return [
        Route("/open", pages.open, methods=["GET"]),
        Route("/", pages.wall, methods=["GET"]),
        Route("/look/{version}", pages.look, methods=["GET"]),
        Route("/set/{name}", pages.rivals, methods=["GET"]),
        Route("/deliver", pages.deliver, methods=["GET"]),
        Route("/static/{name}", pages.static, methods=["GET"]),
        Route("/preview/{version}/{tag}/{longest:int}", pages.preview, methods=["GET"]),
        Route("/client-sheet", pages.sheet, methods=["GET"]),
        Route("/api/job", pages.job_told, methods=["GET"]),
        Route("/api/state", pages.state, methods=["GET"]),
        Route("/api/master/{version}", pages.master_told, methods=["GET"]),
        Route("/api/runs/{version}", pages.runs_told, methods=["GET"]),
        Route("/api/set/{name}", pages.set_told, methods=["GET"]),
        Route("/api/export", pages.export_told, methods=["GET"]),
        Route("/api/measure", doing.measure, methods=["POST"]),
        Route("/api/people", doing.people, methods=["POST"]),
        Route("/api/choose", doing.choose, methods=["POST"]),
        Route("/api/adjust", doing.adjust, methods=["POST"]),
        Route("/api/mark", doing.mark, methods=["POST"]),
        Route("/api/say", doing.say, methods=["POST"]),
        Route("/api/fix", doing.fix, methods=["POST"]),
        Route("/api/undo", doing.undo, methods=["POST"]),
        Route("/api/redo", doing.redo, methods=["POST"]),
        Route("/api/export", doing.export, methods=["POST"]),
        Route("/api/client-sheet", doing.sheet, methods=["POST"]),
    ]


def told(value: Any, status: int = 200) -> JSONResponse:
    """JSON without infinities."""
    return JSONResponse(finite(value), status)


class Pages:
    """Everything that only shows."""

    def __init__(self, room: Room) -> None:
        self.room = room

    def open(self, request: Request) -> Response:
        """Exchange the key for the cookie, once, and leave the address clean."""
        cookie = self.room.keys.exchanged(request.query_params.get("key", ""))
        answer: Response = RedirectResponse("/", 303)
        if cookie is not None:
            answer.set_cookie(self.room.cookie, cookie, httponly=True, samesite="strict", path="/")
        return answer

    def _page(self, name: str, **values: Any) -> Response:
        current = self.room.desk.look()
        sets = current.plan.rivals.names
        html = (
            environment()
            .get_template(f"{name}.html")
            .render(
                page=name,
                job=self.room.desk.job.resolve().name,
                revision=current.revision,
                sets=sets if len(sets) <= SETS_NAMED else (),
                many_sets=len(sets) > SETS_NAMED,
                layers=LAYERS,
                **values,
            )
        )
        return HTMLResponse(html)

    def wall(self, request: Request) -> Response:
        """A page of the masters with every destination, the worst first."""
        plan = self.room.desk.look().plan
        leaf = self.room.wall.leaf(plan, _leafed(request))
        rows = overview.wall(plan, self.room.cabinet, leaf.versions)
        return self._page("wall", rows=rows, plan=plan, leaf=leaf, shows=leafing.SHOWS)

    def look(self, request: Request) -> Response:
        """One master at the large."""
        plan = self.room.desk.look().plan
        master = deeds.master_of(plan, request.path_params["version"])
        tag = self.room.cabinet.tag(master)
        versions = plan.shelf.versions
        first = max(0, versions.index(master.version) - JUMPS // 2)
        near = versions[first : first + JUMPS]
        return self._page("look", master=master, tag=tag, versions=near)

    def rivals(self, request: Request) -> Response:
        """A set: side by side, and who goes where."""
        plan = self.room.desk.look().plan
        rivals = overview.set_of(plan, request.path_params["name"])
        return self._page("rivals", rivals=rivals)

    def deliver(self, request: Request) -> Response:
        """What is approved, and the export."""
        del request
        return self._page("deliver")

    def static(self, request: Request) -> Response:
        """One of the page's own files, by its name alone."""
        name = request.path_params["name"]
        known = static()
        if name not in known:
            return told({"error": "There is nothing here."}, 404)
        kind = TYPES[PurePosixPath(name).suffix]
        return Response(known[name], media_type=kind, headers={"cache-control": "no-cache"})

    def preview(self, request: Request) -> Response:
        """A master's preview."""
        master = deeds.master_of(self.room.desk.look().plan, request.path_params["version"])
        longest = request.path_params["longest"]
        if longest not in LENGTHS or request.path_params["tag"] != self.room.cabinet.tag(master):
            return told({"error": "There is no such preview."}, 404)
        jpeg = self.room.cabinet.preview(master, longest)
        return Response(jpeg, media_type="image/jpeg", headers={"cache-control": KEPT_FOREVER})

    def sheet(self, request: Request) -> Response:
        """The client's sheet as it was last made."""
        del request
        path = self.room.desk.job / CLIENT_SHEET
        try:
            html = b"" if path.is_symlink() else path.read_bytes()
        except FileNotFoundError:
            html = b""
        if not html:
            return told({"error": "No sheet was made yet."}, 404)
        named = {"content-disposition": f'attachment; filename="{CLIENT_SHEET}"'}
        return Response(html, media_type="text/html", headers=named)

    def job_told(self, request: Request) -> Response:
        """What could be delivered, page by page as on the wall, and how much is approved."""
        current = self.room.desk.look()
        leaf = self.room.wall.leaf(current.plan, _leafed(request))
        listed = overview.deliverables(current.plan, self.room.cabinet, leaf.versions)
        counted = {name: getattr(leaf, name) for name in ("page", "pages", "crops", "approved")}
        return told({**_state(self.room, current), **counted, "deliverables": listed})

    def state(self, request: Request) -> Response:
        """Only the revision, and what can be taken back."""
        del request
        return told(_state(self.room, self.room.desk.look()))

    def master_told(self, request: Request) -> Response:
        """One master with all its crops."""
        current = self.room.desk.look()
        return told(_with_master(self.room, current, request.path_params["version"]))

    def runs_told(self, request: Request) -> Response:
        """Where a master's deliverables run, and what would stand in their way."""
        desk = self.room.desk
        master = deeds.master_of(desk.look().plan, request.path_params["version"])
        known = runs_told(
            desk.look().plan, master.version, desk.job, address=desk.record, now=desk.clock()
        )
        return told(dict(known))

    def set_told(self, request: Request) -> Response:
        """A set with its matrix."""
        current = self.room.desk.look()
        rivals = overview.set_of(current.plan, request.path_params["name"])
        shown = overview.rivals(current.plan, rivals, self.room.cabinet)
        return told({**_state(self.room, current), "set": shown})

    def export_told(self, request: Request) -> Response:
        """How far the export is."""
        del request
        return told(self.room.exporter.progress.mapping())


class Doing:
    """Everything that does something."""

    def __init__(self, room: Room) -> None:
        self.room = room

    async def measure(self, request: Request) -> Response:
        """How a drawn frame would stand; the one rule engine answers."""
        asked = await _asked(request, asking.Measure)
        plan = self.room.desk.glance().plan
        found, destination, master = deeds.tried(plan, asked)
        return told({"crop": telling.crop(found, destination, master.finding)})

    async def people(self, request: Request) -> Response:
        """Look again for everybody in a master, so that they can be named."""
        asked = await _asked(request, asking.People)
        return await run_in_threadpool(self._people, asked)

    def _people(self, asked: asking.People) -> Response:
        current = self.room.desk.look()
        master = deeds.master_of(current.plan, asked.version)
        self.room.cabinet.seen(master)
        return told(_with_master(self.room, current, asked.version))

    async def choose(self, request: Request) -> Response:
        """Take a proposal."""
        asked = await _asked(request, asking.Choose)
        return await self._done(asked.revision, deeds.choose(self.room.desk, asked))

    async def adjust(self, request: Request) -> Response:
        """Take a crop made by hand."""
        asked = await _asked(request, asking.Adjust)
        return await self._done(asked.revision, deeds.adjust(self.room.desk, asked))

    async def mark(self, request: Request) -> Response:
        """Mark the people of a master."""
        asked = await _asked(request, asking.Mark)
        deed = deeds.mark(self.room.desk, self.room.cabinet, asked)
        return await self._done(asked.revision, deed)

    async def say(self, request: Request) -> Response:
        """Approve, hold, refuse."""
        asked = await _asked(request, asking.Say)
        return await self._done(asked.revision, deeds.say(self.room.desk, asked))

    async def fix(self, request: Request) -> Response:
        """Fix who goes where."""
        asked = await _asked(request, asking.Fix)
        current = await run_in_threadpool(self.room.desk.do, asked.revision, deeds.fix(asked))
        rivals = overview.set_of(current.plan, asked.set_name)
        shown = overview.rivals(current.plan, rivals, self.room.cabinet)
        return told({**_state(self.room, current), "set": shown})

    async def _done(self, revision: str, deed: Deed) -> Response:
        current = await run_in_threadpool(self.room.desk.do, revision, deed)
        return told(_with_changed(self.room, current, deed))

    async def undo(self, request: Request) -> Response:
        """Take the last step back."""
        asked = await _asked(request, asking.Back)
        current, step = await run_in_threadpool(self.room.desk.undo, asked.revision)
        return told(_state(self.room, current) | {"step": _step(step, "Taken back")})

    async def redo(self, request: Request) -> Response:
        """Do it again."""
        asked = await _asked(request, asking.Back)
        current, step = await run_in_threadpool(self.room.desk.redo, asked.revision)
        return told(_state(self.room, current) | {"step": _step(step, "Done again")})

    async def export(self, request: Request) -> Response:
        """Begin to write the files."""
        asked = await _asked(request, asking.Export)
        self.room.exporter.start(
            approved_only=asked.approved_only,
            everything=asked.everything,
            by_recipient=asked.by_recipient,
        )
        return told(self.room.exporter.progress.mapping(), 202)

    async def sheet(self, request: Request) -> Response:
        """Make the client's sheet."""
        asked = await _asked(request, asking.Sheet)
        desk = self.room.desk

        def make() -> str:
            return str(client_sheet(desk.look().plan, desk.job, approved_only=asked.approved_only))

        return told({"file": await run_in_threadpool(make), "address": "/client-sheet"})


def _leafed(request: Request) -> leafing.Asked:
    """Which page of the masters an address asks for."""
    words = request.query_params
    return leafing.asked_of(*(words.get(name, "") for name in ("show", "find", "page")))


def _state(room: Room, current: Current) -> dict[str, Any]:
    history = room.desk.history
    return {
        "revision": current.revision,
        "undo": history.to_undo.label if history.to_undo else None,
        "redo": history.to_redo.label if history.to_redo else None,
        "at": room.desk.clock().isoformat(timespec="seconds"),
    }


def _with_master(room: Room, current: Current, version: str) -> dict[str, Any]:
    master = deeds.master_of(current.plan, version)
    shown = telling.master(current.plan, master, room.cabinet.known(master))
    return {**_state(room, current), "master": shown}


def _with_changed(room: Room, current: Current, deed: Deed) -> dict[str, Any]:
    """The one card that a deed changed, else the whole master: a nudge need not tell it all."""
    if not deed.destination:
        return _with_master(room, current, deed.version)
    master = deeds.master_of(current.plan, deed.version)
    destination = deeds.destination_of(current.plan, master, deed.destination)
    card = telling.card(current.plan, master, destination)
    return {**_state(room, current), "card": card, "goes": telling.goes(current.plan, master)}


def _step(step: Any, did: str) -> dict[str, str] | None:
    if step is None:
        return None
    said = f"{did}: {step.label}"
    return {"said": said, "version": step.version, "destination": step.destination}


async def _asked(request: Request, kind: type[Wanted]) -> Wanted:
    """The request's JSON as a checked value; :class:`MisuseError` for anything else."""
    try:
        return kind.model_validate_json(await request.body())
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"]) or "the request"
        raise MisuseError(f"{place}: {first['msg'].lower()}") from error


def _handlers() -> dict[Any, Callable[[Request, Any], Awaitable[Response]]]:
    async def stale(request: Request, error: StaleError) -> Response:
        del request
        return told({"error": str(error), "stale": True}, 409)

    async def spoken(request: Request, error: CropperError) -> Response:
        del request
        return told({"error": str(error)}, 400)

    async def ours(request: Request, error: Exception) -> Response:
        del request
        traceback.print_exception(error, file=sys.stderr)
        return told({"error": OUR_FAULT}, 500)

    return {StaleError: stale, CropperError: spoken, Exception: ours}
