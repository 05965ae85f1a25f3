"""``cropper remove``: masters or destinations out of a job."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from cropper.cli.options import job_option, record_option, split_names


@click.command()
@click.argument("versions", nargs=-1, metavar="[VERSION]...")
@job_option(to_be_made=False)
@click.option(
    "--destination",
    "destinations",
    multiple=True,
    callback=split_names,
    metavar="NAME,...",
    help="Take these destinations out, for every master.",
)
@record_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    versions: tuple[str, ...],
    job: Path,
    destinations: tuple[str, ...],
    address: str | None,
) -> None:
    r"""Take masters or destinations out of a job.

    A VERSION is a name from the table of `cropper plan`, or a file that could not be planned. The
    pictures themselves are not touched. What you chose for them is forgotten; planning them again
    proposes anew. The next `cropper export` moves their finished files to the job's folder
    'set_aside', and the manifest says why.

    \b
    Examples:
      cropper remove shawl-2 --job my-job
      cropper remove --destination story,page-header --job my-job

    Exit codes: 0 done, 1 cannot, 2 misused, 4 rivals clash.
    """
    if not versions and not destinations:
        raise click.UsageError("Name a VERSION, or a destination with --destination.")
    from cropper.cli.tables import counted, say  # noqa: PLC0415 - keeps --help instant
    from cropper.errors import EXIT_DONE, EXIT_RIVALS_CLASH  # noqa: PLC0415
    from cropper.job.removing import run_remove  # noqa: PLC0415

    done = run_remove(job, versions, destinations, now=datetime.now(UTC), record=address)
    for clash in done.clashes:
        say(f"Rivals clash: {clash}")
    masters = counted(len(done.plan.shelf.entries), "master")
    click.echo(f"Removed. The job has {masters} and {_places(len(done.plan.destinations))} left.")
    click.echo(f"Bring the files up to date with: cropper export --job {job}")
    ctx.exit(EXIT_RIVALS_CLASH if done.clashes else EXIT_DONE)


def _places(count: int) -> str:
    from cropper.cli.tables import counted  # noqa: PLC0415 - as above

    return counted(count, "destination")
