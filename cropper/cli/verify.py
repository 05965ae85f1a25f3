"""``cropper verify``: whether the deliverables are what the manifest says."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.batches import EXIT_STOPPED, watched
from cropper.cli.options import job_option, json_option

if TYPE_CHECKING:
    from cropper.batch.verifying import Verified


@click.command()
@job_option(to_be_made=False)
@click.option(
    "--in",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the files went; the job's own folder 'deliverables' unless given.",
)
@click.option("--repair", is_flag=True, help="Make anew what is missing or was changed.")
@json_option
@click.pass_context
def command(
    ctx: click.Context, *, job: Path, folder: Path | None, repair: bool, as_json: bool
) -> None:
    """Compare every deliverable with the digest in its manifest.

    Names what is missing, what was changed since, what was never finished and what the manifest
    does not speak of: a picture that no manifest lists is a fault, anything else is only named.
    With --repair, files that are missing or changed are exported again; a changed one is moved to
    the job's folder 'set_aside' first. Files that this job did not write are left alone.

    Exit codes: 0 every file is as it was delivered, 1 there is no manifest, 2 misused, 6 some
    files are not.
    """
    from cropper.batch.repairing import repair as repaired  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.telling import State  # noqa: PLC0415
    from cropper.batch.verifying import noted, verify  # noqa: PLC0415
    from cropper.cli.tables import progress, say  # noqa: PLC0415
    from cropper.job.store import DELIVERABLES  # noqa: PLC0415

    with watched("Verifying") as watch:
        done = verify(
            folder or job / DELIVERABLES,
            lambda file, sound, of: watch.through(file, State.DONE if sound else State.FAILED, of),
            written=noted(job, folder or job / DELIVERABLES),
        )
    if watch.stop.asked:
        ctx.exit(EXIT_STOPPED)
    if repair and done.exit_code:
        with progress("Making anew") as step:
            done, moved = repaired(job, done, now=datetime.now(UTC), progress=step)
        for path in moved:
            say(f"Moved aside: {path}")
    if as_json:
        click.echo(json.dumps(done.mapping(), indent=2, ensure_ascii=False))
    else:
        _print(done, job, repaired=repair)
    ctx.exit(done.exit_code)


def _print(done: Verified, job: Path, *, repaired: bool) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above

    if done.found:
        print_table(
            ("what", "file", "sentence"),
            ((str(one.fault), one.file, one.sentence) for one in done.found),
        )
    if done.listed:
        click.echo(f"{done.sound} of {done.listed} files are as they were delivered.")
    else:
        click.echo("The manifest lists no file.")
    if done.exit_code and not repaired:
        click.echo(f"Make the others anew with: cropper verify --job {job} --repair")
