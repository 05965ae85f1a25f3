"""`cropper allowed`: before a picture goes out, tell whether it may run there, then."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.record_options import run_options
from cropper.cli.record_running import opened
from cropper.cli.tables import print_table, say
from cropper.errors import EXIT_RIVALS_CLASH

if TYPE_CHECKING:
    from cropper.record.naming import Typed


@click.command()
@run_options()
@json_option
@record_option
@click.pass_context
def command(ctx: click.Context, typed: Typed, *, as_json: bool, address: str | None) -> None:
    """Tell whether FILE may run at an outlet at that time, and if not, when it would be fine.

    Looks at rivals before the same audience, exclusives, embargoes, licences, releases and
    versions that are barred. Nothing is recorded. Exit code 4: something stands in the way.

    Rights and releases are yours to confirm: the record knows only what it was told.
    """
    from cropper.publication.dates import said_span  # noqa: PLC0415 - keeps --help instant
    from cropper.record.address import job_of  # noqa: PLC0415
    from cropper.record.naming import run_of_typed  # noqa: PLC0415

    with opened(address, job_of(Path(typed.file))) as record:
        run = run_of_typed(record, typed)
        found, notes = record.may(run), record.beside(run)
    asked = f"'{run.version}' at '{run.outlet}' {said_span(run.span, run.zone)} ({run.zone})"
    if as_json:
        told = {"asked": asked, "clashes": [_told(one) for one in found], "notes": notes}
        click.echo(json.dumps(told, indent=2))
    elif not found:
        click.echo(f"Yes: nothing stands in the way of {asked}.")
    else:
        click.echo(f"No: {asked} meets {len(found)} rule{'s' * (len(found) > 1)}.")
        print_table(("rule", "whose", "why"), [(one.rule, one.who, one.sentence) for one in found])
        click.echo(found[0].way_out)
    for sentence in notes:
        say(f"Note: {sentence}.")
    ctx.exit(EXIT_RIVALS_CLASH if found else 0)


def _told(clash: object) -> dict[str, object]:
    from cropper.record.bodies import body_of  # noqa: PLC0415 - keeps --help instant

    return body_of(clash)
