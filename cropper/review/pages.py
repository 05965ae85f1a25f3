"""Everything that only shows: pages, pictures, and their state as JSON. GET changes nothing."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any, Final
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from cropper.proof.overlays import LAYERS
from cropper.proposal.proposal import VERDICT_WORDS
from cropper.review import deeds, leafing, overview, to_check
from cropper.review.answers import (
    Room,
    key_of,
    leafed,
    state_told,
    told,
    walked,
    with_master,
)
from cropper.review.cabinet import LENGTHS
from cropper.review.errands import CLIENT_SHEET
from cropper.review.finished import SHOWN, crop_to_finish
from cropper.review.own_files import TYPES, environment, static
from cropper.review.preview_queue import ON_THE_WALL, RANKS
from cropper.review.whereabouts import runs_told
from cropper.review.written_files import file_named, files_told

SETS_NAMED: Final = 8
"""So many sets are named at the head of every page; the wall leads to more (house: a line)."""
MOST_DIGITS: Final = 4
JUMPS: Final = 200
"""So many neighbours of a master can be jumped to from its page (house: a list to be read)."""
KEPT_FOREVER: Final = "private, max-age=31536000, immutable"


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
                verdicts=VERDICT_WORDS,
                **values,
            )
        )
        return HTMLResponse(html)

    def wall(self, request: Request) -> Response:
        """A page of the masters with every destination, the worst first."""
        plan = self.room.desk.look().plan
        leaf = self.room.wall.leaf(plan, leafed(request))
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
            asked=leafed(request),
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
        proposal = crop_to_finish(master, destination.name, index)
        return self.room.finished.of(master, destination, proposal)

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
        leaf = self.room.wall.leaf(current.plan, leafed(request))
        listed = overview.deliverables(current.plan, self.room.cabinet, leaf.versions)
        counted = {name: getattr(leaf, name) for name in ("page", "pages", "crops", "approved")}
        return told({**state_told(self.room, current), **counted, "deliverables": listed})

    def state(self, request: Request) -> Response:
        """Only the revision, and what can be undone."""
        version = request.query_params.get("version", "")
        return told(state_told(self.room, self.room.desk.look(), version))

    def master_told(self, request: Request) -> Response:
        """One master with all its crops."""
        current = self.room.desk.look()
        return told(with_master(self.room, current, request.path_params["version"]))

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
        return told({**state_told(self.room, current), "set": shown})

    def crops_told(self, request: Request) -> Response:
        """Many crops: of one version, or for one destination page by page."""
        current = self.room.desk.look()
        version, name = (request.query_params.get(one, "") for one in ("version", "destination"))
        leaf = self.room.wall.leaf(current.plan, leafed(request))
        versions = (version,) if version else leaf.versions
        if version:
            deeds.master_of(current.plan, version)
        listed = overview.crops(
            current.plan, self.room.cabinet, versions, destination="" if version else name
        )
        paged = {"page": leaf.page, "pages": 1 if version else leaf.pages, "found": leaf.found}
        return told({**state_told(self.room, current, version), **paged, "crops": listed})

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
            key=key_of(words.get("key", "")),
            back=words.get("back") == "1",
        )
        return told({**state_told(self.room, current), **walked(self.room, current, step)})

    def export_told(self, request: Request) -> Response:
        """How far the export is."""
        del request
        progress = self.room.exporter.progress.mapping()
        if progress["told"] is not None:
            progress["told"] = {**progress["told"], "listed": files_told(self.room.desk.job)}
        return told(progress)
