"""`cropper proof`: the sheets a photographer looks at, from a job's plan."""

from __future__ import annotations

from pathlib import Path

import click

from cropper.errors import EXIT_DONE, EXIT_SOME_FAILED, MisuseError


@click.command()
@click.option(
    "--job",
    "job",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="The job folder that `cropper plan` made.",
)
@click.option(
    "--to",
    "to",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Where the sheets go; the job folder unless given.",
)
@click.option("--html", "wanted", flag_value="html", help="Only the page, proof.html.")
@click.option("--pdf", "wanted", flag_value="pdf", help="Only the contact sheet, proof.pdf.")
@click.option("--both", "wanted", flag_value="both", default="both", help="Both (the default).")
@click.option(
    "--only",
    "versions",
    multiple=True,
    metavar="NAME",
    help="Show only this version of the job; may be given again.",
)
@click.option("--title", default="", metavar="TEXT", help="The sheet's title; the folder's name.")
@click.pass_context
def command(
    ctx: click.Context,
    *,
    job: Path,
    to: Path | None,
    wanted: str,
    versions: tuple[str, ...],
    title: str,
) -> None:
    """Make the proof sheets of a job: a page that needs no network, and a PDF.

    Every proposal of every master and destination, with overlays to toggle, a verdict per rule,
    and the reasons. Nothing is chosen or changed by looking.

    Exit codes: 0 done, 1 cannot, 2 misused, 6 some masters could not be opened.
    """
    from cropper.job.store import JobFolder  # noqa: PLC0415 - keeps --help instant
    from cropper.proof import from_plan  # noqa: PLC0415
    from cropper.proof.making import HTML_FILE, PDF_FILE, proofs, put  # noqa: PLC0415

    plan = JobFolder(job).must_read()
    _refuse_unknown(versions, tuple(one.version for one in plan.masters))
    sheet = from_plan.sheet(plan, job, title or job.resolve().name)
    made = proofs(
        from_plan.only(sheet, versions),
        html=wanted != "pdf",
        pdf=wanted != "html",
        progress=lambda version: click.echo(f"Looking at {version}", err=True),
    )
    for name, content in ((HTML_FILE, made.html), (PDF_FILE, made.pdf)):
        if content is not None:
            path = (to or job) / name
            put(path, content)
            click.echo(f"{path} ({len(content) / 1e6:.1f} MB)")
    for file, sentence in made.not_shown:
        click.echo(f"Not shown: {file}: {sentence}", err=True)
    ctx.exit(EXIT_SOME_FAILED if made.not_shown else EXIT_DONE)


def _refuse_unknown(versions: tuple[str, ...], known: tuple[str, ...]) -> None:
    for version in versions:
        if version not in known:
            raise MisuseError(
                f"the job has no version called {version!r}",
                way_out=f"It has {', '.join(known) or 'none'}",
            )
