"""`cropper feedback ask`: a question, declared before anybody counts."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper.cli.feedback_options import job_hint, named, opened, tags_of, tags_option, zone_option
from cropper.cli.options import record_option, split_names

if TYPE_CHECKING:
    from cropper.publication.responses import Question


@click.command("ask")
@click.argument("set_name", metavar="SET")
@click.argument("name", metavar="QUESTION")
@click.option(
    "--versions",
    multiple=True,
    required=True,
    callback=split_names,
    metavar="NAME,...",
    help="The versions that people could choose between.",
)
@click.option(
    "--as",
    "design",
    type=click.Choice(["one-poll", "separate-runs", "pairs"]),
    required=True,
    help="One poll that shows all; separate runs at their own times; two at a time.",
)
@click.option("--wording", default="", metavar="TEXT", help="What people are asked, in your words.")
@click.option(
    "--answers",
    type=click.IntRange(min=1),
    metavar="N",
    help="Stop at so many answers: an end fixed beforehand makes looking in between harmless.",
)
@click.option(
    "--looks",
    type=click.IntRange(min=1),
    metavar="N",
    help="Or look so many times and stop at the first clear lead; the verdict allows for it."
    " Without any of these you may look when you like, and the verdict allows for that.",
)
@click.option("--until", metavar="DATE", help="Or stop then: a date, or a time with its zone.")
@click.option(
    "--meant",
    multiple=True,
    metavar="VERSION=TAG,...",
    help="What a version is meant to show first; without it, [intent] of tags.toml.",
)
@zone_option
@tags_option
@job_hint
@record_option
def ask(
    *,
    set_name: str,
    name: str,
    versions: tuple[str, ...],
    design: str,
    wording: str,
    answers: int | None,
    looks: int | None,
    until: str | None,
    meant: tuple[str, ...],
    zone: str,
    tags: Path | None,
    job: Path | None,
    address: str | None,
) -> None:
    """Declare a question about SET before anybody counts.

    Example: cropper feedback ask knitwear which-cover --as one-poll --answers 820 --versions
    hooded-shawl,roll-neck --meant hooded-shawl=eyes,light
    """
    from cropper.account import tallying  # noqa: PLC0415 - keeps --help instant
    from cropper.publication.dates import read_instant  # noqa: PLC0415
    from cropper.publication.responses import (  # noqa: PLC0415
        WHEN_I_LIKE,
        Design,
        Intent,
        Question,
    )

    now = datetime.now(UTC)
    question = Question(
        name=name,
        set=set_name,
        versions=versions,
        design=Design(design.replace("-", " ")),
        declared_at=now,
        wording=wording,
        stop_at_answers=answers,
        stop_at=None if until is None else read_instant(until, zone),
        looks=WHEN_I_LIKE if not (looks or answers or until) else looks,
        intents=tuple(
            Intent(
                version=version, tags=tuple(tag.strip() for tag in listed.split(",")), noted_at=now
            )
            for version, listed in map(named, meant)
        ),
    )
    with opened(address, job) as record:
        whole = tallying.declare(record, question, tags_of(job, tags))
    click.echo(f"Asked about '{set_name}': {wording or name} ({design.replace('-', ' ')}).")
    for intent in whole.intents:
        click.echo(f"'{intent.version}' is meant to show {', then '.join(intent.tags)}.")
    if not (looks or answers or until):
        click.echo(_advice(whole), err=True)


def _advice(question: Question) -> str:
    """What it costs to look when one likes, and what number of answers would be worth waiting for.

    With a fixed end fewer answers tell as much.
    """
    from cropper.publication.responses import Design  # noqa: PLC0415 - as above

    said = (
        "Look when you like: the verdict allows for it, and needs more answers than one with an end"
        " fixed now."
    )
    if question.design is Design.SEPARATE_RUNS:
        return f"{said} Fix one with --answers or --until."
    from cropper.publication.samples import answers_needed  # noqa: PLC0415 - as above

    return (
        f"{said} Fix one with --answers or --until: between two versions {answers_needed(0.6)}"
        f" answers tell 60 from 40 with 80 % power, {answers_needed(0.55)} tell 55 from 45."
    )
