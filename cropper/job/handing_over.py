"""One recipient's files in one folder, with their credits and terms, and a note of who got what.

JOB/deliveries/model-20270301/    the files, contact.html to look at, credits.txt to copy from
JOB/deliveries.jsonl              a line for each delivery: when, to whom, which files, which terms

Only files that are as the manifest lists them leave; they are copied, and stay where they are.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from html import escape
from itertools import count
from pathlib import Path, PurePosixPath
from typing import Any, Final
from urllib.parse import quote

from cropper import disk
from cropper.deliverable.manifest import MANIFEST, Delivered
from cropper.deliverable.manifest_reading import delivered_from, refuse_newer, rows_of
from cropper.deliverable.naming import first_free, folded
from cropper.deliverable.writing import write_whole
from cropper.errors import JobError, MisuseError
from cropper.job.file_names import recipient_folder
from cropper.job.putting import appended
from cropper.job.store import DELIVERABLES, JobFolder, reason

FOLDER: Final = "deliveries"
JOURNAL: Final = "deliveries.jsonl"
CONTACT: Final = "contact.html"
CREDITS: Final = "credits.txt"
SHOWN_BY_BROWSERS: Final = (".jpg", ".png", ".webp", ".avif")
EXPORT_FIRST: Final = "Export first: cropper export --job FOLDER"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHanded:
    """One file as it left: its name in the folder, and what was said of it."""

    file: str
    sha256: str
    version: str
    destination: str
    credit_line: str
    usage_terms: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """One delivery: when (UTC, ISO 8601), to whom, the folder below the job, and its files."""

    at: str
    recipient: str
    folder: str
    files: tuple[FileHanded, ...]


def hand_over(job: Path, recipient: str, *, now: datetime, zipped: bool) -> Delivery:
    """Copy a recipient's files of the last export into a folder of their own, and note it.

    ``zipped``: the folder also as one file beside it. Raises :class:`JobError` when nothing was
    exported or a file is not as it was, :class:`MisuseError` for a recipient that has no file; then
    nothing is written.
    """
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        rows = _rows_for(job, recipient)
        contents = [_sound(job / DELIVERABLES / row.file, row.sha256) for row in rows]
        place = _new_place(job, recipient, now)
        names = _names(rows)
        for name, data in zip(names, contents, strict=True):
            write_whole(place / name, data, within=job)
        for name, text in ((CREDITS, _credits(names, rows)), (CONTACT, _contact(names, rows))):
            write_whole(place / name, text.encode(), within=job)
        if zipped:
            _pack(place, (*names, CREDITS, CONTACT))
        delivery = Delivery(
            at=now.isoformat(timespec="seconds"),
            recipient=rows[0].recipient,
            folder=place.relative_to(job).as_posix(),
            files=tuple(map(_handed, names, rows)),
        )
        line = json.dumps(asdict(delivery), ensure_ascii=False, separators=(",", ":"))
        appended(job / JOURNAL, line + "\n")
        return delivery


def deliveries(job: Path, recipient: str = "") -> Iterator[dict[str, Any]]:
    """What was delivered, oldest first; with ``recipient``, to them alone."""
    path = job / JOURNAL
    try:
        with disk.plain(path).open(encoding="utf-8") as file:
            for line in disk.lines(file):
                told = json.loads(line) if line.endswith("\n") else {}
                if told and folded(recipient) in {"", folded(str(told["recipient"]))}:
                    yield told
    except FileNotFoundError:
        return
    except (OSError, ValueError, TypeError, KeyError, RecursionError) as error:
        said = reason(error) if isinstance(error, OSError) else "it is damaged"
        raise JobError(
            f"{path} cannot be read ({said})", way_out="Restore it from a copy, or move it away"
        ) from error


def _rows_for(job: Path, recipient: str) -> list[Delivered]:
    manifest = job / DELIVERABLES / MANIFEST
    try:
        refuse_newer(manifest)
        rows = [delivered_from(one) for one in rows_of(manifest)]
    except FileNotFoundError as error:
        raise JobError(f"{job} was not exported yet", way_out=EXPORT_FIRST) from error
    except (OSError, ValueError) as error:
        raise JobError(f"{manifest} is damaged", way_out="Export again") from error
    mine = [one for one in rows if one.recipient and folded(one.recipient) == folded(recipient)]
    if not mine:
        known = sorted({one.recipient for one in rows if one.recipient})
        if not known:
            raise JobError(
                "no file of this job names a recipient",
                way_out=f"Plan for a destination that has one, such as client. {EXPORT_FIRST}",
            )
        raise MisuseError(
            f"nothing of this job goes to '{recipient}'", way_out=f"It goes to {', '.join(known)}"
        )
    return mine


def _sound(path: Path, sha256: str) -> bytes:
    """The bytes of a file that is as the manifest has it."""
    import hashlib  # noqa: PLC0415 - only here

    try:
        data = disk.plain(path).read_bytes()
    except OSError as error:
        data, said = b"", reason(error)
    else:
        said = "it is not what was exported"
    if hashlib.sha256(data).hexdigest() != sha256:
        raise JobError(
            f"{path} does not leave: {said}",
            way_out="Look into it first: cropper verify --job FOLDER",
        )
    return data


def _new_place(job: Path, recipient: str, now: datetime) -> Path:
    """A folder that is not there yet, named after the recipient and the day."""
    name = f"{recipient_folder(recipient)}-{now.astimezone():%Y%m%d}"
    tried = (job / FOLDER / (name if one == 1 else f"{name}-{one}") for one in count(1))
    return next(one for one in tried if not one.exists())


def _names(rows: Sequence[Delivered]) -> list[str]:
    taken = {folded(CREDITS), folded(CONTACT)}
    names = []
    for row in rows:
        name = first_free(PurePosixPath(row.file).name, taken)
        taken.add(folded(name))
        names.append(name)
    return names


def _handed(name: str, row: Delivered) -> FileHanded:
    return FileHanded(
        file=name,
        sha256=row.sha256,
        version=row.version,
        destination=row.destination,
        credit_line=row.credit_line,
        usage_terms=row.usage_terms,
    )


def _credits(names: Sequence[str], rows: Sequence[Delivered]) -> str:
    """Each file with its size, credit line and terms, in plain text."""
    parts = []
    for name, row in zip(names, rows, strict=True):
        lines = [name, f"{row.width} x {row.height} px, for {row.destination}"]
        lines += [f"Credit: {row.credit_line}"] * bool(row.credit_line)
        lines.append(f"Terms: {row.usage_terms or 'none were stated; ask the photographer'}")
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _contact(names: Sequence[str], rows: Sequence[Delivered]) -> str:
    """A page of all files beside it; it needs no network."""
    figures = "\n".join(_figure(name, row) for name, row in zip(names, rows, strict=True))
    return f"""<!doctype html>
<html lang="en"><meta charset="utf-8"><title>{escape(rows[0].recipient)}</title>
<style>body{{font:16px/1.4 sans-serif;margin:2rem;display:flex;flex-wrap:wrap;gap:1.5rem}}
figure{{margin:0;width:15rem}}img{{width:100%;height:auto}}
figcaption{{overflow-wrap:anywhere}}</style>
{figures}
</html>
"""


def _figure(name: str, row: Delivered) -> str:
    shown = ""
    if name.lower().endswith(SHOWN_BY_BROWSERS):
        shown = (
            f'<img src="{quote(name)}" alt="{escape(row.version)}" '
            f'width="{row.width}" height="{row.height}">'
        )
    said = [name, f"{row.width} x {row.height} px", row.credit_line, row.usage_terms]
    words = "<br>".join(escape(one) for one in said if one)
    return f"<figure>{shown}<figcaption>{words}</figcaption></figure>"


def _pack(place: Path, names: Sequence[str]) -> None:
    """The folder as one file beside it, whole or not at all. Pictures are packed already."""
    target = place.with_name(f"{place.name}.zip")
    try:
        with disk.whole(target, "wb") as file, zipfile.ZipFile(file, "w") as archive:
            for name in names:
                archive.write(place / name, f"{place.name}/{name}")
    except OSError as error:
        raise JobError(
            f"{target} could not be written ({reason(error)})", way_out="Make room on the disk"
        ) from error
