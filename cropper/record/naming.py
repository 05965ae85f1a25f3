"""What was typed, as values of the record: which piece a file is, which zone a date is in."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from uuid import uuid4

from cropper.deliverable.manifest import MANIFEST
from cropper.deliverable.manifest_reading import lists, rows_of
from cropper.disk import sha256_of
from cropper.errors import MisuseError, RecordError
from cropper.publication.dates import read_instant, zone_called
from cropper.publication.facts import Asked
from cropper.publication.outlets import Outlet
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.spans import Span
from cropper.record.record import Record

DELIVERED: Final = "delivered"


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A run as somebody typed it: dates and zone still as words."""

    file: str
    outlet: str
    start: str
    until: str | None = None
    zone: str | None = None
    address: str = ""
    issue: str = ""
    page: str = ""
    who: str = ""
    note: str = ""
    planned: bool = False


def run_of_typed(record: Record, typed: Typed) -> Run:
    """The run that was typed; raises for an unknown file or outlet, and for a date that is none."""
    piece = piece_at(record, typed.file)
    outlet = outlet_called(record, typed.outlet)
    zone = zone_for(outlet, typed.zone)
    start = read_instant(typed.start, zone)
    until = read_instant(typed.until, zone) if typed.until else None
    return Run(
        id=uuid4().hex[:8],
        piece=piece.sha256,
        version=piece.version,
        set=piece.set,
        destination=piece.destination,
        outlet=outlet.name,
        span=Span(start, until),
        zone=zone,
        state=RunState.PLANNED if typed.planned else RunState.LIVE,
        address=typed.address,
        issue=typed.issue,
        page=typed.page,
        who=typed.who,
        note=typed.note,
    )


def said_already(record: Record, run: Run) -> Run | None:
    """A run on record of the same piece, at the same outlet, for the same span."""
    there = record.facts(Asked(outlets=(run.outlet,), pieces=(run.piece,), span=run.span)).runs
    alike = (one for one in there if one.counts and one.piece == run.piece)
    return next((one for one in alike if (one.outlet, one.span) == (run.outlet, run.span)), None)


def piece_at(record: Record, file: str) -> Piece:
    """The piece in ``file``, by its content; by its name when the file is not at hand."""
    path = Path(file)
    if path.is_file():
        piece = record.piece(digest_of(path))
        if piece is not None:
            return piece
        raise RecordError(
            f"the record does not know {file}",
            way_out="Take in its job first: cropper record job DIR. If it was changed since,"
            " `cropper identify` may tell what it is",
        )
    named = record.pieces_called(path.name)
    if len(named) == 1:
        return named[0]
    if named:
        raise MisuseError(
            f"{len(named)} files called {path.name} are on record", way_out="Give the file itself"
        )
    raise RecordError(
        f"there is no file {file}, and none of that name is on record", way_out="Check the name"
    )


def digest_of(path: Path) -> str:
    """SHA-256 of a file, as hexadecimal [FIPS 180-4]."""
    try:
        return sha256_of(path)
    except OSError as error:
        raise RecordError(f"{path} cannot be read ({error.strerror})") from error


def outlet_called(record: Record, name: str) -> Outlet:
    """The outlet of that name; raises with those that are known."""
    outlets = record.facts(Asked(versions=("",))).outlets
    if name in outlets:
        return outlets[name]
    raise RecordError(
        f"the record knows no outlet '{name}'",
        way_out=f"Known: {', '.join(sorted(outlets)) or 'none yet'}. Add it to outlets.toml, then:"
        " cropper record outlets FILE",
    )


def zone_for(outlet: Outlet | None, given: str | None) -> str:
    """In which zone a plain date begins: as given, else the outlet's, the machine's, or UTC."""
    zone = given or (outlet.zone if outlet else "") or machine_zone()
    zone_called(zone)
    return zone


def machine_zone() -> str:
    """The machine's zone by its IANA name, or UTC where it has none."""
    named = os.environ.get("TZ", "").removeprefix(":")
    if not named:
        try:
            named = str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
        except OSError:
            named = ""
    try:
        zone_called(named or "UTC")
    except MisuseError:
        return "UTC"
    return named or "UTC"


def pieces_of_job(job: Path, people: Mapping[str, tuple[str, ...]]) -> tuple[Piece, ...]:
    """The finished files that a job's manifest lists. ``people``: by version, who is in it.

    Raises :class:`RecordError` when there is no manifest, or it is not what export writes.
    """
    found = [job / MANIFEST, job / "deliverables" / MANIFEST]
    path = next((one for one in found if one.is_file()), None)
    if path is None:
        raise RecordError(f"{job} holds no manifest", way_out="Export first: cropper export --job")
    try:
        return tuple(_piece(row, job, people) for row in _rows(path))
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise RecordError(
            f"{path} is not a manifest of an export ({type(error).__name__})",
            way_out="Export the job again",
        ) from error


def _rows(manifest: Path) -> Iterator[Mapping[str, Any]]:
    if not lists(manifest, DELIVERED):
        raise ValueError("it lists no files")
    return rows_of(manifest, DELIVERED)


def _piece(row: Mapping[str, Any], job: Path, people: Mapping[str, tuple[str, ...]]) -> Piece:
    x0, y0, x1, y1 = (int(edge) for edge in row["crop"])
    version = str(row["version"])
    return Piece(
        sha256=str(row["sha256"]),
        file=Path(str(row["file"])).name,
        version=version,
        destination=str(row["destination"]),
        master_sha256=str(row["master_sha256"]),
        set=row.get("set"),
        crop=(x0, y0, x1, y1),
        straighten_deg=float(row["straighten_deg"]),
        width=int(row["width"]),
        height=int(row["height"]),
        people=people.get(version, people.get("", ())),
        job=job.resolve().name,
    )


def sets_of(pieces: tuple[Piece, ...], known: Mapping[str, SetRules]) -> tuple[SetRules, ...]:
    """The sets that pieces belong to, joined with what is known of them."""
    named: dict[str, list[str]] = {}
    for piece in pieces:
        if piece.set:
            named.setdefault(piece.set, []).append(piece.version)
    return tuple(
        SetRules(
            name=name,
            versions=tuple(
                dict.fromkeys((*(known[name].versions if name in known else ()), *versions))
            ),
            rest_days=known[name].rest_days if name in known else 0,
        )
        for name, versions in named.items()
    )
