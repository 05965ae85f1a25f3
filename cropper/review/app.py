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
from urllib.parse import quote

from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from cropper._layout import finite
from cropper.errors import CropperError, MisuseError
from cropper.proof.overlays import LAYERS
from cropper.proof.words import VERDICTS as SAID
from cropper.review import asking, deeds, leafing, overview, telling, to_check
from cropper.review.cabinet import LENGTHS, Cabinet
from cropper.review.desk import Current, Deed, Desk, StaleError
from cropper.review.errands import CLIENT_SHEET, OUR_FAULT, Exporter, client_sheet
from cropper.review.finished import SHOWN, FinishedFiles, crop_to_finish
from cropper.review.guard import Guard, Keys
from cropper.review.job_words_edit import keep_words, words_told
from cropper.review.own_files import TYPES, environment, static
from cropper.review.preview_queue import ON_THE_WALL, RANKS, PreviewQueue
from cropper.review.whereabouts import runs_told
from cropper.review.written_files import file_named, files_told

SETS_NAMED: Final = 8
"""So many sets are named at the head of every page; the wall leads to more (house: a line)."""
MOST_DIGITS: Final = 4
JUMPS: Final = 200
"""So many neighbours of a master can be jumped to from its page (house: a list to be read)."""
VERDICTS: Final = {str(code): word for code, (word, _) in SAID.items()}
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
    previews: PreviewQueue
    finished: FinishedFiles
    wall: leafing.Wall = field(default_factory=leafing.Wall)


def application(
    desk: Desk, cabinet: Cabinet, keys: Keys, *, hosts: frozenset[str], port: int
) -> Guard:
    """The guarded application for one job folder."""
    cookie = f"cropper_review_{port}"
    desk.raw = cabinet.seen
    room = Room(
        desk=desk,
        cabinet=cabinet,
        exporter=Exporter(desk),
        keys=keys,
        cookie=cookie,
        previews=PreviewQueue(cabinet),
        finished=FinishedFiles(cabinet),
    )
    app = Starlette(routes=_routes(room), exception_handlers=_handlers())
    return Guard(app, keys=keys, hosts=hosts, cookie=cookie)


def _routes(room: Room) -> list[Route]:
    pages = Pages(room)
    doing = Doing(room)
    return [
        Route("/open", pages.open, methods=["GET"]),
        Route("/", pages.wall, methods=["GET"]),
        Route("/next", pages.next, methods=["GET"]),
        Route("/look/{version}", pages.look, methods=["GET"]),
        Route("/set/{name}", pages.rivals, methods=["GET"]),
        Route("/crops", pages.crops, methods=["GET"]),
        Route("/deliver", pages.deliver, methods=["GET"]),
        Route("/static/{name}", pages.static, methods=["GET"]),
        Route("/preview/{version}/{tag}/{longest:int}", pages.preview, methods=["GET"]),
        Route("/piece/{version}/{tag}/{column:int}/{row:int}", pages.piece, methods=["GET"]),
        Route("/finished/{version}/{destination}", pages.finished, methods=["GET"]),
        Route("/file/{name:path}", pages.file, methods=["GET"]),
        Route("/client-sheet", pages.sheet, methods=["GET"]),
        Route("/api/job", pages.job_told, methods=["GET"]),
        Route("/api/state", pages.state, methods=["GET"]),
        Route("/api/master/{version}", pages.master_told, methods=["GET"]),
        Route("/api/runs/{version}", pages.runs_told, methods=["GET"]),
        Route("/api/set/{name}", pages.set_told, methods=["GET"]),
        Route("/api/next", pages.next_told, methods=["GET"]),
        Route("/api/crops", pages.crops_told, methods=["GET"]),
        Route("/api/finished/{version}/{destination}", pages.finished_told, methods=["GET"]),
        Route("/api/export", pages.export_told, methods=["GET"]),
        Route("/api/measure", doing.measure, methods=["POST"]),
        Route("/api/people", doing.people, methods=["POST"]),
        Route("/api/choose", doing.choose, methods=["POST"]),
        Route("/api/adjust", doing.adjust, methods=["POST"]),
        Route("/api/mark", doing.mark, methods=["POST"]),
        Route("/api/say", doing.say, methods=["POST"]),
        Route("/api/note", doing.note, methods=["POST"]),
        Route("/api/many", doing.many, methods=["POST"]),
        Route("/api/words", doing.words, methods=["POST"]),
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
                verdicts=VERDICTS,
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

    def next(self, request: Request) -> Response:
        """The first crop that needs the photographer; the page for delivery when none does."""
        del request
        plan = self.room.desk.look().plan
        first = to_check.step(plan, to_check.Walk(), version="", destination="", key=None).found
        if first is None:
            return RedirectResponse("/deliver", 303)
        where = f"/look/{quote(first.version, safe='')}"
        key = ".".join(str(number) for number in first.key)
        return RedirectResponse(f"{where}?key={key}#{quote(first.destination, safe='')}", 303)

    def look(self, request: Request) -> Response:
        """One master at the large."""
        plan = self.room.desk.look().plan
        master = deeds.master_of(plan, request.path_params["version"])
        tag = self.room.cabinet.tag(master)
        versions = plan.shelf.versions
        first = max(0, versions.index(master.version) - JUMPS // 2)
        near = versions[first : first + JUMPS]
        return self._page(
            "look",
            master=master,
            tag=tag,
            versions=near,
            orders=to_check.ORDERS,
            states=to_check.STATES,
            destinations=plan.destinations,
        )

    def rivals(self, request: Request) -> Response:
        """A set: side by side, and who goes where."""
        plan = self.room.desk.look().plan
        rivals = overview.set_of(plan, request.path_params["name"])
        return self._page("rivals", rivals=rivals)

    def crops(self, request: Request) -> Response:
        """Many crops on one page: all of one picture, or all for one destination."""
        plan = self.room.desk.look().plan
        version, name = (request.query_params.get(one, "") for one in ("version", "destination"))
        if version:
            deeds.master_of(plan, version)
        destination = plan.destination(name or next((d.name for d in plan.destinations), ""))
        return self._page(
            "crops",
            version=version,
            destination=destination,
            destinations=plan.destinations,
            shows=leafing.SHOWS,
            asked=_leafed(request),
        )

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

    async def preview(self, request: Request) -> Response:
        """A master's preview; what is looked at comes before what stands on the wall."""
        master = deeds.master_of(self.room.desk.look().plan, request.path_params["version"])
        longest = request.path_params["longest"]
        if longest not in LENGTHS or request.path_params["tag"] != self.room.cabinet.tag(master):
            return told({"error": "There is no such preview."}, 404)
        rank = RANKS.get(request.query_params.get("for", ""), ON_THE_WALL)
        jpeg = await self.room.previews.preview(
            master, longest, rank=rank, gone=request.is_disconnected
        )
        if jpeg is None:
            return told({"error": "Nobody waits for this preview any more."}, 410)
        return Response(jpeg, media_type="image/jpeg", headers={"cache-control": KEPT_FOREVER})

    def piece(self, request: Request) -> Response:
        """A square of a master at its own pixels."""
        words = request.path_params
        master = deeds.master_of(self.room.desk.look().plan, words["version"])
        if words["tag"] != self.room.cabinet.tag(master):
            return told({"error": "There is no such piece."}, 404)
        jpeg = self.room.cabinet.piece(master, words["column"], words["row"])
        return Response(jpeg, media_type="image/jpeg", headers={"cache-control": KEPT_FOREVER})

    def _finished(self, request: Request) -> Any:
        plan = self.room.desk.look().plan
        master = deeds.master_of(plan, request.path_params["version"])
        destination = deeds.destination_of(plan, master, request.path_params["destination"])
        asked = request.query_params.get("proposal", "")
        index = (
            int(asked) if asked.isascii() and asked.isdigit() and len(asked) < MOST_DIGITS else None
        )
        crop = crop_to_finish(master, destination.name, index)
        return self.room.finished.of(master, destination, crop)

    def finished(self, request: Request) -> Response:
        """The finished file before it is written."""
        made = self._finished(request)
        return Response(made.data, media_type=made.media_type)

    def file(self, request: Request) -> Response:
        """A file that an export left in the job's folder."""
        name = request.path_params["name"]
        data, media_type = file_named(self.room.desk.job, name)
        shown = "inline" if media_type in SHOWN.values() else "attachment"
        return Response(data, media_type=media_type, headers={"content-disposition": shown})

    def finished_told(self, request: Request) -> Response:
        """What is to be said of it."""
        return told(self._finished(request).facts)

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
        """Only the revision, and what can be undone."""
        version = request.query_params.get("version", "")
        return told(_state(self.room, self.room.desk.look(), version))

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

    def crops_told(self, request: Request) -> Response:
        """Many crops: of one version, or for one destination page by page."""
        current = self.room.desk.look()
        version, name = (request.query_params.get(one, "") for one in ("version", "destination"))
        leaf = self.room.wall.leaf(current.plan, _leafed(request))
        versions = (version,) if version else leaf.versions
        if version:
            deeds.master_of(current.plan, version)
        listed = overview.crops(
            current.plan, self.room.cabinet, versions, destination="" if version else name
        )
        paged = {"page": leaf.page, "pages": 1 if version else leaf.pages, "found": leaf.found}
        return told({**_state(self.room, current, version), **paged, "crops": listed})

    def next_told(self, request: Request) -> Response:
        """Which crop needs the photographer next."""
        current = self.room.desk.look()
        words = request.query_params
        walk = to_check.Walk(
            order=words.get("order") or "serious",
            state=words.get("state") or "check",
            destination=words.get("destination", ""),
            find=words.get("find", ""),
        )
        step = to_check.step(
            current.plan,
            walk,
            version=words.get("version", ""),
            destination=words.get("at", ""),
            key=_key(words.get("key", "")),
            back=words.get("back") == "1",
        )
        return told({**_state(self.room, current), **_walked(self.room, current, step)})

    def export_told(self, request: Request) -> Response:
        """How far the export is."""
        del request
        progress = self.room.exporter.progress.mapping()
        if progress["told"] is not None:
            progress["told"] = {**progress["told"], "listed": files_told(self.room.desk.job)}
        return told(progress)


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

    async def note(self, request: Request) -> Response:
        """Keep a note."""
        asked = await _asked(request, asking.Note)
        return await self._done(asked.revision, deeds.note(asked))

    async def many(self, request: Request) -> Response:
        """One action on several crops."""
        asked = await _asked(request, asking.Many)
        deed, passed = deeds.many(self.room.desk, asked)
        current = await run_in_threadpool(self.room.desk.do, asked.revision, deed)
        return told({**_state(self.room, current), "passed": passed, "of": len(asked.items)})

    async def words(self, request: Request) -> Response:
        """Keep what is said of a version."""
        asked = await _asked(request, asking.Words)
        desk = self.room.desk
        deeds.master_of(desk.look().plan, asked.version)
        texts = asked.model_dump(include={"headline", "caption", "alt_text"})
        await run_in_threadpool(keep_words, desk.job, asked.version, texts)
        at = desk.clock().isoformat(timespec="seconds")
        return told({"words": words_told(desk.job, asked.version), "at": at})

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
        current, step = await run_in_threadpool(self.room.desk.undo, asked.revision, asked.version)
        return told(_state(self.room, current, asked.version) | {"step": _step(step, "Undone")})

    async def redo(self, request: Request) -> Response:
        """Do it again."""
        asked = await _asked(request, asking.Back)
        current, step = await run_in_threadpool(self.room.desk.redo, asked.revision, asked.version)
        return told(_state(self.room, current, asked.version) | {"step": _step(step, "Redone")})

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


def _state(room: Room, current: Current, version: str = "") -> dict[str, Any]:
    """The revision, and what can be undone: of one master, or of all when none is named."""
    history = room.desk.history
    to_undo, to_redo = (
        history.to_undo(current.plan, version),
        history.to_redo(current.plan, version),
    )
    return {
        "revision": current.revision,
        "undo": to_undo.label if to_undo else None,
        "redo": to_redo.label if to_redo else None,
        "at": room.desk.clock().isoformat(timespec="seconds"),
    }


def _key(text: str) -> to_check.Key | None:
    """A place in a walk, as the page was told it: three numbers with dots between them."""
    parts = text.split(".")
    if len(parts) != len(to_check.Key.__args__) or not all(  # type: ignore[attr-defined]
        one.isascii() and one.isdigit() and len(one) < len("1000000000") for one in parts
    ):
        return None
    first, second, third = (int(one) for one in parts)
    return (first, second, third)


def _walked(room: Room, current: Current, step: to_check.Step) -> dict[str, Any]:
    def said(one: to_check.Crop | None) -> dict[str, Any] | None:
        master = current.plan.master(one.version) if one is not None else None
        if one is None or master is None:
            return None
        return {
            "version": one.version,
            "destination": one.destination,
            "key": ".".join(str(number) for number in one.key),
            "tag": room.cabinet.tag(master),
            "width": master.width,
            "height": master.height,
        }

    return {
        "next": said(step.found),
        "here": said(step.here),
        "place": step.place,
        "of": step.of,
        "approved": step.approved,
        "crops": step.crops,
        "no_crop": step.no_crop,
    }


def _with_master(room: Room, current: Current, version: str) -> dict[str, Any]:
    master = deeds.master_of(current.plan, version)
    shown = telling.master(current.plan, master, room.cabinet.known(master))
    shown["words"] = words_told(room.desk.job, version)
    return {**_state(room, current, version), "master": shown}


def _with_changed(room: Room, current: Current, deed: Deed) -> dict[str, Any]:
    """The one card that a deed changed, else the whole master: a nudge need not tell it all."""
    if not deed.destination:
        return _with_master(room, current, deed.version)
    master = deeds.master_of(current.plan, deed.version)
    destination = deeds.destination_of(current.plan, master, deed.destination)
    card = telling.card(current.plan, master, destination)
    return {
        **_state(room, current, deed.version),
        "card": card,
        "goes": telling.goes(current.plan, master),
    }


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
        return _refused(request, str(error), 400)

    async def nothing(request: Request, error: Exception) -> Response:
        del error
        return _refused(request, "There is nothing here.", 404)

    async def ours(request: Request, error: Exception) -> Response:
        traceback.print_exception(error, file=sys.stderr)
        return _refused(request, OUR_FAULT, 500)

    return {StaleError: stale, CropperError: spoken, 404: nothing, Exception: ours}


def _refused(request: Request, sentence: str, status: int) -> Response:
    """A sentence: as a page for somebody who followed a link, as JSON for the page itself."""
    if "text/html" not in request.headers.get("accept", "") or request.url.path[:5] == "/api/":
        return told({"error": sentence}, status)
    html = environment().get_template("refused.html").render(sentence=sentence)
    return HTMLResponse(html, status)
