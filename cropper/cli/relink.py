"""``cropper relink``: masters that were moved or renamed, found again by what they hold."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cropper.cli.options import job_option, json_option


@click.command()
@click.argument(
    "folders",
    nargs=-1,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="[FOLDER]...",
)
@job_option(to_be_made=False)
@json_option
@click.pass_context
def command(ctx: click.Context, *, folders: tuple[Path, ...], job: Path, as_json: bool) -> None:
    r"""Find the masters of a job again that were moved or renamed.

    A master is known by its bytes, so its new name does not matter. They are looked for beside
    their old places, and in every FOLDER and below. Crops, choices and approvals stay as they are.
    `cropper plan` and `cropper export` look beside the old places by themselves.

    \b
    Examples:
      cropper relink --job my-job
      cropper relink --job my-job /media/archive/2027

    Exit codes: 0 every master is in its place, 1 none was found, 2 misused, 6 some were not found.
    """
    from cropper.cli.tables import print_table, progress, say  # noqa: PLC0415 - keeps --help instant
    from cropper.errors import EXIT_CANNOT, EXIT_DONE, EXIT_SOME_FAILED  # noqa: PLC0415
    from cropper.job.relinking import run_relink  # noqa: PLC0415

    with progress("Looking") as step:
        done = run_relink(job, folders, lambda path: step(0, 0, path.name))
    if as_json:
        found = {version: str(path) for version, path in done.found.items()}
        missing = {version: str(path) for version, path in done.missing.items()}
        told = {"format": 1, "found": found, "missing": missing}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
    elif not done.found and not done.missing:
        click.echo("Every master is where the plan has it.")
    else:
        print_table(
            ("version", "found at"), ((name, str(path)) for name, path in done.found.items())
        )
    for version, path in done.missing.items():
        say(f"Not found: the master of '{version}', which was {path}")
    if done.missing:
        say(f"Name the folder where they are now: cropper relink --job {job} FOLDER")
        ctx.exit(EXIT_SOME_FAILED if done.found else EXIT_CANNOT)
    ctx.exit(EXIT_DONE)
