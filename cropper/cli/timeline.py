"""`cropper timeline`: one page of what runs where, outlets down and weeks across."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import json_option, record_option

if TYPE_CHECKING:
    from cropper.publication.spans import Span

BACK: Final = timedelta(weeks=8)
AHEAD: Final = timedelta(weeks=18)
"""Half a year around today (house)."""


@click.command()
@click.option(
    "--to",
    "to",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    metavar="FILE",
    help="Written as FILE.html and FILE.pdf; older ones of that name are replaced.",
)
@click.option("--from", "start", metavar="DATE", help="Where the page begins; else 8 weeks ago.")
@click.option("--until", metavar="DATE", help="Where it ends; else 26 weeks later.")
@click.option(
    "--zone",
    metavar="NAME",
    help="In which zone plain dates begin, such as Europe/Oslo; else yours.",
)
@click.option(
    "--outlet",
    "outlets",
    multiple=True,
    metavar="NAME",
    help="Only this outlet; may be given again. Clashes with runs elsewhere are told all the same.",
)
@click.option(
    "--season",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="FILE",
    help="Draw the runs that `cropper season propose` wrote into FILE, too, as proposed.",
)
@click.option("--invented", is_flag=True, help="Mark the page as made of invented data.")
@json_option
@record_option
def command(
    *,
    to: Path,
    start: str | None,
    until: str | None,
    zone: str | None,
    outlets: tuple[str, ...],
    season: Path | None,
    invented: bool,
    as_json: bool,
    address: str | None,
) -> None:
    """Draw what runs where: outlets down, weeks across, clashes crossed, gaps dotted.

    One HTML page and one PDF sheet. Versions have a shape, a tone and a letter each; licences are
    hatched; a heavy line stands at today. A sheet grows from A4 as far as it must.

    Exit codes: 0 done, clashes or not; 1 the record cannot be read; 2 misused.
    """
    from cropper.account.season_files import read_season  # noqa: PLC0415 - as below
    from cropper.account.timeline_making import ask, put  # noqa: PLC0415 - keeps --help instant
    from cropper.account.timeline_saying import where_and_when  # noqa: PLC0415
    from cropper.record import open_record  # noqa: PLC0415
    from cropper.record.naming import zone_for  # noqa: PLC0415

    own, now = zone_for(None, zone), datetime.now(UTC)
    span = _span(start, until, own, now)
    with open_record(address) as record:
        chart = ask(
            record,
            span,
            now=now,
            outlets=outlets,
            zone=own,
            invented=invented,
            proposed=() if season is None else read_season(season).runs,
        )
    written = put(chart, to)
    if as_json:
        told = {
            "format": 1,
            "files": [{"file": str(one), "bytes": one.stat().st_size} for one in written],
            "clashes": [where_and_when(one) for one in chart.notes],
        }
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        return
    for path in written:
        click.echo(f"{path} ({path.stat().st_size / 1e3:.0f} kB)")
    if chart.notes:
        click.echo(f"{len(chart.notes)} clash{'es' * (len(chart.notes) > 1)}: see the page.")


def _span(start: str | None, until: str | None, zone: str, now: datetime) -> Span:
    """The stretch asked for; whole days around today where nothing was said."""
    from cropper.publication.dates import midnight, read_instant, zone_called  # noqa: PLC0415
    from cropper.publication.spans import Span  # noqa: PLC0415

    if start is None:
        day = (now - BACK).astimezone(zone_called(zone)).date()
        begin = midnight(day - timedelta(days=day.weekday()), zone)
    else:
        begin = read_instant(start, zone)
    if until is not None:
        return Span(begin, read_instant(until, zone))
    # Counted in days of the zone: a change of clocks in between moves no midnight.
    last = begin.astimezone(zone_called(zone)).date() + BACK + AHEAD
    return Span(begin, midnight(last, zone))
