"""``cropper status``: how a job stands, what waits for the eye, and what failed."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import WHERE_ARE_THEY, job_option, json_option, record_option
from cropper.cli.tables import worded

if TYPE_CHECKING:
    from cropper.batch.status import Status

NO_CROP: Final = "no crop"
"""How a destination without a crop is counted among the verdicts."""
SHOWN: Final = 20
"""So many things that wait are shown unless all are asked for (house: a screen)."""


@click.command()
@job_option(to_be_made=False)
@click.option("--all", "everything", is_flag=True, help="Show all that waits, not the first 20.")
@click.option("--html", "page", is_flag=True, help="Also make a page of the worst crops.")
@json_option
@record_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    job: Path,
    everything: bool,
    page: bool,
    as_json: bool,
    address: str | None,
) -> None:
    """Tell how a job stands: done, waiting for your eye, failed; the gravest first.

    No picture is opened, and nothing is changed; --html writes worst-first.html into the job's
    folder.

    Exit codes: 0 all is well, 1 cannot, 2 misused, 5 something waits for your eye, 6 some files
    failed or are still to be planned.
    """
    from cropper.batch.status import status_of  # noqa: PLC0415 - keeps --help instant
    from cropper.cli.tables import say  # noqa: PLC0415

    status = status_of(job)
    if as_json:
        click.echo(json.dumps(status.mapping(), indent=2, ensure_ascii=False))
    else:
        _print(status, job, len(status.waiting) if everything else SHOWN)
        _print_unsettled(job, address)
    if page:
        from cropper.batch.worst_first import put_worst_first  # noqa: PLC0415 - as above

        path, count = put_worst_first(job, progress=lambda version: say(f"Looking at {version}"))
        say(f"{path}: {count} masters, the worst first." if path else "Nothing needs a look.")
    ctx.exit(status.exit_code)


def _print(status: Status, job: Path, most: int) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above

    click.echo(_headline(status, job))
    if status.waiting:
        click.echo(f"\nWaiting for your eye ({len(status.waiting)}), the gravest first:")
        print_table(
            ("matter", "version", "about", "why"),
            (
                (one.word, one.version, _about(one.destinations), one.sentence)
                for one in status.waiting[:most]
            ),
        )
        if len(status.waiting) > most:
            click.echo(f"... and {len(status.waiting) - most} more: --all shows them.")
        click.echo(f"Look at them with: cropper review --job {job}")
    _print_masters(status, job)
    if status.failed:
        click.echo(f"\nFailed ({len(status.failed)}):")
        for one in status.failed[:most]:
            click.echo(f"  {one.sentence}")
        if len(status.failed) > most:
            click.echo(f"  ... and {len(status.failed) - most} more: --all shows them.")


def _print_masters(status: Status, job: Path) -> None:
    """Masters that are not what, or not where, they were."""
    if status.missing:
        click.echo(f"\nMasters that are not where the plan has them ({len(status.missing)}):")
        for version, place in list(status.missing.items())[:SHOWN]:
            click.echo(f"  {version}: {place}")
        if len(status.missing) > SHOWN:
            click.echo(f"  ... and {len(status.missing) - SHOWN} more: --json has all.")
        click.echo(WHERE_ARE_THEY.format(job=job))
    if status.changed:
        click.echo(f"\nMasters that changed since they were planned: {_named(status.changed)}.")
        click.echo(f"Plan them again, what you chose is kept: cropper plan --job {job}")


def _named(versions: tuple[str, ...]) -> str:
    rest = len(versions) - SHOWN
    return ", ".join(versions[:SHOWN]) + (f" and {rest} more" if rest > 0 else "")


def _print_unsettled(job: Path, address: str | None) -> None:
    """Recorded runs of the job that clash with what was agreed since."""
    from cropper.cli.tables import say  # noqa: PLC0415 - as above
    from cropper.errors import RecordError  # noqa: PLC0415
    from cropper.job.recording import unsettled_of  # noqa: PLC0415

    try:
        found = unsettled_of(job, address=address, now=datetime.now(UTC))
    except RecordError as error:
        say(f"The record was not asked: {error}")
        return
    if found:
        click.echo(f"\nRuns to settle ({len(found)}):")
    for one in found:
        click.echo(f"  {one.sentence} {one.way_out}.")


def _headline(status: Status, job: Path) -> str:
    """The counts in a few lines; what stands before a colon is the sum of what follows."""
    from cropper.cli.tables import counted  # noqa: PLC0415 - keeps --help instant

    told = {name: count for name, count in status.verdicts.items() if count}
    without = told.pop(NO_CROP, 0)
    verdicts = ", ".join(f"{count} {worded(name)}" for name, count in told.items())
    crops = counted(status.crops, "crop") + (f": {verdicts}" if verdicts else "")
    lines = [f"{counted(status.masters, 'master')} planned, {crops}."]
    if without:
        lines.append(f"{counted(without, 'destination')} without a crop.")
    said = [f"{count} {word}" for word, count in status.words.items()]
    if status.by_hand:
        said.append(f"{status.by_hand} chosen or drawn by you")
    if said:
        lines.append(f"Of the crops, {', '.join(said)}.")
    lines.append(f"{counted(status.files_written, 'file')} written by exports.")
    if status.to_be_planned:
        lines.append(
            f"{counted(status.to_be_planned, 'master')} still to be planned: an earlier run was "
            f"stopped. Go on with: cropper plan --job {job}"
        )
    return "\n".join(lines)


def _about(destinations: tuple[str, ...]) -> str:
    if len(destinations) <= 3:  # noqa: PLR2004 - what fits a column (house)
        return ", ".join(destinations)
    return f"{', '.join(destinations[:2])} and {len(destinations) - 2} more"
