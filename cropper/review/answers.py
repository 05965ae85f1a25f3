"""What the endpoints share: the job at hand, and how its state is told as JSON."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse

from cropper._layout import finite
from cropper.review import deeds, leafing, telling, to_check
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Current, Deed, Desk
from cropper.review.errands import Exporter
from cropper.review.finished import FinishedFiles
from cropper.review.guard import Keys
from cropper.review.job_words_edit import words_told
from cropper.review.preview_queue import PreviewQueue


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


def told(value: Any, status: int = 200) -> JSONResponse:
    """JSON without infinities."""
    return JSONResponse(finite(value), status)


def leafed(request: Request) -> leafing.Asked:
    """Which page of the masters an address asks for."""
    words = request.query_params
    return leafing.asked_of(*(words.get(name, "") for name in ("show", "find", "page")))


def state_told(room: Room, current: Current, version: str = "") -> dict[str, Any]:
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


def key_of(text: str) -> to_check.Key | None:
    """A place in a walk, as the page was told it: three numbers with dots between them."""
    parts = text.split(".")
    if len(parts) != len(to_check.Key.__args__) or not all(  # type: ignore[attr-defined]
        one.isascii() and one.isdigit() and len(one) < len("1000000000") for one in parts
    ):
        return None
    first, second, third = (int(one) for one in parts)
    return (first, second, third)


def walked(room: Room, current: Current, step: to_check.Step) -> dict[str, Any]:
    """Where a walk stands, and what comes next."""

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


def with_master(room: Room, current: Current, version: str) -> dict[str, Any]:
    """The state with one master and all its crops."""
    master = deeds.master_of(current.plan, version)
    shown = telling.master(current.plan, master, room.cabinet.known(master))
    shown["words"] = words_told(room.desk.job, version)
    return {**state_told(room, current, version), "master": shown}


def with_changed(room: Room, current: Current, deed: Deed) -> dict[str, Any]:
    """The one card that a deed changed, else the whole master: a nudge need not tell it all."""
    if not deed.destination:
        return with_master(room, current, deed.version)
    master = deeds.master_of(current.plan, deed.version)
    destination = deeds.destination_of(current.plan, master, deed.destination)
    card = telling.card(current.plan, master, destination)
    return {
        **state_told(room, current, deed.version),
        "card": card,
        "goes": telling.goes(current.plan, master),
    }


def step_told(step: Any, did: str) -> dict[str, str] | None:
    """A step of undo in words, and where it was."""
    if step is None:
        return None
    said = f"{did}: {step.label}"
    return {"said": said, "version": step.version, "destination": step.destination}
