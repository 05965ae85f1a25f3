"""`cropper feedback count` and `remarks`: what came back, as totals and as words."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cropper.cli.feedback_options import named, opened, whole, zone_option
from cropper.cli.options import record_option
from cropper.errors import EXIT_DONE, EXIT_SOME_FAILED, MisuseError

if TYPE_CHECKING:
    from cropper.account.remarks import Taking
    from cropper.publication.responses import Count


@click.command("count")
@click.argument("set_name", metavar="SET")
@click.argument("name", metavar="QUESTION")
@click.argument("totals", nargs=-1, required=True, metavar="VERSION=TOTAL...")
@click.option("--at", "outlet", required=True, metavar="OUTLET", help="Where it was counted.")
@click.option(
    "--of",
    "measure",
    type=click.Choice(["votes", "likes", "comments", "mentions"]),
    default="votes",
    show_default=True,
    help="What was counted.",
)
@click.option("--tag", default="", metavar="TAG", help="With --of mentions: of which tag.")
@click.option("--when", metavar="TIME", help="When you looked; now unless given.")
@click.option("--reach", multiple=True, metavar="VERSION=N", help="How many people it reached.")
@click.option(
    "--since",
    multiple=True,
    metavar="VERSION=TIME",
    help="Since when it was seen there; else from its recorded run.",
)
@zone_option
@record_option
def count(
    *,
    set_name: str,
    name: str,
    totals: tuple[str, ...],
    outlet: str,
    measure: str,
    tag: str,
    when: str | None,
    reach: tuple[str, ...],
    since: tuple[str, ...],
    zone: str,
    address: str | None,
) -> None:
    """Note totals as they stand now: votes, likes, comments.

    A poll: cropper feedback count knitwear which-cover hooded-shawl=159 roll-neck=168 --at
    studio-feed

    A run by itself, with the people it reached: cropper feedback count knitwear in-spring
    hooded-shawl=48 --of likes --reach hooded-shawl=900 --at studio-feed

    Pairs, PREFERRED/OTHER=TOTAL: cropper feedback count knitwear two-by-two
    roll-neck/hooded-shawl=14 hooded-shawl/roll-neck=10 --at studio-wall
    """
    from cropper.account import tallying  # noqa: PLC0415 - keeps --help instant
    from cropper.publication.dates import read_instant  # noqa: PLC0415
    from cropper.publication.responses import Count, Measure  # noqa: PLC0415

    now = datetime.now(UTC)
    at = now if when is None else read_instant(when, zone)
    reached = {version: whole(number) for version, number in map(named, reach)}
    seen = {version: read_instant(time, zone) for version, time in map(named, since)}

    def counted(version: str, number: str) -> Count:
        preferred, _, over = version.partition("/")
        return Count(
            question=name,
            version=preferred,
            over=over or None,
            outlet=outlet,
            measure=Measure(measure),
            number=whole(number),
            at=at,
            reach=reached.get(preferred),
            since=seen.get(preferred),
            tag=tag,
        )

    counts = [counted(version, number) for version, number in map(named, totals)]
    _all_used("--reach", reached, counts)
    _all_used("--since", seen, counts)
    with opened(address) as record:
        for sentence in tallying.count(record, set_name, counts, now=now):
            click.echo(f"Note: {sentence}", err=True)
    listed = ", ".join(f"{_said(one)} {one.number:,}" for one in counts)
    click.echo(f"Noted at '{outlet}' as of {at:%Y-%m-%d %H:%M} UTC, {measure}: {listed}.")


@click.command("remarks", short_help="Take in remarks from a CSV file, row by row.")
@click.argument("set_name", metavar="SET")
@click.argument("name", metavar="QUESTION")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--at", "outlet", default="", metavar="OUTLET", help="For rows that name none.")
@click.option("--under", "version", default="", metavar="VERSION", help="For rows that name none.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="WHAT=HEADING",
    help="Which heading holds text, version, outlet, at or author, where they are named otherwise.",
)
@click.option("--encoding", default="", metavar="NAME", help="UTF-8 unless given, or marked.")
@click.option("--keep-authors", is_flag=True, help="Keep who said it; left out by default.")
@click.option("--zone", default=None, metavar="NAME", help="Where times without a zone belong.")
@record_option
@click.pass_context
def remarks(
    ctx: click.Context,
    *,
    set_name: str,
    name: str,
    file: Path,
    outlet: str,
    version: str,
    columns: tuple[str, ...],
    encoding: str,
    keep_authors: bool,
    zone: str | None,
    address: str | None,
) -> None:
    """Take in remarks from a CSV file, row by row; the first row names the columns.

    Exit codes: 0 done, 6 some rows could not be read (they are named; the others are in).
    """
    from cropper.account import tallying  # noqa: PLC0415 - keeps --help instant
    from cropper.account.remarks import Source  # noqa: PLC0415
    from cropper.cli.tables import progress  # noqa: PLC0415
    from cropper.publication.dates import zone_called  # noqa: PLC0415

    with opened(address) as record, progress("Taking in remarks") as step:
        source = Source(
            path=file,
            question=record.responses(set_name).question(name),
            outlet=outlet,
            version=version,
            columns=dict(map(named, columns)),
            encoding=encoding,
            keep_authors=keep_authors,
            zone=None if zone is None else zone_called(zone),
        )
        taking = tallying.take(record, source, lambda done, of: step(done, of, file.name))
    _say_taken(taking)
    ctx.exit(EXIT_SOME_FAILED if taking.faulty else EXIT_DONE)


def _said(one: Count) -> str:
    return f"'{one.version}'" + (f" over '{one.over}'" if one.over else "")


def _all_used(option: str, given: dict[str, Any], counts: list[Count]) -> None:
    for version in given:
        if all(one.version != version for one in counts):
            raise MisuseError(
                f"{option} names '{version}', which is not counted here",
                way_out="Name only versions whose total you give",
            )


def _say_taken(taking: Taking) -> None:
    click.echo(f"{taking.kept - taking.known:,} remarks taken in.")
    if taking.known:
        click.echo(f"{taking.known:,} were there already and stay as they are.")
    if taking.empty:
        click.echo(f"{taking.empty:,} empty rows were left out.", err=True)
    for row, why in taking.named:
        click.echo(f"Row {row}: {why}", err=True)
    if taking.faulty > len(taking.named):
        click.echo(
            f"And {taking.faulty - len(taking.named):,} more rows could not be read.", err=True
        )
