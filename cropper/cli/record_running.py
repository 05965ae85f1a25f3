"""The parts of `cropper record` about places, finished files and their runs."""

from __future__ import annotations

import getpass
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.record_options import (
    anyway_option,
    despite_option,
    named,
    run_options,
    why_option,
    zone_option,
)
from cropper.cli.tables import print_table, say
from cropper.errors import EXIT_DONE, EXIT_RIVALS_CLASH, MisuseError

if TYPE_CHECKING:
    from cropper.job.recording import TakenIn
    from cropper.publication.bars import Rule
    from cropper.publication.licences import Licence
    from cropper.publication.runs import Run
    from cropper.record import Record, Recorded, Stamp
    from cropper.record.naming import Typed


@contextmanager
def opened(address: str | None, job_folder: Path | None = None) -> Iterator[Record]:
    """The record, closed in the end; says, beside the answer, which one it is."""
    from cropper.record import open_record  # noqa: PLC0415 - keeps --help instant

    with open_record(address, job=job_folder) as record:
        say(f"Record: {record.address.shown}{' (begun now)' if record.begun else ''}")
        yield record


def stamp(why: str = "") -> Stamp:
    """Now, by whoever sits here."""
    from cropper.record import Stamp  # noqa: PLC0415 - keeps --help instant

    try:
        seat = getpass.getuser()
    except (KeyError, OSError):
        seat = ""
    return Stamp(at=datetime.now(UTC), by=seat, why=why)


def rules(pairs: tuple[str, ...]) -> dict[Rule, str]:
    """The rules that a run breaks on purpose, with the reasons."""
    from cropper.publication.bars import Rule  # noqa: PLC0415 - keeps --help instant

    given = {name.replace("-", " "): reason for name, reason in named(pairs).items()}
    unknown = [name for name in given if name not in set(Rule)]
    if unknown:
        raise MisuseError(f"'{unknown[0]}' is no rule", way_out=f"Known: {', '.join(Rule)}")
    return {Rule(name): reason for name, reason in given.items()}


@click.command(short_help="List the places that show pictures, or take them in.")
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@json_option
@record_option
def outlets(file: Path | None, *, as_json: bool, address: str | None) -> None:
    """List the places that show pictures, or take them in from an outlets.toml.

    Where there is no FILE yet, a commented one is written to start from.
    """
    from cropper.job.outlets import read_outlets, start_outlets  # noqa: PLC0415 - as below
    from cropper.publication.facts import Asked  # noqa: PLC0415

    if file is not None and start_outlets(file):
        click.echo(f"{file} is written, with two invented outlets: change it to your own.")
        click.echo("Then `cropper plan` keeps rivals apart by it, and this command takes it in.")
        return
    with opened(address) as record:
        if file is not None:
            told = read_outlets(file.parent, file)
            changed = record.keep_outlets(told.outlets.values(), stamp())
            say(f"{len(changed)} of {len(told.outlets)} outlets are new or say something new.")
        known = record.facts(Asked(versions=("",))).outlets
    if as_json:
        import json  # noqa: PLC0415

        from cropper.record.bodies import body_of  # noqa: PLC0415

        click.echo(json.dumps([body_of(one) for one in known.values()], indent=2))
        return
    if not known:
        click.echo("No outlet is known yet: cropper record outlets FILE takes in an outlets.toml.")
        return
    print_table(
        ("outlet", "kind", "audience", "owner", "shows for", "notes"),
        [
            (
                one.name,
                one.kind,
                ", ".join(sorted(one.audience)),
                one.owner,
                f"{one.window_days} days" if one.kind == "stream" else "until replaced",
                one.notes,
            )
            for one in known.values()
        ],
    )


@click.command(short_help="Take in a job's finished files, outlets, sets and people.")
@click.argument("folder", metavar="DIR", type=click.Path(exists=True, path_type=Path))
@json_option
@record_option
@click.pass_context
def job(ctx: click.Context, folder: Path, *, as_json: bool, address: str | None) -> None:
    """Know a job's finished files from now on, its outlets, its sets and who is in its pictures.

    Files are known by their content: a renamed copy is still the same file. Runs that are recorded
    already are bound by the job's sets; those that clash by now are listed.

    Exit codes: 0 done, 1 cannot, 2 misused, 4 done, and a recorded run clashes by now.
    """
    from cropper.job.recording import take_in_job  # noqa: PLC0415 - keeps --help instant

    with opened(address, folder) as record:
        taken = take_in_job(record, folder, stamp())
    if as_json:
        _job_as_json(taken)
        ctx.exit(EXIT_RIVALS_CLASH if taken.unsettled else EXIT_DONE)
    click.echo(
        f"{taken.new} of {taken.files} finished files are new;"
        f" new or changed: outlets {taken.outlets}, sets {taken.sets}."
    )
    for sentence in taken.sentences:
        click.echo(sentence)
    for one in taken.unsettled:
        click.echo(f"{one.sentence} {one.way_out}.")
    ctx.exit(EXIT_RIVALS_CLASH if taken.unsettled else 0)


def _job_as_json(taken: TakenIn) -> None:
    import json  # noqa: PLC0415 - keeps --help instant

    from cropper.account.whereabouts import unsettled_as_plain  # noqa: PLC0415

    told = {
        "format": 1,
        "files": taken.files,
        "new_files": taken.new,
        "changed_outlets": taken.outlets,
        "changed_sets": taken.sets,
        "sentences": list(taken.sentences),
        "unsettled": [unsettled_as_plain(one) for one in taken.unsettled],
    }
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


@click.command(short_help="Record that a file, or all files of a job, run at an outlet.")
@run_options(whole_jobs=True)
@click.option(
    "--job",
    "folder",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="Instead of FILE: every file of this job, where its outlets.toml sends it.",
)
@click.option(
    "--every",
    "every_days",
    type=click.IntRange(min=1),
    metavar="DAYS",
    help="With --job: one file after the other at each outlet, on days that are free.",
)
@despite_option
@why_option
@record_option
@click.pass_context
def run(
    ctx: click.Context,
    typed: Typed,
    *,
    folder: Path | None,
    every_days: int | None,
    despite: tuple[str, ...],
    why: str,
    address: str | None,
) -> None:
    """Record that FILE runs at an outlet. A clash is refused, with the date it would be fine.

    One file: cropper record run job/deliverables/roll_page-header.jpg --at mill-shop --from
    2026-03-01

    All files of a job, where its outlets.toml sends them: cropper record run --job job --from
    2026-03-01

    A post a day: cropper record run --job job --at my-pages --from 2026-03-01 --every 1

    Exit codes: 0 done, 1 cannot, 2 misused, 4 a rule stands in the way (of some, with --job).
    """
    from cropper.record.address import job_of  # noqa: PLC0415 - keeps --help instant
    from cropper.record.naming import run_of_typed, said_already  # noqa: PLC0415

    if folder is not None:
        ctx.exit(_post(folder, typed, every_days, stamp(why), address))
    if every_days is not None:
        raise click.UsageError("--every goes with --job DIR.")
    with opened(address, job_of(Path(typed.file))) as record:
        meant = run_of_typed(record, typed)
        before = said_already(record, meant)
        kept = record.record_run(meant, stamp(why), despite=rules(despite))
        notes = record.beside(meant)
    _say_kept(kept)
    for sentence in notes:
        say(f"Note: {sentence}.")
    if before is not None:
        say(f"Note: run {before.id} says just that already.")
        say(f"If you meant it once: cropper record withdraw {kept.run.id}")


def _post(
    folder: Path, typed: Typed, every_days: int | None, mark: Stamp, address: str | None
) -> int:
    """Record the runs of a whole job; the exit code."""
    from cropper.job.posting import Posting, post  # noqa: PLC0415 - keeps --help instant
    from cropper.job.recording import take_in_job  # noqa: PLC0415

    if typed.file:
        raise click.UsageError("Give either FILE or --job DIR.")
    posting = Posting(
        job=folder,
        start=typed.start,
        until=typed.until,
        zone=typed.zone,
        outlets=(typed.outlet,) if typed.outlet else (),
        every_days=every_days,
        planned=typed.planned,
        who=typed.who,
        note=typed.note,
    )
    refused = 0
    with opened(address, folder) as record:
        take_in_job(record, folder, mark)
        for one in post(record, posting, mark):
            if one.run is not None:
                click.echo(_run_said(one.run))
            elif one.known:
                say(f"{one.file} has a run at '{one.outlet}' already.")
            else:
                refused += 1
                say(f"{one.file} at '{one.outlet}' was not recorded: {one.why_not}")
    return EXIT_RIVALS_CLASH if refused else EXIT_DONE


def _run_said(one: Run) -> str:
    """A run in a line. As it was typed, without a word: "live" would be odd of one to come."""
    from cropper.publication.dates import said_span  # noqa: PLC0415 - keeps --help instant

    when = said_span(one.span, one.zone)
    state = "" if one.state == "live" else f", {one.state}"
    return f"Run {one.id}: '{one.version}' at '{one.outlet}' {when} ({one.zone}){state}."


def _say_kept(kept: Recorded) -> None:
    click.echo(_run_said(kept.run))
    for clash in kept.clashes:
        click.echo(f"Saved, but note: {clash.sentence}")


@click.command(short_help="End a run (it came down), or an agreement early.")
@click.argument("number")
@click.option("--on", "at", metavar="DATE", help="When it ended or will end; else now.")
@zone_option
@anyway_option
@why_option
@record_option
def end(
    *,
    number: str,
    at: str | None,
    zone: str | None,
    anyway: str,
    why: str,
    address: str | None,
) -> None:
    """End the run or the agreement of that NUMBER: a run came down, an agreement is over early.

    `cropper record runs` and `cropper record agreements` list the numbers.
    """
    from cropper.record.agreeing import ended  # noqa: PLC0415 - keeps --help instant

    mark = stamp(why)
    with opened(address) as record:
        agreement = _agreement(record, number)
        if agreement is None:
            when = _instant(at, zone, record.run(number).zone) if at else mark.at
            _say_kept(record.end_run(number, when, mark))
            return
        when = _instant(at, zone, agreement.zone) if at else mark.at
        shorter = ended(agreement, when)
        kept = record.agree(shorter, mark, anyway=anyway)
    click.echo(f"{agreement_said(shorter)}.")
    for one in kept.unsettled:
        click.echo(f"{one.sentence} {one.way_out}.")


@click.command(short_help="Call off a run or an agreement; it stays in the history.")
@click.argument("number")
@why_option
@record_option
def withdraw(*, number: str, why: str, address: str | None) -> None:
    """Call off the run or the agreement of that NUMBER: it counts for nothing any more.

    It stays in the history.
    """
    from dataclasses import replace  # noqa: PLC0415 - keeps --help instant

    with opened(address) as record:
        agreement = _agreement(record, number)
        if agreement is None:
            _say_kept(record.withdraw_run(number, stamp(why)))
            return
        record.keep_licence(replace(agreement, called_off=True, recorded_at=None), stamp(why))
    click.echo(f"{agreement_said(agreement)}: called off.")


def _agreement(record: Record, number: str) -> Licence | None:
    """The agreement of that number; None when it is a run's, or nobody's."""
    return next((one for one in record.licences() if one.id == number), None)


def agreement_said(one: Licence) -> str:
    """An agreement in a line."""
    from cropper.publication.dates import said_span  # noqa: PLC0415 - keeps --help instant

    about = f"'{one.version}'" if one.version else f"the set '{one.set}'"
    whose = f" for '{one.outlet}'" if one.outlet else ""
    return f"Agreement {one.id}: {one.kind} of {about}{whose} {said_span(one.span, one.zone)}"


@click.command(short_help="Correct a run; what was known stays in the history.")
@click.argument("run_id", metavar="RUN")
@click.option("--from", "start", metavar="DATE", help="When it started.")
@click.option("--until", metavar="DATE", help="When it ends.")
@click.option("--at", "outlet", metavar="OUTLET", help="Where it runs.")
@click.option("--address", "place", metavar="TEXT", help="Its address there.")
@click.option("--issue", metavar="TEXT", help="The issue it is in.")
@click.option("--page", metavar="TEXT", help="The page it is on.")
@click.option("--note", metavar="TEXT", help="A line for yourself.")
@click.option("--state", type=click.Choice(["planned", "live", "ended"]), help="How far it is.")
@zone_option
@despite_option
@why_option
@record_option
def correct(
    *, run_id: str, despite: tuple[str, ...], why: str, address: str | None, **given: Any
) -> None:
    """Correct a run: what is named replaces what was known, and both stay in the history."""
    from cropper.publication.runs import RunState  # noqa: PLC0415 - keeps --help instant
    from cropper.publication.spans import Span  # noqa: PLC0415

    zone, start, until = given.pop("zone"), given.pop("start"), given.pop("until")
    changes = {key: one for key, one in given.items() if one is not None}
    if "place" in changes:
        changes["address"] = changes.pop("place")
    if "state" in changes:
        changes["state"] = RunState(changes["state"])
    with opened(address) as record:
        before = record.run(run_id)
        if zone:
            changes["zone"] = zone
        if start or until:
            changes["span"] = Span(
                _instant(start, zone, before.zone) if start else before.span.start,
                _instant(until, zone, before.zone) if until else before.span.until,
            )
        if not changes:
            raise MisuseError("nothing to correct was named", way_out="Name it: --until DATE, say")
        _say_kept(record.correct_run(run_id, stamp(why), despite=rules(despite), **changes))


def _instant(text: str, zone: str | None, own: str) -> datetime:
    from cropper.publication.dates import read_instant  # noqa: PLC0415 - keeps --help instant

    return read_instant(text, zone or own)
