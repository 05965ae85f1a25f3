"""``cropper demo``: the whole job on the shipped pictures, from the masters to the files."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import click

from cropper.errors import EXIT_DONE, EXIT_NEEDS_YOUR_EYE, weightiest

SET: Final = "fernhollow-wool"
RIVALS: Final = ("fernhollow_a_frontal", "fernhollow_i_shawl_rival")
"""Two finished versions of one idea: planned as a set, so that only one goes to each place."""


@click.command()
@click.option(
    "--to",
    "--job",
    "job",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("demo_out"),
    show_default=True,
    metavar="DIR",
    help="The demo's job folder.",
)
@click.pass_context
def command(ctx: click.Context, *, job: Path) -> None:
    """Do the whole job on the shipped pictures: find, plan, proof, export; and a year after it.

    The pictures are invented: the knitwear maker Fernhollow Mill and everybody in them do not
    exist. The year told after it is invented too: runs, an exclusive, a vote that stays undecided,
    on a timeline and in a report. Run it again to see that only what changed is done again.

    Some crops of the demo are held for a problem on purpose: that alone is no failure here.

    Exit codes: else those of `cropper plan` and `cropper export`.
    """
    from cropper.account.invented_year import write_year  # noqa: PLC0415 - keeps --help instant
    from cropper.cli.tables import say  # noqa: PLC0415
    from cropper.job.demo import demo_masters, demo_words, plan_demo  # noqa: PLC0415

    started = datetime.now(UTC)
    masters = demo_masters(job)
    demo_words(job)
    say(f"{len(masters)} masters, the set '{SET}' of {len(RIVALS)} rivals among them.")
    code = weightiest(
        plan_demo(job, masters, set_name=SET, rivals=RIVALS, now=started, say=say),
        _proof(job),
        _export(job, started),
    )
    pages = write_year(job, SET, RIVALS, now=started)
    _tell(job, pages)
    ctx.exit(EXIT_DONE if code == EXIT_NEEDS_YOUR_EYE else code)


def _proof(job: Path) -> int:
    from cropper.cli.proof import command as proof  # noqa: PLC0415 - as above

    try:
        proof.main(args=["--job", str(job)], standalone_mode=False)
    except click.exceptions.Exit as left:
        return left.exit_code
    return 0


def _export(job: Path, now: datetime) -> int:
    from cropper.cli.export import talk  # noqa: PLC0415 - as above
    from cropper.cli.tables import progress  # noqa: PLC0415
    from cropper.job.exporting import Wish  # noqa: PLC0415
    from cropper.job.manifesting import run_export  # noqa: PLC0415
    from cropper.job.store import DELIVERABLES  # noqa: PLC0415

    wish = Wish(folder=job / DELIVERABLES, day=f"{now.astimezone():%Y%m%d}")
    with progress("Exporting") as step:
        done = run_export(job, wish, now=now, progress=step)
    talk(done, job)
    return done.exit_code


def _tell(job: Path, pages: tuple[Path, ...]) -> None:
    """The table at the end, and where to look."""
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above
    from cropper.job.store import DELIVERABLES, JobFolder  # noqa: PLC0415
    from cropper.job.summary import tallies  # noqa: PLC0415

    plan = JobFolder(job).must_read()
    print_table(
        ("version", "eyes", "good", "fine", "check", "problem", "no crop", "assigned to"),
        tallies(plan),
    )
    click.echo("\nLook at:")
    for path, what in (
        (job / "proof.html", "every proposal, with overlays and reasons"),
        (job / "proof.pdf", "the contact sheet"),
        (job / DELIVERABLES, "the finished files, with manifest.json and manifest.csv"),
        (
            job / "words.toml",
            "credits, captions and alt texts, invented; texts to copy lie in texts",
        ),
        (job / "record.sqlite", "the record of that invented year: --record names it"),
        *((page, "what ran and what came back: an invented year") for page in pages),
        (job / "plan.json", "what was planned and chosen, readable"),
    ):
        click.echo(f"  {path}  {what}")
