"""``cropper words``: what the files of a job say, and a commented file to start from."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import job_option, json_option

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cropper.job.wording_listing import JobWordsListing, WordedRow

SHOWN: Final = 40
"""So many rows are shown unless all are asked for (house: two screens)."""
LONGEST: Final = 600
"""Characters of a text that a cell of the table shows (house); JSON has all."""


@click.command()
@job_option(to_be_made=False)
@click.option("--all", "everything", is_flag=True, help="Show all rows, not the first 40.")
@json_option
def command(*, job: Path, everything: bool, as_json: bool) -> None:
    """Write a commented words.toml into the job, or check and show the one that is there.

    The file holds credits, releases, licence terms, captions and alt texts, and begins with what
    the masters say of themselves; `cropper export` writes them into the finished files. One that is
    there is never written to. Rights and releases are yours to confirm.

    Exit codes: 0 done, 1 cannot, 2 misused, 3 words.toml is at fault.
    """
    from datetime import datetime  # noqa: PLC0415 - keeps --help instant

    from cropper.job.wording_listing import words_of_job  # noqa: PLC0415 - as above

    listing = words_of_job(job, today=datetime.now().astimezone().date())
    if as_json:
        click.echo(json.dumps(listing.mapping(), indent=2, ensure_ascii=False))
    elif listing.made:
        click.echo(f"{listing.file} is written: what the masters say, the rest commented out.")
        click.echo(f"Fill it in, then look at it again: cropper words --job {job}")
    else:
        _print(listing, len(listing.rows) if everything else SHOWN)


def _print(listing: JobWordsListing, most: int) -> None:
    from cropper.cli.tables import print_table  # noqa: PLC0415 - keeps --help instant

    rows = _alike(listing.rows)
    print_table(
        ("version", "at", "credit line", "caption", "alt text", "terms"),
        ((version, ", ".join(places), *texts) for (version, *texts), places in rows[:most]),
    )
    if len(rows) > most:
        click.echo(f"... and {len(rows) - most} more rows: --all shows them.")
    for heading, sentences in (
        ("What was cut, or is not told:", _notes(listing)),
        ("Worth a look:", listing.remarks),
    ):
        if sentences:
            click.echo(f"\n{heading}")
        for sentence in sentences:
            click.echo(f"  {sentence}")
    click.echo("\nRights and releases are yours to confirm.")


def _alike(rows: Sequence[WordedRow]) -> list[tuple[tuple[str, ...], list[str]]]:
    """Version and its texts, with all destinations at which it says the same."""
    found: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        told = row.worded
        texts = (told.credit_line, told.caption, told.alt_text, told.words.usage_terms)
        found.setdefault((row.version, *map(_cell, texts)), []).append(row.destination)
    return list(found.items())


def _cell(text: str) -> str:
    """A text on one line; a very long one ends with how much is left."""
    line = " ".join(text.split()) or "-"
    more = len(line) - LONGEST
    return f"{line[:LONGEST]} [and {more} characters]" if more > 0 else line


def _notes(listing: JobWordsListing) -> list[str]:
    """Each note once, with the destinations it holds at."""
    places: dict[str, dict[str, None]] = {}
    for row in listing.rows:
        for note in row.worded.notes:
            places.setdefault(note, {})[row.destination] = None
    return [f"{note} ({_some(tuple(where))})" for note, where in places.items()]


def _some(names: tuple[str, ...]) -> str:
    few = 3
    more = f" and {len(names) - few} more" if len(names) > few else ""
    return f"{', '.join(names[:few])}{more}"
