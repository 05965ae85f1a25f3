"""The parts of `cropper record` that read it back, and that move it: history, save, load."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.record_options import zone_option
from cropper.cli.record_running import opened, stamp
from cropper.cli.tables import print_table, progress, say
from cropper.errors import EXIT_SOME_FAILED

if TYPE_CHECKING:
    from cropper.record.exchange import Taken
    from cropper.record.record import Entry

NAMED_STRANGERS: Final = 20
"""Unknown versions that are named one by one (house)."""
KINDS = """\b
NAME.backup  everything, history included; for an empty record, on either database
NAME.json    what counts now, for other programs
NAME.csv     the runs, for a spreadsheet
NAME.jsonld  the licences, as ODRL 2.2 policies"""


@click.command(short_help="Show all that was ever recorded, or all about one thing.")
@click.argument("about", required=False)
@json_option
@record_option
def history(about: str | None, *, as_json: bool, address: str | None) -> None:
    """Show everything that was ever recorded, of one run, file, outlet, person ... if named."""
    with opened(address) as record:
        files = record.pieces_called(about) if about else ()
        asked: list[str | None] = [one.sha256 for one in files] or [about]
        entries = [entry for one in asked for entry in record.history(one)]
    if as_json:
        click.echo(json.dumps([_told(one) for one in entries], indent=2))
        return
    if not entries:
        click.echo(f"Nothing was ever recorded{f' of {about}' * bool(about)}.")
        return
    print_table(
        ("when (UTC)", "what", "of", "by", "counts", "why"),
        [
            (
                f"{one.recorded_at:%Y-%m-%d %H:%M}",
                one.kind.replace("_", " "),
                _called(one),
                one.recorded_by,
                "corrected" if one.superseded else "yes",
                one.why,
            )
            for one in entries
        ],
    )


def _called(entry: Entry) -> str:
    """What an entry is about, as people call it."""
    body = entry.body
    if entry.kind == "piece":
        return str(body["file"])
    if entry.kind == "run":
        return f"{entry.thread}: {body['version']} at {body['outlet']}"
    if entry.kind == "licence":
        return f"{entry.thread}: {body['kind']} of {body['version'] or body['set']}"
    return entry.thread[:40]


def _told(entry: object) -> dict[str, object]:
    from cropper.record.bodies import body_of  # noqa: PLC0415 - keeps --help instant

    return body_of(entry)


@click.command(help=f"Write the record into FILE; its ending says as what.\n\n{KINDS}")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@record_option
def save(file: Path, *, address: str | None) -> None:
    """See the help above."""
    from cropper.record.filing import save_as  # noqa: PLC0415 - keeps --help instant

    with opened(address) as record:
        click.echo(f"{file}: {save_as(record, file)}.")


@click.command(help=f"Take in what FILE holds; its ending says what.\n\n{KINDS}")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@zone_option
@click.option(
    "--dates",
    "order",
    type=click.Choice(["day-first", "month-first"]),
    help="Of a CSV: what 03/04/2026 means, where no date of the file tells.",
)
@click.option("--encoding", default="", metavar="NAME", help="Of a CSV; found out unless given.")
@record_option
@click.pass_context
def load(
    ctx: click.Context,
    file: Path,
    *,
    zone: str | None,
    order: str | None,
    encoding: str,
    address: str | None,
) -> None:
    """See the help above."""
    from cropper.publication.dates import Order  # noqa: PLC0415 - keeps --help instant
    from cropper.record.filing import load_from  # noqa: PLC0415

    with opened(address) as record, progress("Taking in") as step:

        def heard(number: int) -> None:
            step(number, number, f"row {number}")

        taken = load_from(
            record,
            file,
            stamp(),
            zone=zone,
            order=Order(order) if order else None,
            encoding=encoding,
            heard=heard,
        )
    for line in _lines(taken):
        say(line)
    click.echo(f"{taken.kept} kept, {taken.known} known already.")
    ctx.exit(EXIT_SOME_FAILED if taken.clashing or taken.faulty else 0)


@click.command(short_help="Take a person's name, address or words out, history included.")
@click.argument("words")
@click.option("--yes", is_flag=True, help="Do it. Without it, only where the words stand is told.")
@click.option("--whole-remarks", is_flag=True, help="Remarks that hold the words lose all text.")
@click.option(
    "--why", default="", metavar="TEXT", help="A line for the history; do not repeat the words."
)
@record_option
def erase(*, words: str, yes: bool, whole_remarks: bool, why: str, address: str | None) -> None:
    """Take WORDS (a person's name, address, or what they wrote) out of the record for good.

    A token takes their place in remarks, releases, notes and the whole history; an entry says that
    something was erased, and not what. This cannot be undone. Backups and exported files are not
    touched.

    Example: cropper record erase "Ilse Marrow" --yes
    """
    from cropper.record.erasing import erase as erased  # noqa: PLC0415 - keeps --help instant
    from cropper.record.erasing import occurrences  # noqa: PLC0415

    with opened(address) as record:
        found = occurrences(record, words)
        if yes:
            done = erased(record, words, stamp(why), whole_remarks=whole_remarks)
    told = ", ".join(f"{count} in {name.replace('_', ' ')}" for name, count in found.rows.items())
    if yes:
        click.echo(f"Erased ({told}). In their place stands {done.stands_for_it}.")
    else:
        click.echo(f"Entries that hold these words: {told or 'none'}.")
    if found.names:
        listed = ", ".join(f"'{one}'" for one in found.names)
        say(f"Names that hold them too, and stay: {listed}. Other entries and files go by them.")
    for copy in found.copies:
        say(
            f"A copy of an earlier state holds what it held: {copy}. Delete it if you need it gone."
        )
    if not yes and found.rows:
        click.echo("To erase them for good, add --yes. Delete old backups yourself.")


@click.command(short_help="Bring an older shared record up to date.")
@record_option
def update(*, address: str | None) -> None:
    """Bring an older shared record up to date, for all seats: older programs cannot read it then.

    Take a backup of the database first. A record in a file needs none of this: it is copied aside
    and brought up to date whenever it is opened.
    """
    from cropper.record import open_record  # noqa: PLC0415 - keeps --help instant

    with open_record(address, for_all_seats=True) as record:
        click.echo(f"The record {record.address.shown} is up to date.")


def _lines(taken: Taken) -> Iterator[str]:
    for row, why in taken.named:
        yield f"Row {row}: {why}"
    more = taken.clashing + taken.faulty - len(taken.named)
    if more > 0:
        yield f"... and {more} more rows that could not be kept."
    for version, row in list(taken.strangers.items())[:NAMED_STRANGERS]:
        yield f"Row {row}: the record knows no finished file of '{version}'. Is it a slip?"
    unknown = len(taken.strangers) - NAMED_STRANGERS
    if unknown > 0:
        yield f"... and {unknown} more versions that the record does not know."
