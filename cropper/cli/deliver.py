"""``cropper deliver``: one recipient's files in one folder, and who got what."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from cropper.cli.options import job_option, json_option


@click.command()
@job_option(to_be_made=False)
@click.option("--to", "recipient", default="", metavar="RECIPIENT", help="For whom.")
@click.option("--zip", "zipped", is_flag=True, help="Also as one .zip file.")
@click.option("--list", "listing", is_flag=True, help="Tell what was delivered, when, to whom.")
@json_option
def command(*, job: Path, recipient: str, zipped: bool, listing: bool, as_json: bool) -> None:
    r"""Put one recipient's finished files into a folder to hand over, and remember it.

    Beside the files lie contact.html to look at, and credits.txt with the credit line and the terms
    of each. The files are those of the last export. Nothing is sent. --list answers which file went
    to whom, with which terms.

    \b
    Examples:
      cropper deliver --to model --job my-job --zip
      cropper deliver --list --to model --job my-job

    Exit codes: 0 done, 1 cannot, 2 misused.
    """
    if listing:
        _list(job, recipient, as_json=as_json)
        return
    if not recipient:
        raise click.UsageError("Say for whom, with --to; or --list what was delivered.")
    from cropper.cli.tables import counted, print_table  # noqa: PLC0415 - keeps --help instant
    from cropper.job.handing_over import hand_over  # noqa: PLC0415

    done = hand_over(job, recipient, now=datetime.now(UTC), zipped=zipped)
    if as_json:
        from dataclasses import asdict  # noqa: PLC0415 - as above

        click.echo(json.dumps({"format": 1, **asdict(done)}, indent=2, ensure_ascii=False))
        return
    print_table(
        ("file", "version", "destination", "terms"),
        [(one.file, one.version, one.destination, one.usage_terms) for one in done.files],
    )
    where = job / done.folder
    click.echo(f"\n{counted(len(done.files), 'file')} for {done.recipient} in {where}")
    if zipped:
        click.echo(f"Packed: {where}.zip")


def _list(job: Path, recipient: str, *, as_json: bool) -> None:
    """Everything that was delivered, a row for each file."""
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above
    from cropper.job.handing_over import deliveries  # noqa: PLC0415
    from cropper.job.store import JobFolder  # noqa: PLC0415

    JobFolder(job).must_read()
    told = list(deliveries(job, recipient))
    if as_json:
        click.echo(json.dumps({"format": 1, "deliveries": told}, indent=2, ensure_ascii=False))
        return
    if not told:
        click.echo(f"Nothing was delivered{f' to {recipient}' * bool(recipient)}.")
        return
    print_table(
        ("when (UTC)", "to", "file", "version", "terms"),
        [
            (
                one["at"][:16].replace("T", " "),
                one["recipient"],
                file["file"],
                file["version"],
                file["usage_terms"],
            )
            for one in told
            for file in one["files"]
        ],
    )
