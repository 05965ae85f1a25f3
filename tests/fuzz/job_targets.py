"""The readers of what stands in a job folder, and of what the review page is asked."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from cropper.errors import CropperError
from tests.fuzz.job_corpus import ASKED, REVISION

Target = Callable[[Path, bytes], None]


def cards(folder: Path, data: bytes) -> None:
    from cropper.job.store import JobFolder  # noqa: PLC0415 - only in the child

    (folder / "planned").mkdir(exist_ok=True)
    (folder / "planned" / "cards.jsonl").write_bytes(data)
    for card in JobFolder(folder).shelf.cards().values():
        list(card.rows())
        card.json_line()


def ledger(folder: Path, data: bytes) -> None:
    from cropper.job.ledger import JOURNAL, read_ledger  # noqa: PLC0415
    from cropper.job.store import LEDGER  # noqa: PLC0415

    is_journal = data.startswith(b'{"folder"')
    for name in (JOURNAL, LEDGER):
        (folder / name).unlink(missing_ok=True)
    (folder / (JOURNAL if is_journal else LEDGER)).write_bytes(data)
    read_ledger(folder)


def manifest(folder: Path, data: bytes) -> None:
    from cropper.batch.verifying import verify  # noqa: PLC0415
    from cropper.deliverable.manifest_reading import head_of  # noqa: PLC0415
    from cropper.job.texts import texts_before  # noqa: PLC0415
    from cropper.record.naming import pieces_of_job  # noqa: PLC0415

    at = folder / "deliverables"
    at.mkdir(exist_ok=True)
    (at / "manifest.json").write_bytes(data)
    texts_before(at / "manifest.json")
    verify(at)
    head_of(at / "manifest.json", "made_at")
    pieces_of_job(folder, {})


def fingerprint(folder: Path, data: bytes) -> None:
    from cropper.likeness import fingerprint as kept  # noqa: PLC0415
    from cropper.likeness import shelf as shelves  # noqa: PLC0415

    file = folder / "shelf.npz"
    file.write_bytes(data)
    one, found = kept.from_bytes(data), shelves.opened(file)
    if one is None and found is None:
        raise CropperError("it is no fingerprint: it will be made anew")
    if found is not None:
        shelves.joined([shelves.picked(found[0], found[0].names)])
    if one is not None:
        shelves.shelf([one])


def asked(folder: Path, data: bytes) -> None:
    """A request to the page, past its guard: the first line says which."""
    route, _, body = data.partition(b"\n")
    if route.decode("utf-8", "replace") not in ASKED:
        raise CropperError("there is no such question, and any page would be told so")
    app, state = _page(folder)
    status, told = asyncio.run(_answer(app, route.decode(), body.replace(REVISION, state())))
    if status >= 500:
        raise AssertionError(f"{status}: {told.decode()}")
    if status >= 400:
        raise CropperError(told.decode())


@cache
def _page(folder: Path) -> tuple[Any, Callable[[], bytes]]:
    from cropper.job.store import JobFolder  # noqa: PLC0415
    from cropper.review.app import application  # noqa: PLC0415
    from cropper.review.cabinet import Cabinet  # noqa: PLC0415
    from cropper.review.desk import Desk  # noqa: PLC0415
    from cropper.review.guard import Keys  # noqa: PLC0415
    from tests.harness.quick import QuickLooker  # noqa: PLC0415
    from tests.harness.steps import Small  # noqa: PLC0415

    small = Small(folder / "page")
    small.home.mkdir()
    small.prepare()
    job = small.fresh()
    small.work(job)
    cabinet = Cabinet(job, QuickLooker)
    page = application(Desk(job), cabinet, Keys(), hosts=frozenset({"here"}), port=8123)

    def state() -> bytes:
        return JobFolder(job).revision(JobFolder(job).must_read()).encode()

    return page.app, state


async def _answer(app: Any, path: str, body: bytes) -> tuple[int, bytes]:
    """What the application says to a POST."""
    told: list[Mapping[str, Any]] = []

    async def receive() -> Mapping[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Mapping[str, Any]) -> None:
        told.append(message)

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST",
        "scheme": "http", "path": path, "raw_path": path.encode(), "query_string": b"",
        "root_path": "", "headers": [(b"content-type", b"application/json")],
        "client": None, "server": ("here", 80),
    }  # fmt: skip
    await app(scope, receive, send)
    return told[0]["status"], b"".join(one.get("body", b"") for one in told)


TARGETS: Mapping[str, Target] = {
    "cards": cards,
    "ledger": ledger,
    "manifest": manifest,
    "fingerprint": fingerprint,
    "asked": asked,
}
