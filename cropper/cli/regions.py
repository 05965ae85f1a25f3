"""``cropper regions``: a job's crops as image regions, and crops from regions made elsewhere."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.options import job_option, json_option, split_names

if TYPE_CHECKING:
    from cropper.job.regions_taken import Taken


@click.command()
@job_option(to_be_made=False)
@click.option(
    "--read",
    "source",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Take crops from this XMP sidecar, or from the XMP in this picture, as your own choices.",
)
@click.option("--version", "version", metavar="NAME", help="The master that they belong to.")
@click.option(
    "--only",
    multiple=True,
    callback=split_names,
    metavar="DEST,...",
    help="Only these destinations of the job.",
)
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    job: Path,
    source: Path | None,
    version: str | None,
    only: tuple[str, ...],
    as_json: bool,
) -> None:
    """List the image regions of a job's masters, or take crops from regions with --read.

    A region of cropper's own names its destination; of others, the first one meant as a crop and
    of a shape that the destination takes is used. Numbers are shares of the upright picture. What
    is taken counts as chosen by you, and is measured by the destination's rules.

    Exit codes: 0 done, 1 the file cannot be read or holds no such region, 2 misused.
    """
    if source is None:
        _list(job, version, only, as_json=as_json)
        return
    from cropper.errors import EXIT_CANNOT  # noqa: PLC0415 - keeps --help instant
    from cropper.job.regions_taken import take_regions  # noqa: PLC0415

    taken = take_regions(job, source, version=version, only=only, now=datetime.now(UTC))
    _tell(taken, as_json=as_json)
    if not taken.crops:
        ctx.exit(EXIT_CANNOT)


def _list(job: Path, version: str | None, only: tuple[str, ...], *, as_json: bool) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - keeps --help instant
    from cropper.job.regions_taken import listed_regions  # noqa: PLC0415

    rows = listed_regions(job, version=version, only=only)
    if as_json:
        click.echo(json.dumps({"format": 1, "regions": rows}, indent=2, ensure_ascii=False))
        return
    heads = ("version", "destination", "outline", "where", "roles")
    cells = [
        (one["version"], one["name"], one["outline"], one["where"], one["roles"]) for one in rows
    ]
    print_table(heads, cells)


def _tell(taken: Taken, *, as_json: bool) -> None:
    from cropper.cli.tables import print_table, say  # noqa: PLC0415 - keeps --help instant

    rows = taken.mapping()
    if as_json:
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
    elif taken.crops:
        heads = ("version", "destination", "crop", "turned", "verdict")
        cells = [
            (
                taken.version,
                one.destination,
                ",".join(map(str, one.corners)),
                f"{one.straighten_deg:g} deg",
                one.verdict,
            )
            for one in taken.crops
        ]
        print_table(heads, cells)
    for sentence in taken.sentences:
        say(sentence)
