"""`cropper report`: one page for a set: what ran where, what came back, what may be concluded."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from cropper.cli.options import record_option


@click.command()
@click.argument("set_name", metavar="SET")
@click.option(
    "--to",
    "to",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="Where the page (HTML) and the sheet (PDF) go; made if need be.",
)
@click.option(
    "--job",
    "job",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="DIR",
    help="The job whose masters or deliverables show the versions, and whose tags.toml counts.",
)
@click.option(
    "--tags",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="FILE",
    help="Your tags and their words, instead of the job's tags.toml or your own.",
)
@click.option("--invented", is_flag=True, help="Mark the page as made of invented data.")
@record_option
def command(
    *,
    set_name: str,
    to: Path,
    job: Path | None,
    tags: Path | None,
    invented: bool,
    address: str | None,
) -> None:
    """Write one page about SET: a report to read with a client.

    It shows the versions, what ran where, what came back, what may be concluded and what may not,
    and whether people spoke of what was meant. A picture that is gone leaves an empty frame.

    Exit codes: 0 done, 1 the record or the job cannot be read, 2 misused or SET unknown, 3 a
    tags.toml is at fault.
    """
    from cropper.account.report_making import put  # noqa: PLC0415
    from cropper.account.reporting import report  # noqa: PLC0415 - keeps --help instant
    from cropper.account.tag_lists import find_tags, read_tags  # noqa: PLC0415
    from cropper.record import open_record  # noqa: PLC0415

    listed = find_tags(job, tags)
    with open_record(address, job=job, begin=False) as record:
        told = report(
            record,
            set_name,
            job=job,
            tags=None if listed is None else read_tags(listed),
            now=datetime.now(UTC),
            invented=invented,
        )
    for path in put(told, to):
        click.echo(f"{path} ({path.stat().st_size / 1e3:.0f} kB)")
