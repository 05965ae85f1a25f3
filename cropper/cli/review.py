"""``cropper review``: the page on which crops are trusted, corrected and approved."""

from __future__ import annotations

from pathlib import Path

import click

from cropper.cli.options import job_option, record_option


@click.command()
@job_option(to_be_made=False)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    metavar="N",
    help="The port to listen at; any free one unless given.",
)
@click.option(
    "--host",
    default="127.0.0.1",
    metavar="ADDRESS",
    help="Where to listen. Leave it alone unless others on your network shall see the pictures.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address; open no browser.")
@record_option
def command(*, job: Path, port: int, host: str, no_browser: bool, address: str | None) -> None:
    """Look at a job in the browser: correct, compare, approve and export.

    The page is served on this machine only, under an address that opens once. Everything you do is
    saved at once into the job's plan. Stop it with Ctrl+C; nothing is lost.

    Exit codes: 0 done, 1 the job cannot be read, 2 misused.
    """
    from cropper.review.serving import LOOPBACKS, serve  # noqa: PLC0415 - keeps --help instant

    if host not in LOOPBACKS:
        click.echo(
            f"Warning: at {host} others on your network can reach this page. It is not encrypted: "
            "who listens in sees the pictures, and whoever has the address can change the job.",
            err=True,
        )

    def opened(page: str) -> None:
        click.echo(page)
        click.echo(
            "Open this address once; Ctrl+C ends it. Everything is saved as you go.", err=True
        )
        if not no_browser:
            click.launch(page)

    serve(job, host=host, port=port, opened=opened, record=address)
