"""`cropper expiring`: what ends soon, and what to do about it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import click

from cropper.cli.options import json_option, record_option
from cropper.cli.tables import print_table

USUAL_DAYS: Final = 60
MOST_DAYS: Final = 36_500
"""House values: two months ahead; a century is as good as for ever."""


class DaysType(click.ParamType[int]):
    """``60``, ``60d`` or ``8w``: a number of days or weeks."""

    name = "DAYS"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number of days."""
        if isinstance(value, int):
            return value
        told = str(value).strip().lower()
        number, days = (told[:-1], 7) if told.endswith("w") else (told.removesuffix("d"), 1)
        if not number.isdecimal() or not 1 <= int(number) * days <= MOST_DAYS:
            self.fail(f"'{value}' is no number of days such as 60d or 8w", param, ctx)
        return int(number) * days


@click.command()
@click.option(
    "--within",
    type=DaysType(),
    metavar="DAYS",
    help="How far ahead to look: 60d, 8w. 60 days unless given; with --about as far as it goes.",
)
@click.option("--on", metavar="DATE", help="Look from this day on instead of from now.")
@click.option("--about", metavar="NAME", help="Only this version, set, outlet or person.")
@click.option("--zone", metavar="NAME", help="In which zone --on begins; else yours.")
@click.option(
    "--calendar",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write them as a calendar (.ics), with an alarm a week and a day before.",
)
@json_option
@record_option
def command(
    *,
    within: int | None,
    on: str | None,
    about: str | None,
    zone: str | None,
    calendar: Path | None,
    as_json: bool,
    address: str | None,
) -> None:
    """List what ends soon, with what to do: exclusives, embargoes, licences, releases, runs.

    When does the exclusive end? cropper expiring --about knitwear

    Exit codes: 0 done, 1 the record cannot be read, 2 misused.
    """
    from cropper.account.calendar_file import put_endings  # noqa: PLC0415 - keeps --help instant
    from cropper.account.expiring import as_plain, endings  # noqa: PLC0415
    from cropper.publication.dates import read_instant  # noqa: PLC0415
    from cropper.publication.facts import Asked  # noqa: PLC0415
    from cropper.publication.spans import Span  # noqa: PLC0415
    from cropper.record import open_record  # noqa: PLC0415
    from cropper.record.naming import zone_for  # noqa: PLC0415

    now = datetime.now(UTC)
    start = read_instant(on, zone_for(None, zone)) if on else now
    days = within or (MOST_DAYS if about else USUAL_DAYS)
    span = Span(start, start + timedelta(days=days))
    with open_record(address) as record:
        facts = replace(
            record.facts(Asked(span=Span(start))),
            licences=tuple(one for one in record.licences() if not one.called_off),
        )
    found = [one for one in endings(facts, span) if about is None or about in one.names]
    if calendar is not None:
        put_endings(calendar, found, now=now)
        click.echo(f"{calendar} ({len(found)} entries)")
    elif as_json:
        click.echo(json.dumps([as_plain(one) for one in found], indent=2, ensure_ascii=False))
    elif found:
        print_table(
            ("when", "what", "about", "outlet", "number", "what to do"),
            [one.cells for one in found],
        )
    else:
        told = f"Nothing about '{about}' ends" if about else "Nothing ends"
        click.echo(f"{told}{'' if days == MOST_DAYS else f' within {days} days'}.")
