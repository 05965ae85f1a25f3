"""What counts now as one JSON document, and as CSV of runs, for other programs; and back in.

History stays behind: that is what a backup is for (:mod:`cropper.record.backing`).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import IO, Any, Final

from cropper.deliverable.manifest import RUNS_AS_FORMULA, harmless
from cropper.errors import CropperError, RecordError, RivalsError
from cropper.publication.dates import Order, read_instant, typed, zone_called
from cropper.publication.facts import Asked, Facts
from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.spans import Span
from cropper.record.bodies import body_of, value_of
from cropper.record.naming import machine_zone
from cropper.record.record import Record
from cropper.record.rows import Stamp
from cropper.record.spreadsheet import rows_of

FORMAT: Final = 1
NAMED_ROWS: Final = 100
"""Faulty rows that are named one by one; the rest is counted (house)."""

COLUMNS: Final = (
    "run",
    "piece",
    "version",
    "set",
    "destination",
    "outlet",
    "from",
    "until",
    "zone",
    "state",
    "address",
    "issue",
    "page",
    "who",
    "note",
)
"""The columns of a CSV of runs. ``piece`` is the file's SHA-256; an empty ``until`` is open.

``from`` and ``until`` are told in the run's ``zone``: a plain date where it is midnight there.
"""
NEEDED: Final = ("version", "outlet", "from")


LISTS: Final[Mapping[str, type[Any]]] = {
    "outlets": Outlet,
    "pieces": Piece,
    "sets": SetRules,
    "licences": Licence,
    "releases": Release,
    "runs": Run,
}
"""The lists of a document, and what each holds."""


def document(facts: Facts) -> dict[str, Any]:
    """Everything that counts, as plain JSON values."""
    return {
        "format": FORMAT,
        "outlets": [body_of(one) for one in facts.outlets.values()],
        "pieces": [body_of(replace(one, recorded_at=None)) for one in facts.pieces],
        "sets": [body_of(one) for one in facts.sets.values()],
        "licences": [body_of(replace(one, recorded_at=None)) for one in facts.licences],
        "releases": [body_of(one) for one in facts.releases.values()],
        "barred": dict(facts.barred),
        "runs": [body_of(replace(one, recorded_at=None)) for one in facts.runs],
    }


def take_document(record: Record, text: str, stamp: Stamp) -> Taken:
    """Take in a document that :func:`document` wrote; runs that clash are named, not taken."""
    try:
        told = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise RecordError(f"this is no JSON: {error}", way_out="Check the file") from error
    if not isinstance(told, dict) or told.get("format") != FORMAT:
        raise RecordError(
            "this is no document of a record that this cropper knows",
            way_out="Give one that `cropper record save NAME.json` wrote",
        )
    outlets, pieces, sets, licences, releases, runs = (
        tuple(_values(told, name, kind)) for name, kind in LISTS.items()
    )
    barred = _barred(told)  # everything is read before anything is kept
    record.keep_outlets(outlets, stamp)
    record.take_in(pieces, stamp)
    for rules in sets:
        record.keep_set(rules, stamp)
    for licence in licences:
        record.keep_licence(licence, stamp)
    for release in releases:
        record.keep_release(release, stamp)
    for version, why in barred.items():
        record.bar(version, why, stamp)
    return _taken(record, enumerate(runs, 1), stamp, lambda _: None)


def _barred(told: Mapping[str, Any]) -> dict[str, str]:
    """Versions that may run nowhere, and why."""
    barred = told.get("barred", {})
    if isinstance(barred, dict) and all(isinstance(why, str) for why in barred.values()):
        return barred
    raise RecordError(
        "'barred' does not say why each version may run nowhere",
        way_out='Write {"VERSION": "why"}; nothing was kept',
    )


def _values(told: Mapping[str, Any], name: str, kind: type[Any]) -> Iterator[Any]:
    bodies = told.get(name, [])
    if not isinstance(bodies, list):
        raise RecordError(f"'{name}' is not a list", way_out="Check the file")
    for number, body in enumerate(bodies, 1):
        try:
            yield value_of(kind, body)
        except CropperError as error:
            raise error.inside(str(number)).inside(name) from error


def write_runs(runs: Iterable[Run], out: IO[str]) -> int:
    """CSV of runs, a row each; no cell that a spreadsheet would run as a formula."""
    rows = csv.writer(out, lineterminator="\r\n")
    rows.writerow(COLUMNS)
    count = 0
    for run in runs:
        rows.writerow([harmless(one) for one in _cells(run)])
        count += 1
    return count


def _cells(run: Run) -> list[str]:
    return [
        run.id,
        run.piece,
        run.version,
        run.set or "",
        run.destination,
        run.outlet,
        typed(run.span.start, run.zone),
        typed(run.span.until, run.zone) if run.span.until else "",
        run.zone,
        str(run.state),
        run.address,
        run.issue,
        run.page,
        run.who,
        run.note,
    ]


@dataclass(slots=True)
class Taken:
    """What came of taking runs in: how many, and what is wrong with which row.

    ``strangers``: versions that the record does not know, and the first row of each.
    """

    kept: int = 0
    known: int = 0
    clashing: int = 0
    faulty: int = 0
    named: list[tuple[int, str]] = field(default_factory=list)
    strangers: dict[str, int] = field(default_factory=dict)

    def name(self, row: int, why: str) -> None:
        """Remember a row, while there are not too many."""
        if len(self.named) < NAMED_ROWS:
            self.named.append((row, why))


def take_runs(
    record: Record,
    lines: Iterable[str],
    stamp: Stamp,
    *,
    zone: str | None = None,
    order: Order | None = None,
    heard: Callable[[int], None] = lambda _: None,
) -> Taken:
    """Take in a CSV of runs, row by row; a faulty or clashing row stops none of the others.

    A plain date begins at midnight in the row's zone, else in ``zone``, else in its outlet's. A row
    without a number that is on record already is known, so that a table may be loaded again.
    Raises :class:`RecordError` for a file without the needed columns.
    """
    if zone:
        zone_called(zone)
    rows = rows_of(lines)
    given = rows.fieldnames or []
    lacking = [name for name in NEEDED if name not in given]
    if lacking:
        raise RecordError(
            f"the CSV has no column {', '.join(lacking)}",
            way_out=f"Its first line names columns; known are {', '.join(COLUMNS)}",
        )
    outlets = record.facts(Asked(versions=("",))).outlets
    where = {name: zone or one.zone or machine_zone() for name, one in outlets.items()}
    first_rows: dict[str, int] = {}
    taken = _taken(record, _numbered(rows, where, order, first_rows), stamp, heard)
    taken.strangers = {one: first_rows[one] for one in record.strangers(first_rows)}
    return taken


def _numbered(
    rows: csv.DictReader[str],
    zones: Mapping[str, str],
    order: Order | None,
    first_rows: dict[str, int],
) -> Iterator[tuple[int, Run | CropperError]]:
    """Each row with its number, as a spreadsheet counts; ``first_rows`` fills by version."""
    number = 1
    while True:
        number += 1
        try:
            row = next(rows, None)
            if row is None:
                return
            run = run_of_row(row, zones, order)
            first_rows.setdefault(run.version, number)
            yield number, run
        except CropperError as error:
            yield number, error
        except (csv.Error, UnicodeDecodeError, ValueError) as error:
            yield number, RecordError(str(error))


def run_of_row(row: Mapping[str, Any], zones: Mapping[str, str], order: Order | None = None) -> Run:
    """A run from the cells of a row, its ``id`` empty where the row gives none.

    ``zones``: by outlet, in which zone plain dates begin; UTC for an outlet that is unknown.
    Raises :class:`CropperError` for what cannot be a run.
    """
    cell = {key: _plain(one) for key, one in row.items() if isinstance(one, str)}
    own = cell.get("zone") or zones.get(cell.get("outlet", ""), "UTC")
    until = cell.get("until", "")
    return Run(
        id=cell.get("run", ""),
        piece=cell.get("piece", ""),
        version=cell.get("version", ""),
        set=cell.get("set") or None,
        destination=cell.get("destination", ""),
        outlet=cell.get("outlet", ""),
        span=Span(
            read_instant(cell.get("from", ""), own, order),
            read_instant(until, own, order) if until else None,
        ),
        zone=own,
        state=_state(cell.get("state", "")),
        address=cell.get("address", ""),
        issue=cell.get("issue", ""),
        page=cell.get("page", ""),
        who=cell.get("who", ""),
        note=cell.get("note", ""),
    )


def _plain(cell: str) -> str:
    """A cell without the apostrophe that kept a spreadsheet from running it."""
    return cell[1:] if cell[:1] == "'" and cell[1:].startswith(RUNS_AS_FORMULA) else cell


def _state(word: str) -> RunState:
    if word and word not in set(RunState):
        raise RecordError(f"'{word}' is no state of a run", way_out=f"Known: {', '.join(RunState)}")
    return RunState(word) if word else RunState.LIVE


def _taken(
    record: Record,
    runs: Iterable[tuple[int, Run | CropperError]],
    stamp: Stamp,
    heard: Callable[[int], None],
) -> Taken:
    taken = Taken()
    for number, told in record.take_runs(runs, stamp):
        if isinstance(told, RivalsError):
            taken.clashing += 1
            taken.name(number, str(told))
        elif isinstance(told, CropperError):
            taken.faulty += 1
            taken.name(number, str(told))
        else:
            taken.kept += told
            taken.known += not told
        heard(number)
    return taken
