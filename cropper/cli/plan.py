"""``cropper plan``: crops for every destination, with reasons, into a job folder."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from cropper.cli.batches import EXIT_STOPPED, batch_options, watched
from cropper.cli.options import (
    WHERE_ARE_THEY,
    PictureType,
    for_option,
    job_option,
    json_option,
    marks_given,
    marks_options,
    presets_option,
    record_option,
    split_names,
)
from cropper.cli.tables import worded
from cropper.errors import MisuseError, weightiest

if TYPE_CHECKING:
    from cropper.batch.work import Crew
    from cropper.job.asked import HandCrop, Pick
    from cropper.job.exporting import Wish
    from cropper.job.rows import Row
    from cropper.job.running import Planned

HAND_WISH: Final = re.compile(
    r"(?:(?P<version>[^:=]+):)?(?P<name>[^:=]+)=(?P<value>-?\d+(?:\s*,\s*-?\d+)*)"
)
"""``VERSION:DEST=1,2,3,4``, the version and its colon optional."""
LONG_TABLE: Final = 100
"""Of more masters no table is printed, line by line (house)."""


@click.command()
@click.argument("files", nargs=-1, type=PictureType(), metavar="[MASTER]...")
@for_option(required=False)
@click.option(
    "--set", "set_name", default="", metavar="NAME", help="The MASTERs are rivals: one goes where."
)
@job_option(to_be_made=True)
@marks_options
@click.option(
    "--crop",
    "crops",
    multiple=True,
    metavar="[VERSION:]DEST=X0,Y0,X1,Y1",
    help="A crop of your own, in pixels of the upright master; never overwritten.",
)
@click.option(
    "--choose",
    "picks",
    multiple=True,
    metavar="[VERSION:]DEST=N",
    help="Take proposal N instead of the first; never overwritten.",
)
@click.option(
    "--outlets",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where things run; outlets.toml in the job's folder unless given.",
)
@click.option(
    "--renew",
    "renewed",
    multiple=True,
    callback=split_names,
    metavar="NAME,...",
    help="Take today's description of these destinations; else the job keeps its own.",
)
@click.option("--use-every-version", is_flag=True, help="Each version of a set goes somewhere.")
@click.option(
    "--export",
    "finish",
    is_flag=True,
    help="Write the finished files in the same run; each MASTER is decoded once.",
)
@click.option(
    "--with-problems",
    is_flag=True,
    help="With --export: also crops that break a rule and that you have not approved.",
)
@click.option("--explain", is_flag=True, help="Print every reason, conflict and way out.")
@record_option
@presets_option
@batch_options
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    files: tuple[Path, ...],
    names: tuple[str, ...],
    set_name: str,
    job: Path,
    crops: tuple[str, ...],
    picks: tuple[str, ...],
    outlets: Path | None,
    address: str | None,
    renewed: tuple[str, ...],
    use_every_version: bool,
    finish: bool,
    with_problems: bool,
    explain: bool,
    preset_folders: tuple[Path, ...],
    workers: int | None,
    scheduler: str,
    json_lines: bool,
    as_json: bool,
    **marks: Any,
) -> None:
    """Propose a crop of every MASTER for every destination, and say why.

    A MASTER may be a folder (all pictures in it and below), a pattern, or the address of either on
    storage. The plan lies in the
    job's folder. Run it again with more MASTERs or destinations, or with none to bring it up to
    date and to finish what an interruption left: what you did by hand stays, and only what changed
    is proposed anew. MASTERs are read, never written.

    With --export the finished files are written, too, as `cropper export` does it; --json then
    prints the manifest. Files of a set are finished when all of it is planned.

    Exit codes: 0 done, 1 no MASTER could be opened, 2 misused, 3 a preset is at fault, 4 rivals
    clash, 5 eyes were not found or a choice of yours needs another look, 6 some MASTERs failed,
    130 stopped by Ctrl-C.
    """
    from cropper.batch.crews import crew_of  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.inputs import pictures  # noqa: PLC0415
    from cropper.batch.planning import spread_over, state_of  # noqa: PLC0415
    from cropper.cli.tables import say  # noqa: PLC0415
    from cropper.destination.presets import load_presets  # noqa: PLC0415
    from cropper.job.asked import Asked  # noqa: PLC0415
    from cropper.job.running import run_plan  # noqa: PLC0415

    catalogue = load_presets(folders=preset_folders)
    given = marks_given(**marks)
    asked = Asked(
        files=pictures(files),
        destinations=catalogue.choose(names) if names else (),
        offered=catalogue.destinations,
        renewed=frozenset(renewed),
        given=catalogue.given,
        marks=given if given.given else None,
        crops=tuple(_crop(one) for one in crops),
        picks=tuple(_pick(one) for one in picks),
    )
    crew = crew_of(workers, scheduler)
    with watched("Planning", events=json_lines) as watch:
        done = run_plan(
            job,
            asked,
            now=datetime.now(UTC),
            set_name=set_name,
            outlets=outlets,
            record=address,
            use_every_version=use_every_version,
            finish=finish,
            spread=spread_over(crew, watch.stop),
            say=say,
            told=lambda one, of: watch.through(one.version, state_of(one), of, one.sentence),
        )
    if not json_lines:
        report(done, explain=explain, as_json=as_json, exported=finish)
        if done.absent:
            say(WHERE_ARE_THEY.format(job=job))
    if watch.stop.asked:
        ctx.exit(EXIT_STOPPED)
    if not finish:
        ctx.exit(done.exit_code)
    now = datetime.now(UTC)
    wish = _wish(job, now, with_problems=with_problems)
    code = _exported(job, wish, crew, now=now, json_lines=json_lines, as_json=as_json)
    ctx.exit(code if code == EXIT_STOPPED else weightiest(done.exit_code, code))


def _wish(job: Path, now: datetime, *, with_problems: bool) -> Wish:
    from cropper.job.exporting import Wish  # noqa: PLC0415 - as above
    from cropper.job.store import DELIVERABLES  # noqa: PLC0415

    day = f"{now.astimezone():%Y%m%d}"
    return Wish(folder=job / DELIVERABLES, day=day, with_problems=with_problems)


def _exported(
    job: Path, wish: Wish, crew: Crew | None, *, now: datetime, json_lines: bool, as_json: bool
) -> int:
    from cropper.cli.export import export  # noqa: PLC0415 - as above

    return export(
        job,
        wish,
        crew,
        now=now,
        json_lines=json_lines,
        as_json=as_json,
        questions_told=not json_lines,
    )


def _taken_apart(given: str, option: str, example: str) -> tuple[str, str, list[int]]:
    """Version, destination and numbers of ``VERSION:DEST=1,2``."""
    match = HAND_WISH.fullmatch(given.strip())
    if match is None:
        raise MisuseError(f"{option} {given} is not understood", way_out=f"Write {example}")
    numbers = [int(part) for part in match["value"].split(",")]
    return match["version"] or "", match["name"].strip(), numbers


def _crop(given: str) -> HandCrop:
    from cropper.geometry import PixelBox  # noqa: PLC0415 - as above
    from cropper.job.asked import HandCrop  # noqa: PLC0415

    example = "--crop DEST=X0,Y0,X1,Y1 with X0 < X1 and Y0 < Y1, in whole pixels"
    version, name, numbers = _taken_apart(given, "--crop", example)
    try:
        x0, y0, x1, y1 = numbers
        box = PixelBox(x0, y0, x1, y1)
    except ValueError as error:
        raise MisuseError(f"--crop {given} is no box", way_out=f"Write {example}") from error
    return HandCrop(version=version, destination=name, box=box)


def _pick(given: str) -> Pick:
    from cropper.job.asked import Pick  # noqa: PLC0415 - as above

    example = "--choose DEST=2"
    version, name, numbers = _taken_apart(given, "--choose", example)
    if len(numbers) != 1:
        raise MisuseError(f"--choose {given} is not understood", way_out=f"Write {example}")
    return Pick(version=version, destination=name, number=numbers[0])


def report(done: Planned, *, explain: bool, as_json: bool, exported: bool = False) -> None:
    """What came of a plan: a table (or JSON) on stdout, everything else on stderr.

    ``exported``: what JSON there is to tell, the export tells.
    """
    from cropper.cli.tables import say  # noqa: PLC0415 - as above
    from cropper.job.summary import mapping, needs_an_eye  # noqa: PLC0415

    if as_json and not exported:
        click.echo(json.dumps(mapping(done.plan), indent=2, ensure_ascii=False))
    elif not as_json:
        _print_plan(done, explain=explain)
    for note in done.notes:
        say(f"Note: {note}")
    for clash in done.clashes:
        say(f"Rivals clash: {clash}")
    for sentence in needs_an_eye(done.plan):
        say(f"Needs your eye: {sentence}.")
    for failed in done.failed:
        say(f"Failed: {failed.sentence}")


def _print_plan(done: Planned, *, explain: bool) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above
    from cropper.job.summary import listed, rows  # noqa: PLC0415

    masters = len(done.plan.masters)
    if explain:
        for one in rows(done.plan):
            _explain(one)
    elif masters > LONG_TABLE:
        click.echo(f"{masters} masters are planned; see them with `cropper status --job FOLDER`.")
    else:
        print_table(
            ("version", "destination", "shot", "verdict", "by", "why"),
            (
                (one.version, one.destination, one.shot, one.verdict, one.chosen_by, one.sentence)
                for one in listed(done.plan)
            ),
        )
    for planned in done.plan.sets:
        click.echo(f"\nSet '{planned.name}' ({', '.join(planned.versions)})")
        for sentence in planned.sentences:
            click.echo(f"  - {sentence}")
        if planned.runner_up_costs:
            click.echo(f"  - {planned.runner_up_costs}")


def _explain(one: Row) -> None:
    shot = f"{one.shot}, " if one.shot else ""
    click.echo(
        click.style(f"{one.version} for {one.destination}: {shot}{worded(one.verdict)}", bold=True)
    )
    for reason in one.reasons:
        click.echo(f"  - {reason}")
    for way_out in one.ways_out:
        click.echo(f"  Way out: {way_out}")
    if one.others:
        click.echo(f"  ({one.others} other proposals; see them with `cropper proof`)")
