"""``cropper identify``: what a file found anywhere is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.options import json_option, record_option

if TYPE_CHECKING:
    from cropper.job.identifying import Identified, RunsOf


@click.command()
@click.argument(
    "files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE..."
)
@click.option(
    "--job",
    "jobs",
    type=click.Path(path_type=Path, file_okay=False),
    multiple=True,
    required=True,
    metavar="DIR",
    help="A job whose pictures are known, as `cropper plan` made it; may be given again.",
)
@json_option
@record_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    files: tuple[Path, ...],
    jobs: tuple[Path, ...],
    as_json: bool,
    address: str | None,
) -> None:
    """Tell which master, version and destination each FILE comes from.

    A FILE may be recompressed, resized, cut further, bordered, tinted, grey, mirrored, turned a
    little, or a screenshot with the picture in it. The crop is found back in pixels of the upright
    master. What cannot be told is said to be undecided or unknown.

    Fingerprints of the masters are kept in the job's folder. Nothing leaves this machine, and
    nobody's face is recognised: pictures are compared, not persons.

    Where a record is kept, the answer says where the file runs, too.

    Exit codes: 0 every FILE is known, 1 no FILE could be read or a job cannot be used, 2 misused,
    5 some FILE is unknown or undecided, 6 some FILEs cannot be read.
    """
    from cropper.cli.tables import progress, say  # noqa: PLC0415 - keeps --help instant
    from cropper.job.identifying import as_mapping, exit_code, identified  # noqa: PLC0415
    from cropper.job.known import known  # noqa: PLC0415

    with progress("Getting to know the masters") as step:
        pictures = known(jobs, say, step)
    answers: list[Identified] = []
    with progress("Identifying") as step, _runs(address, jobs[0]) as runs_of:
        for number, file in enumerate(files, start=1):
            answers.append(identified(file, pictures, runs_of))
            step(number, len(files), file.name)
    if as_json:
        click.echo(json.dumps(as_mapping(answers), indent=2, ensure_ascii=False))
    else:
        _print(answers)
    ctx.exit(exit_code(answers))


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
