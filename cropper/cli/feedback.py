"""`cropper feedback`: what came back: a question, its counts, remarks, and what they tell."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.feedback_asking import ask
from cropper.cli.feedback_counting import count, remarks
from cropper.cli.feedback_options import job_hint, opened, tags_of, tags_option
from cropper.cli.options import json_option, record_option

if TYPE_CHECKING:
    from cropper.account.report import Asked


@click.group()
def command() -> None:
    """Count what came back about a set, and learn what it tells and what it does not.

    First say how you ask (`ask`), then note what you count (`count`, `remarks`), then read
    (`show`). The way of asking decides what counts can tell, so it is declared beforehand:
    one poll that showed all versions, separate runs, or pairs.

    Counts are totals as they stood when you looked. A mistake is mended by a later count; nothing
    is erased. Remarks stay on this machine, and their authors are left out unless you keep them.
    """


for part in (ask, count, remarks):
    command.add_command(part)


@command.command("show")
@click.argument("set_name", metavar="SET")
@click.argument("name", metavar="[QUESTION]", default="")
@tags_option
@job_hint
@json_option
@record_option
def show(
    *,
    set_name: str,
    name: str,
    tags: Path | None,
    job: Path | None,
    as_json: bool,
    address: str | None,
) -> None:
    """Say what the counts tell, what may be concluded and what may not."""
    from cropper.account import tallying  # noqa: PLC0415 - keeps --help instant
    from cropper.cli.tables import progress  # noqa: PLC0415

    with opened(address, job) as record, progress("Reading remarks") as step:
        told = tallying.told(
            record,
            set_name,
            tags=tags_of(job, tags),
            now=datetime.now(UTC),
            only=name,
            progress=lambda read: step(read, read, f"{read:,} so far"),
        )
    if as_json:
        from cropper.account.telling import as_json_text  # noqa: PLC0415

        click.echo(as_json_text(told))
        return
    if not told:
        click.echo(f"Nothing was asked about the set '{set_name}' yet: cropper feedback ask --help")
    for one in told:
        _say(one)


@command.command("tags", short_help="Write a tags.toml to start from, or check the one there.")
@click.option(
    "--job",
    "job",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="DIR",
    help="For this job alone; for all your jobs unless given.",
)
def tags_command(*, job: Path | None) -> None:
    """Write a commented tags.toml to start from, or check the one that is there."""
    from cropper.account.tag_lists import own_tags, read_tags, starter  # noqa: PLC0415
    from cropper.cli.tables import print_table  # noqa: PLC0415
    from cropper.publication.tags import TAGS_FILE  # noqa: PLC0415

    path = job / TAGS_FILE if job else own_tags()
    if starter(path):
        click.echo(f"{path} is written: change its words to those your people use.")
    tags = read_tags(path)
    print_table(("tag", "words"), [(tag, ", ".join(words)) for tag, words in tags.words.items()])
    for version, meant in tags.intents.items():
        click.echo(f"'{version}' is meant to show {', then '.join(meant)}.")


def _say(one: Asked) -> None:
    """One question's reading on the terminal."""
    from cropper.account.telling import lines, table  # noqa: PLC0415 - keeps --help instant
    from cropper.cli.tables import print_table  # noqa: PLC0415

    headings, rows = table(one)
    click.echo(f"\n{one.reading.question.wording or one.reading.question.name} ({one.design})")
    click.echo(f"  {one.reading.sentence}")
    if rows:
        print_table(headings, rows)
    for line in lines(one):
        click.echo(line)
