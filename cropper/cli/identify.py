"""``cropper identify``: what a file found anywhere is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.batches import EXIT_STOPPED, batch_options, watched
from cropper.cli.options import PictureType, json_option, record_option

if TYPE_CHECKING:
    from cropper.job.identifying import Identified, RunsOf


@click.command()
@click.argument("files", nargs=-1, required=True, type=PictureType(), metavar="FILE...")
@click.option(
    "--job",
    "jobs",
    type=click.Path(path_type=Path, file_okay=False),
    multiple=True,
    required=True,
    metavar="DIR",
    help="A job whose pictures are known, as `cropper plan` made it; may be given again.",
)
@batch_options
@json_option
@record_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    files: tuple[Path, ...],
    jobs: tuple[Path, ...],
    workers: int | None,
    scheduler: str,
    json_lines: bool,
    as_json: bool,
    address: str | None,
) -> None:
    """Tell which master, version and destination each FILE comes from.

    A FILE may be a folder (all pictures in it and below) or a pattern.

    It may be recompressed, resized, cut further, bordered, tinted, grey, mirrored, turned a
    little, or a screenshot with the picture in it. The crop is found back in pixels of the upright
    master. What cannot be told is said to be undecided or unknown.

    Fingerprints of the masters are kept in the job's folder. Nothing leaves this machine, and
    nobody's face is recognised: pictures are compared, not persons.

    Where a record is kept, the answer says where the file runs, too.

    Exit codes: 0 every FILE is known, 1 no FILE could be read or a job cannot be used, 2 misused,
    5 some FILE is unknown or undecided, 6 some FILEs cannot be read, 130 stopped by Ctrl-C.
    """
    from cropper.batch.crews import crew_of  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.identifying import identify_all, made_state, spread_over  # noqa: PLC0415
    from cropper.batch.inputs import pictures  # noqa: PLC0415
    from cropper.cli.tables import say  # noqa: PLC0415
    from cropper.job.identifying import as_mapping, exit_code  # noqa: PLC0415
    from cropper.job.known import known  # noqa: PLC0415

    crew, meant = crew_of(workers, scheduler), pictures(files)
    with watched("Getting to know the masters", events=json_lines) as watch:
        masters = known(
            jobs,
            say,
            spread=spread_over(crew, watch.stop),
            told=lambda one, of: watch.through(
                one.wanted.path.name, made_state(one), of, one.problem
            ),
        )
    if watch.stop.asked:
        ctx.exit(EXIT_STOPPED)
    with (
        watched("Identifying", events=json_lines) as watch,
        _runs(address, jobs[0]) as runs_of,
    ):
        answers = identify_all(
            meant, masters, runs_of, crew=crew, stop=watch.stop, hear=watch.through
        )
    if as_json:
        click.echo(json.dumps(as_mapping(answers), indent=2, ensure_ascii=False))
    elif not json_lines:
        _print(answers)
    ctx.exit(EXIT_STOPPED if watch.stop.asked else exit_code(answers))


@contextmanager
def _runs(address: str | None, job: Path) -> Iterator[RunsOf]:
    """The record's word on where a file runs; silence where no record is kept."""
    from cropper.job.identifying import no_runs  # noqa: PLC0415 - as above
    from cropper.record.address import chosen  # noqa: PLC0415

    place = chosen(address, job=job)
    if place.file is not None and not place.file.is_file():
        yield no_runs
        return
    from cropper.job.recording import runs_told_by  # noqa: PLC0415 - brings the database
    from cropper.record import open_record  # noqa: PLC0415

    with open_record(address, job=job) as record:
        yield runs_told_by(record)


def _print(answers: list[Identified]) -> None:
    from cropper.cli.tables import print_table, say  # noqa: PLC0415 - as above
    from cropper.job.identifying_words import row, sentences  # noqa: PLC0415

    headings = ("file", "answer", "version", "destination", "crop in the master", "by")
    print_table(headings, (row(one) for one in answers))
    for one in answers:
        for sentence in sentences(one):
            say(sentence)
