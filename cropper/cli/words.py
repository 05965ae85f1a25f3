"""``cropper words``: what the files of a job say, and a commented file to start from."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import job_option, json_option

if TYPE_CHECKING:
    from cropper.job.wording_listing import JobWordsListing, WordedRow

SHOWN: Final = 40
"""So many rows are shown unless all are asked for (house: two screens)."""
CELL: Final = 120
"""Characters of a text that a cell of the table shows (house); JSON has all."""


@click.command()
@job_option(to_be_made=False)
@click.option("--all", "everything", is_flag=True, help="Show all rows, not the first 40.")
@json_option
def command(*, job: Path, everything: bool, as_json: bool) -> None:
    """Write a commented words.toml into the job, or check and show the one that is there.

    The file holds credits, releases, licence terms, captions and alt texts; `cropper export`
    writes them into the finished files. One that is there is never written to. Rights and releases
    are yours to confirm.

    Exit codes: 0 done, 1 cannot, 2 misused, 3 words.toml is at fault.
    """
    from datetime import datetime  # noqa: PLC0415 - keeps --help instant

    from cropper.job.wording_listing import words_of_job  # noqa: PLC0415 - as above

    listing = words_of_job(job, today=datetime.now().astimezone().date())
    if as_json:
        click.echo(json.dumps(listing.mapping(), indent=2, ensure_ascii=False))
    elif listing.made:
        click.echo(f"{listing.file} is written, with all lines commented out.")
        click.echo(f"Fill it in, then look at it again: cropper words --job {job}")
    else:
        _print(listing, len(listing.rows) if everything else SHOWN)


def _print(listing: JobWordsListing, most: int) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - keeps --help instant

    print_table(
        ("destination", "version", "credit line", "caption", "alt text", "terms"),
        (_cells(row) for row in listing.rows[:most]),
    )
    if len(listing.rows) > most:
        click.echo(f"... and {len(listing.rows) - most} more rows: --all shows them.")
    for heading, sentences in (
        ("What was cut, or is not told:", _notes(listing)),
        ("Worth a look:", listing.remarks),
    ):
        if sentences:
            click.echo(f"\n{heading}")
        for sentence in sentences:
            click.echo(f"  {sentence}")
    click.echo("\nRights and releases are yours to confirm.")


def _cells(row: WordedRow) -> tuple[str, ...]:
    from cropper.deliverable.cutting import cut_to_characters  # noqa: PLC0415 - as above

    told = row.worded
    texts = (told.credit_line, told.caption, told.alt_text, told.words.usage_terms)
    shown = (cut_to_characters(" ".join(text.split()), CELL) or "-" for text in texts)
    return row.destination, row.version, *shown


def _notes(listing: JobWordsListing) -> list[str]:
    """Each note once, with where it holds."""
    places: dict[str, list[str]] = {}
    for row in listing.rows:
        for note in row.worded.notes:
            places.setdefault(note, []).append(f"{row.version} for {row.destination}")
    few = 3
    return [
        f"{note} ({', '.join(where[:few])}{', ...' if len(where) > few else ''})"
        for note, where in places.items()
    ]
