"""`cropper season`: propose what runs where for weeks, show it, accept it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.record_running import opened, stamp
from cropper.cli.tables import print_table, say
from cropper.errors import EXIT_DONE, EXIT_RIVALS_CLASH, RecordError, RivalsError

if TYPE_CHECKING:
    from cropper.publication.season import Season
    from cropper.record import Record, Stamp


@click.group()
def command() -> None:
    """Draw up a season: which version starts where and when, so that nothing clashes.

    `propose` writes a proposal into a file; nothing is recorded. Look at it (`show`, or `cropper
    timeline --season FILE`), change the plan and propose again, then `accept` it.
    """


@command.command(short_help="Propose a season and write it into a file.")
@click.option(
    "--to",
    "to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    metavar="FILE",
    help="The proposal (JSON). One that is there is changed only where it must be.",
)
@click.option(
    "--job",
    "jobs",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    multiple=True,
    metavar="DIR",
    help="A job whose outlets.toml says which destination runs where; may be given again.",
)
@click.option(
    "--plan",
    "plan_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Your wishes (season.toml). Where there is none yet, one is written to start from.",
)
@click.option("--from", "start", metavar="DATE", help="The first day; next Monday unless given.")
@click.option("--weeks", type=click.IntRange(1, 53), help="How long; 13 weeks unless given.")
@click.option("--set", "sets", multiple=True, metavar="SET", help="Only versions of this set.")
@click.option("--zone", metavar="NAME", help="In which zone days begin where an outlet has none.")
@click.option("--afresh", is_flag=True, help="Do not keep to the proposal that is there.")
@click.option(
    "--seconds",
    type=click.FloatRange(min=1),
    default=8.0,
    show_default=True,
    help="How long to look for a better one.",
)
@json_option
@record_option
def propose(
    *,
    to: Path,
    jobs: tuple[Path, ...],
    plan_file: Path | None,
    start: str | None,
    weeks: int | None,
    sets: tuple[str, ...],
    zone: str | None,
    afresh: bool,
    seconds: float,
    as_json: bool,
    address: str | None,
) -> None:
    """Propose a season: every version once at each outlet that takes it, and nothing clashes.

    Rivals lie apart, agreements are kept, the weeks are even. What finds no day is told with the
    reason and the first day that is free.

    Example: cropper season propose --job my-job --to season.json

    Exit codes: 0 done, 1 cannot, 2 misused, 3 the plan is at fault.
    """
    from cropper.account.season_files import (  # noqa: PLC0415 - keeps --help instant
        Plan,
        put_season,
        read_plan,
        read_season,
        request_of,
        start_plan,
    )
    from cropper.publication.dates import read_date  # noqa: PLC0415
    from cropper.publication.facts import Asked  # noqa: PLC0415
    from cropper.publication.season import propose as proposed  # noqa: PLC0415
    from cropper.record.naming import zone_for  # noqa: PLC0415

    if plan_file is not None and start_plan(plan_file):
        click.echo(f"{plan_file} is written: change it to what you want, then propose again.")
        return
    plan = read_plan(plan_file) if plan_file else Plan()
    try:
        first = read_date(start) if start else plan.start
    except ValueError as error:
        raise click.BadParameter(f"'{start}' is no date; write 2027-01-04.") from error
    plan = replace(plan, start=first, weeks=weeks or plan.weeks)
    with opened(address, jobs[0] if jobs else None) as record:
        facts = record.facts(Asked(sets=sets)) if sets else record.facts()
    request = request_of(plan, facts, jobs, now=datetime.now(UTC), zone=zone_for(None, zone))
    before = () if afresh or not to.is_file() else read_season(to).runs
    season = proposed(replace(request, before=before, seconds=seconds), facts)
    put_season(season, to)
    if as_json:
        click.echo(to.read_text(encoding="utf-8"), nl=False)
        return
    _print(season)
    click.echo(f"Written: {to}. Look at it: cropper timeline --season {to} --to season")
    click.echo(f"When it is right: cropper season accept {to}")


@command.command(short_help="Show a proposal, and write it to a calendar.")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option(
    "--calendar",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the proposed runs as tentative events (.ics).",
)
def show(*, file: Path, calendar: Path | None) -> None:
    """Show the season that FILE proposes, and what found no day."""
    from cropper.account.calendar_file import put_proposed  # noqa: PLC0415 - as above
    from cropper.account.season_files import read_season  # noqa: PLC0415

    season = read_season(file)
    if calendar is None:
        _print(season)
        return
    put_proposed(calendar, season.runs, now=datetime.now(UTC))
    click.echo(f"{calendar} ({len(season.runs)} entries)")


@command.command(short_help="Record the runs of a proposal as planned.")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@record_option
@click.pass_context
def accept(ctx: click.Context, *, file: Path, address: str | None) -> None:
    """Record the runs of FILE as planned. Each is checked again; done twice, nothing doubles.

    Exit codes: 0 done, 1 cannot, 2 misused, 4 some clash with what was recorded since.
    """
    from cropper.account.season_files import read_season  # noqa: PLC0415 - as above

    season = read_season(file)
    with opened(address) as record:
        kept, known, refused = _accepted(record, season, stamp("a season accepted"))
    for sentence in refused:
        say(sentence)
    there = f" {known} were recorded already." if known else ""
    click.echo(f"{kept} of {len(season.runs)} runs are planned now.{there}")
    ctx.exit(EXIT_RIVALS_CLASH if refused else EXIT_DONE)


def _accepted(record: Record, season: Season, mark: Stamp) -> tuple[int, int, list[str]]:
    kept = known = 0
    refused = []
    for run in season.runs:
        try:
            record.record_run(run, mark)
            kept += 1
        except RivalsError as error:
            refused.append(f"'{run.version}' at '{run.outlet}' was not recorded: {error}")
        except RecordError:
            record.run(run.id)  # raises again unless it is there already
            known += 1
    return kept, known, refused


def _print(season: Season) -> None:
    from cropper.publication.dates import said, said_span  # noqa: PLC0415 - as above
    from cropper.publication.season import free_said  # noqa: PLC0415
    from cropper.publication.spans import Span  # noqa: PLC0415

    print_table(
        ("starts", "outlet", "version", "file for", "until"),
        [
            (
                said(run.span.start, run.zone),
                run.outlet,
                run.version,
                run.destination,
                "stays" if run.span.until is None else said(run.span.until, run.zone),
            )
            for run in season.runs
        ],
        title=f"Proposed, {said_span(Span(season.start, season.until), season.zone)}",
    )
    if season.not_placed:
        click.echo(f"\nNo day was found for {len(season.not_placed)}:")
        print_table(
            ("version", "outlet", "why", "first free day"),
            [
                (one.version, one.outlet, one.why, free_said(one).split(": ")[-1].rstrip("."))
                for one in season.not_placed
            ],
        )
    click.echo(f"\n{len(season.runs)} runs proposed. {_how_good(season.gap)}")


def _how_good(gap: float) -> str:
    if gap <= 0.005:  # noqa: PLR2004 - what the solver calls the best
        return "No better choice exists."
    if gap >= 1:
        return "How much better another choice could be is not known; give it more --seconds."
    return f"A better choice could win at most {100 * gap:.0f} % more."
