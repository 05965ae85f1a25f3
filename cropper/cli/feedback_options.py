"""Options and small words that the parts of `cropper feedback` share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.errors import MisuseError

if TYPE_CHECKING:
    from cropper.publication.tags import TagList
    from cropper.record import Record

zone_option: Final = click.option(
    "--zone",
    default="UTC",
    show_default=True,
    metavar="NAME",
    help="Where times without a zone belong, such as Europe/Oslo.",
)
tags_option: Final = click.option(
    "--tags",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="FILE",
    help="Your tags and their words; else the job's tags.toml, else your own for all jobs.",
)
job_hint: Final = click.option(
    "--job",
    "job",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="DIR",
    help="The job whose tags.toml counts.",
)


@contextmanager
def opened(address: str | None, job: Path | None = None) -> Iterator[Record]:
    """The record at that address (else beside the job, else the user's), closed in the end."""
    from cropper.record import open_record  # noqa: PLC0415 - brings the database

    with open_record(address, job=job) as record:
        yield record


def tags_of(job: Path | None, given: Path | None) -> TagList | None:
    """The tags that count: those given, the job's, the user's; None when there are none."""
    from cropper.account.tag_lists import find_tags, read_tags  # noqa: PLC0415 - as above

    path = find_tags(job, given)
    return None if path is None else read_tags(path)


def named(given: str) -> tuple[str, str]:
    """A name and its value, apart at the first ``=``."""
    name, sign, value = given.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise MisuseError(f"'{given}' is not NAME=VALUE", way_out="Write, say, roll-neck=61")
    return name.strip(), value.strip()


def whole(number: str) -> int:
    """A total as a number."""
    try:
        return int(number)
    except ValueError as error:
        raise MisuseError(
            f"'{number}' is not a whole number", way_out="Write, say, roll-neck=61"
        ) from error
