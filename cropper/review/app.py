"""The page's application: addresses, and what answers there. Guarded as a whole by ``guard``.

GET shows, POST does. Every action answers with the new revision and what it changed, so that the
page never guesses what the plan holds.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from cropper.errors import CropperError
from cropper.review.answers import Room, told
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Desk, StaleError
from cropper.review.doing import Doing
from cropper.review.errands import OUR_FAULT, Exporter
from cropper.review.finished import FinishedFiles
from cropper.review.guard import Guard, Keys
from cropper.review.own_files import environment
from cropper.review.pages import Pages
from cropper.review.preview_queue import PreviewQueue


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
        Route("/api/freeze", doing.freeze, methods=["POST"]),
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
