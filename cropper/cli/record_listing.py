"""The parts of `cropper record` that list runs and agreements, with their numbers."""

from __future__ import annotations

import json

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.record_running import opened
from cropper.cli.tables import print_table


@click.command(short_help="List the runs with their numbers, also those that are over.")
@click.option("--set", "sets", multiple=True, metavar="SET", help="Only this set.")
@click.option("--version", "versions", multiple=True, metavar="VERSION", help="Only this version.")
@click.option("--at", "outlets", multiple=True, metavar="OUTLET", help="Only this outlet.")
@json_option
@record_option
def runs(
    *,
    sets: tuple[str, ...],
    versions: tuple[str, ...],
    outlets: tuple[str, ...],
    as_json: bool,
    address: str | None,
) -> None:
    """List the runs with their numbers, also those that are over or called off.

    The number is what `end`, `correct` and `withdraw` ask for.
    """
    from cropper.account.whereabouts import ROW_HEADINGS, rows, run_as_plain  # noqa: PLC0415
    from cropper.publication.facts import Asked  # noqa: PLC0415 - keeps --help instant

    with opened(address) as record:
        found = record.facts(Asked(sets=sets, versions=versions, outlets=outlets)).runs
    if as_json:
        click.echo(json.dumps([run_as_plain(one) for one in found], indent=2, ensure_ascii=False))
    elif found:
        print_table(ROW_HEADINGS, rows(found))
    else:
        click.echo("No such run is on record.")


@click.command(short_help="List agreements, releases, rests and barred versions.")
@click.option("--all", "every", is_flag=True, help="Also what is over or called off.")
@json_option
@record_option
def agreements(*, every: bool, as_json: bool, address: str | None) -> None:
    """List what was agreed: licences with their numbers, releases, rests, barred versions.

    The number of a licence is what `end`, `withdraw` and `licence --id` ask for.
    """
    from datetime import UTC, datetime  # noqa: PLC0415 - keeps --help instant

    from cropper.account.agreements import as_plain, listed  # noqa: PLC0415
    from cropper.publication.facts import Asked  # noqa: PLC0415

    with opened(address) as record:
        licences, facts = record.licences(), record.facts(Asked(versions=("",)))
    found = listed(licences, facts, at=datetime.now(UTC), every=every)
    if as_json:
        click.echo(json.dumps([as_plain(one) for one in found], indent=2, ensure_ascii=False))
    elif found:
        print_table(
            ("number", "what", "about", "for", "from", "until", "state", "more"),
            [one.cells for one in found],
        )
    else:
        click.echo("Nothing was agreed yet. Record it: cropper record licence --help")
