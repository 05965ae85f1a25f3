"""`cropper running`: what runs where, now or on a date; what is free; what was never used."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.tables import print_table

if TYPE_CHECKING:
    from cropper.account.whereabouts import Whereabouts
    from cropper.publication.whereabouts import Free
    from cropper.record import Record


@click.command()
@click.option("--on", metavar="DATE", help="Instead of now: 2026-03-01, or an instant with zone.")
@click.option(
    "--zone",
    metavar="NAME",
    help="In which zone plain dates begin, such as Europe/Oslo; else yours.",
)
@click.option(
    "--calendar",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write what runs then and what is planned as a calendar (.ics) for other programs.",
)
@click.option(
    "--free",
    metavar="OUTLET",
    help="Which versions may start there then and stay, and what keeps the others from it.",
)
@click.option("--set", "set_name", metavar="SET", help="Only versions of this set.")
@click.option("--until", metavar="DATE", help="With --free: until then, instead of for good.")
@click.option("--all", "every", is_flag=True, help="Also what no longer stands out in a stream.")
@click.option("--unused", is_flag=True, help="Which versions have never run, and which files wait.")
@json_option
@record_option
def command(
    *,
    on: str | None,
    zone: str | None,
    calendar: Path | None,
    free: str | None,
    set_name: str | None,
    until: str | None,
    every: bool,
    unused: bool,
    as_json: bool,
    address: str | None,
) -> None:
    """List what runs where, and what must come down within a week.

    A run counts from its first instant until, not including, its last; one without an end runs
    until somebody ends it (`cropper record end`). In a stream a picture stands out for a while
    (`window_days` of the outlet), although it never comes down.

    Exit codes: 0 done, 1 the record cannot be read, 2 misused.
    """
    from cropper.account.whereabouts import free_at, whereabouts  # noqa: PLC0415 - --help instant
    from cropper.publication.dates import read_instant  # noqa: PLC0415
    from cropper.record import open_record  # noqa: PLC0415
    from cropper.record.naming import zone_for  # noqa: PLC0415

    if sum((calendar is not None, free is not None, unused)) > 1:
        raise click.UsageError("--calendar, --free and --unused are three questions: ask one.")
    own = zone_for(None, zone)
    if until is not None and free is None:
        raise click.UsageError("--until goes with --free OUTLET.")
    at = read_instant(on, own) if on else datetime.now(UTC)
    end = read_instant(until, own) if until else None
    with open_record(address) as record:
        if unused:
            _print_unused(record, set_name, as_json=as_json)
        elif free is not None:
            found = free_at(record, free, at, until=end, set_name=set_name)
            _print_free(found, free, as_json=as_json)
        elif calendar is not None:
            _write_calendar(record, at, calendar, set_name)
        else:
            answer = whereabouts(record, at, zone=own, set_name=set_name)
            _print_running(answer, every=every, as_json=as_json)


def _print_running(answer: Whereabouts, *, every: bool, as_json: bool) -> None:
    from cropper.account.whereabouts import ROW_HEADINGS, as_plain, rows  # noqa: PLC0415 - as below
    from cropper.publication.dates import said  # noqa: PLC0415

    if as_json:
        click.echo(json.dumps(as_plain(answer), indent=2, ensure_ascii=False))
        return
    when = said(answer.at, answer.zone)
    shown = (*answer.up, *answer.faded) if every else answer.up
    if shown:
        print_table(ROW_HEADINGS, rows(shown), title=f"Running, {when}")
    else:
        click.echo(f"Nothing is running, {when}.")
    if answer.faded and not every:
        click.echo(f"Older posts that are still up in streams: {len(answer.faded)} (--all)")
    for down in answer.coming_down:
        click.echo(f"By {said(down.at, down.run.zone)}: {down.sentence} (run {down.run.id})")
    if answer.unsettled:
        click.echo(f"To settle ({len(answer.unsettled)}):")
    for one in answer.unsettled:
        click.echo(f"  {one.sentence} {one.way_out}.")


def _print_free(found: tuple[Free, ...], outlet: str, *, as_json: bool) -> None:
    from cropper.account.whereabouts import why_not  # noqa: PLC0415 - as above

    told = why_not(found)
    if as_json:
        keys = ("version", "free", "why")
        rows = [dict(zip(keys, (one[0], one[1] == "free", one[2]), strict=True)) for one in told]
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
    elif told:
        print_table(("version", "may start", "why not"), told, title=f"At {outlet}")
    else:
        click.echo("No finished files are on record yet. Take in a job: cropper record job DIR")


def _print_unused(record: Record, set_name: str | None, *, as_json: bool) -> None:
    from cropper.account.whereabouts import unused  # noqa: PLC0415 - as above

    told = unused(record, set_name)
    if as_json:
        rows = [{"version": one, "destination": where} for one, where in told.destinations]
        click.echo(json.dumps({"never_run": told.versions, "files": rows}, indent=2))
        return
    if not told.destinations:
        click.echo("Every finished file on record has run.")
        return
    if told.versions:
        click.echo(f"Never run anywhere: {', '.join(told.versions)}")
    print_table(("version", "destination"), told.destinations, title="Files that have not run")


def _write_calendar(record: Record, at: datetime, to: Path, set_name: str | None) -> None:
    from cropper.account.calendar_file import put_calendar  # noqa: PLC0415 - as above
    from cropper.publication.facts import Asked  # noqa: PLC0415
    from cropper.publication.spans import Span  # noqa: PLC0415

    sets = () if set_name is None else (set_name,)
    facts = record.facts(Asked(span=Span(at), sets=sets))
    put_calendar(to, facts.runs, facts, now=datetime.now(UTC))
    click.echo(f"{to} ({len(facts.runs)} run{'s' * (len(facts.runs) != 1)})")
