"""The manifest after an export: every sound file of this job that lies in the folder, and why not.

A row goes only for a reason. A file that could not be made anew, or that this run was not asked
for, keeps the row it had as long as its bytes are those that were delivered. What the plan no
longer gives is set aside, and the manifest says why it is not delivered.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper import __version__
from cropper.deliverable.manifest import MANIFEST, Delivered, NotDelivered
from cropper.deliverable.manifest_reading import delivered_from, rows_of
from cropper.deliverable.manifest_writing import OpenManifest, open_manifest
from cropper.destination.destination import PRESS_PDF
from cropper.errors import DeliveryError
from cropper.job.export_run import KEPT, ExportRun, State
from cropper.job.exported import LISTED, Exported, FileTold
from cropper.job.making import sha256_of, stands
from cropper.job.manifest_rows import delivered_row
from cropper.job.plan import ChoiceState
from cropper.job.set_aside import move_aside
from cropper.job.texts import Spoken, TextFolder, texts_before, texts_of
from cropper.job.wanted import Item, clashing, failed

FOR_PAGES: Final = "web"
"""Destinations of this group get snippets for web pages."""
PLANNED: Final = "planned"
"""Kind of words on the scratch paper: what the plan has an answer for, crop or not."""
STOPPED: Final = "The export was stopped before it came to this; export again."
VANISHED: Final = "Its file was removed or changed while the export ran; export again."
EARLIER: Final = "The file of the earlier export is still there."
NOT_PLANNED: Final = "The job no longer plans it."


@dataclass(slots=True)
class _Rows:
    """What was put into the manifest: the first rows in brief, and what asks for a look."""

    count: int = 0
    carried: int = 0
    problems: int = 0
    first: list[FileTold] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    questions: dict[str, str] = field(default_factory=dict)


def account_for(run: ExportRun, now: datetime) -> Exported:
    """Write the manifest and the texts, set aside what has no row, and tell of it all."""
    folder, stopped = run.wish.folder, not run.came_to_all
    earlier = _Earlier(run)
    texts, taken = TextFolder(folder, texts_before(folder / MANIFEST)), set[str]()
    with open_manifest(
        folder,
        made_by=f"cropper {__version__}",
        made_at=now.isoformat(timespec="seconds"),
        job=run.plan.id,
    ) as manifest:
        rows = _put_rows(run, manifest, texts, taken, earlier)
        leaving = _leaving(run)
        there, remarks = texts.close(keep=bool(rows.carried))
        missing = _Counting(_missing(run, leaving))
        manifest.close(missing, there)
    aside, refused = _set_aside(run, leaving, now)
    states = run.states
    return Exported(
        delivered=sum(states.count(one) for one in State if one >= State.STANDS),
        not_delivered=missing.count,
        written=states.count(State.WRITTEN),
        moved=states.count(State.MOVED),
        listed=rows.count,
        first=tuple(rows.first),
        first_missing=tuple(missing.first),
        failures=tuple(run.failures[number] for number in sorted(run.failures)),
        set_aside=aside,
        look_again=tuple(rows.again),
        clash=clashing(run.plan, everything=run.wish.everything),
        remarks=(*remarks, *_changed_by_somebody(run, leaving), *refused),
        doubts=tuple(_doubts(run)),
        stopped=stopped,
        held=run.held,
        problems=rows.problems,
        questions=tuple(f"{version}: {asked}" for version, asked in rows.questions.items()),
    )


def _doubts(run: ExportRun) -> Iterator[str]:
    for sentence, count in run.doubts.items():
        files = "1 file of it is" if count == 1 else f"{count} files of it are"
        yield f"{sentence.removesuffix('.')}. {files} as planned, and left."


def _put_rows(
    run: ExportRun,
    manifest: OpenManifest,
    texts: TextFolder,
    taken: set[str],
    earlier: _Earlier,
) -> _Rows:
    """A row for every file that is there, in the plan's order, with its texts."""
    rows = _Rows()
    for _, group in groupby(run.numbered(), key=lambda one: _version(one[1])):
        mine: list[tuple[int | None, Item, str]] = []
        kept: list[Delivered] = []
        for number, one in group:
            _mark(run, one)
            file = _right_file(run, number, one)
            if file is not None and isinstance(one, Item):
                mine.append((number, one, file))
            elif number is not None or run.leaves_alone(one):
                kept += _still_there(run, number, earlier.of(one))
        said, made = texts_of([_spoken(run, item, file) for _, item, file in mine], taken)
        texts.put(said)
        for row, (number, item, file) in zip(made, mine, strict=True):
            manifest.add(row)
            run.ledger.scratch.say(KEPT, file)
            _brief(run, rows, row, number)
            rows.problems += item.problem
            if number is not None and item.question:
                rows.questions[item.master.version] = item.question
            if number is not None and item.choice.state is ChoiceState.LOOK_AGAIN:
                rows.again.append(f"{item.master.version} for {item.destination.name}")
        for row in kept:
            manifest.add(row)
        rows.count += len(made) + len(kept)
        rows.carried += len(kept)
    return rows


def _version(one: Item | NotDelivered) -> str | None:
    return one.master.version if isinstance(one, Item) else one.version


def destination_of(one: Item | NotDelivered) -> str | None:
    """The destination that something is about; None for a file that could not be opened."""
    return one.destination.name if isinstance(one, Item) else one.destination


def _mark(run: ExportRun, one: Item | NotDelivered) -> None:
    """Note that the plan knows this; the file of what was not asked for stays where it is."""
    version, destination = _version(one), destination_of(one)
    if version is None or destination is None:
        return
    run.ledger.scratch.say(PLANNED, f"{version}\n{destination}")
    if isinstance(one, Item) or run.leaves_alone(one):
        name = run.ledger.name_of(version, destination)
        if name is not None:
            run.ledger.scratch.say(KEPT, name)


def _right_file(run: ExportRun, number: int | None, one: Item | NotDelivered) -> str | None:
    """The file of an item, if it is there as planned; what became of the item is set right."""
    if not isinstance(one, Item):
        return None
    file = run.ledger.name_of(one.master.version, one.destination.name)
    if number is not None and run.states[number] >= State.AS_BEFORE:
        if file is not None and _is_there(run, file):
            return file
        run.states[number] = State.FAILED
        run.failures[number] = failed(one, VANISHED)
        return None
    if file is None or not _stands(run, file, run.basis(one)):
        return None
    if number is not None:
        run.states[number] = State.STANDS
        if number in run.failures:
            sentence = run.failures.pop(number).reason
            run.doubts[sentence] = run.doubts.get(sentence, 0) + 1
    return file


def _stands(run: ExportRun, file: str, basis: str) -> bool:
    try:
        return stands(run.wish.folder, file, run.ledger.entry(file), basis)
    except DeliveryError:
        return False


def _is_there(run: ExportRun, file: str) -> bool:
    """Whether a file that this run saw to is there still, as far as its length tells."""
    entry = run.ledger.entry(file)
    try:
        return entry is not None and (run.wish.folder / file).stat().st_size == entry.bytes
    except OSError:
        return False


def _still_there(
    run: ExportRun, number: int | None, rows: Iterable[Delivered]
) -> Iterator[Delivered]:
    """The earlier row whose file is there still, byte for byte."""
    for row in rows:
        if _digest(run.wish.folder / row.file) == row.sha256:
            run.ledger.scratch.say(KEPT, row.file)
            if number in run.failures and number is not None:
                fault = run.failures[number]
                run.failures[number] = replace(fault, reason=f"{fault.reason} {EARLIER}")
            yield row
            return


class _Earlier:
    """The manifest of before; read only when a row of it is needed."""

    def __init__(self, run: ExportRun) -> None:
        self._run, self._read = run, False

    def of(self, one: Item | NotDelivered) -> Iterator[Delivered]:
        """What it said of a version for a destination."""
        version, destination = _version(one), destination_of(one)
        if version is None or destination is None:
            return
        if not self._read:
            self._read = True
            self._take_in(self._run.wish.folder / MANIFEST)
        for said in self._run.ledger.scratch.earlier((version, destination)):
            try:
                yield delivered_from(json.loads(said))
            except ValueError:
                continue

    def _take_in(self, manifest: Path) -> None:
        try:
            for row in rows_of(manifest):
                owner = str(row.get("version")), str(row.get("destination"))
                said = json.dumps(row)
                self._run.ledger.scratch.put_earlier(str(row.get("file")), owner, said)
        except (OSError, ValueError):
            return  # a damaged one tells nothing that is to be kept


class _Counting:
    """Rows that are counted as they pass, and the first kept."""

    def __init__(self, rows: Iterable[NotDelivered]) -> None:
        self._rows, self.count = rows, 0
        self.first: list[NotDelivered] = []

    def __iter__(self) -> Iterator[NotDelivered]:
        for row in self._rows:
            self.count += 1
            if self.count <= LISTED:
                self.first.append(row)
            yield row


def _missing(run: ExportRun, leaving: Iterable[str]) -> Iterator[NotDelivered]:
    """Everything without a file: never owed, failed, not come to, and no longer planned."""
    for line in run.ledger.scratch.jotted():
        yield NotDelivered(**json.loads(line))
    yield from (run.failures[number] for number in sorted(run.failures))
    if not run.came_to_all:
        for number, item in run.items():
            if run.states[number] == State.NOT_COME_TO:
                yield failed(item, STOPPED)
    yield from _retired(run, leaving)


def _retired(run: ExportRun, leaving: Iterable[str]) -> Iterator[NotDelivered]:
    """What leaves because the plan has no place for it any more."""
    scratch = run.ledger.scratch
    for name in leaving:
        entry = run.ledger.entry(name)
        if entry and scratch.say(PLANNED, f"{entry.version}\n{entry.destination}"):
            yield NotDelivered(
                destination=entry.destination,
                set=None,
                version=entry.version,
                master="",
                reason=NOT_PLANNED,
            )


def _spoken(run: ExportRun, item: Item, file: str) -> Spoken:
    worded, entry = run.worded(item), run.ledger.entry(file)
    if entry is None:
        raise ValueError(f"nothing was noted of {file}")
    return Spoken(
        row=delivered_row(file, item, entry, worded),
        worded=worded,
        on_pages=FOR_PAGES in item.destination.groups,
        preflight=_preflight(run.wish.folder / file, item),
    )


def _preflight(path: Path, item: Item) -> tuple[str, ...]:
    """What a press PDF holds, read back; nothing for other files."""
    if item.destination.finish.format != PRESS_PDF:
        return ()
    from cropper.deliverable.preflight import preflight  # noqa: PLC0415 - loads the PDF library

    try:
        return preflight(path.read_bytes())
    except OSError as error:
        return (f"It could not be read back ({error.strerror or error}).",)


def _brief(run: ExportRun, rows: _Rows, row: Delivered, number: int | None) -> None:
    if number is not None and len(rows.first) < LISTED:
        state = State(run.states[number])
        rows.first.append(
            FileTold(
                file=row.file,
                width=row.width,
                height=row.height,
                bytes=row.bytes,
                verdict=row.verdict,
                fresh=state is State.WRITTEN,
                moved=state is State.MOVED,
            )
        )


def _leaving(run: ExportRun) -> tuple[str, ...]:
    """Files that are noted and have no place in the manifest."""
    ledger = run.ledger
    return tuple(name for name in ledger.names() if not ledger.scratch.was_said(KEPT, name))


def _set_aside(
    run: ExportRun, leaving: Iterable[str], now: datetime
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Move what this job wrote, and nobody changed since, into its corner. Also says what failed.

    What is not there any more is forgotten.
    """
    moved, refused, forgotten = [], [], dict[str, None]()
    for name in leaving:
        if (run.wish.folder / name).exists():
            if not _ours(run, name):
                continue
            try:
                moved.append(move_aside(run.job, run.wish.folder, name, now))
            except DeliveryError as error:
                refused.append(str(error))
                continue
        forgotten[name] = None
    run.ledger.note(forgotten)
    run.ledger.close()
    return tuple(moved), tuple(refused)


def _changed_by_somebody(run: ExportRun, leaving: Iterable[str]) -> Iterator[str]:
    for name in leaving:
        if (run.wish.folder / name).exists() and not _ours(run, name):
            yield (
                f"{run.wish.folder / name} is of an earlier export and was changed by somebody "
                "since; nobody asks for it any more. Move it away"
            )


def _ours(run: ExportRun, name: str) -> bool:
    entry = run.ledger.entry(name)
    return entry is not None and _digest(run.wish.folder / name) == entry.sha256


def _digest(path: Path) -> str | None:
    try:
        return sha256_of(path)
    except DeliveryError:
        return None
