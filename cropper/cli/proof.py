"""`cropper proof`: the sheets a photographer looks at, from a job's plan."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import json_option
from cropper.errors import EXIT_CANNOT, EXIT_DONE, EXIT_SOME_FAILED, MasterError, MisuseError

if TYPE_CHECKING:
    from cropper.job.plan import Plan
    from cropper.proof.parting import Part

MOST_NAMED: Final = 20
"""So many versions are named where one is misspelt (house: a few lines)."""


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
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    job: Path,
    to: Path | None,
    wanted: str,
    versions: tuple[str, ...],
    title: str,
    as_json: bool,
) -> None:
    """Make the proof sheets of a job: a page that needs no network, and a PDF.

    Every proposal of every master and destination, with overlays to toggle, a verdict per rule,
    and the reasons. Nothing is chosen or changed by looking. More than 40 masters come in parts:
    proof-1.html, proof-2.html ...

    Exit codes: 0 done, 1 cannot, 2 misused, 6 some masters could not be opened.
    """
    from cropper.job.store import JobFolder  # noqa: PLC0415 - keeps --help instant
    from cropper.proof.parting import left_over, parts  # noqa: PLC0415

    plan = JobFolder(job).must_read()
    known = plan.shelf.versions
    _refuse_unknown(versions, known)
    named = tuple(one for one in known if not versions or one in versions)
    wish = _Wish(
        job=job,
        to=to or job,
        wanted=wanted,
        title=title or job.resolve().name,
        of=len(named),
        as_json=as_json,
    )
    for part in parts(named):
        try:
            _make(plan, part, wish)
        except MasterError as error:
            if part.of == 1:
                raise
            click.echo(f"Not shown: part {part.number} of {part.of}: {error}", err=True)
            wish.not_shown += [(version, str(error)) for version in part.versions]
    if as_json:
        click.echo(json.dumps(wish.mapping(), indent=2, ensure_ascii=False))
    if not wish.written:
        ctx.exit(EXIT_CANNOT)
    for name in left_over(wish.to, wish.written):
        click.echo(f"From an earlier run, left there: {wish.to / name}", err=True)
    ctx.exit(EXIT_SOME_FAILED if wish.not_shown else EXIT_DONE)


@dataclass(slots=True, kw_only=True)
class _Wish:
    """What was asked for, and what came of it so far."""

    job: Path
    to: Path
    wanted: str
    title: str
    of: int
    as_json: bool
    looked_at: int = 0
    not_shown: list[tuple[str, str]] = field(default_factory=list)
    written: list[str] = field(default_factory=list)

    def mapping(self) -> dict[str, object]:
        """What came of it, for scripts."""
        files = [self.to / name for name in self.written]
        return {
            "format": 1,
            "files": [{"file": str(one), "bytes": one.stat().st_size} for one in files],
            "not_shown": [{"file": one, "sentence": why} for one, why in self.not_shown],
        }

    def looking(self, version: str) -> None:
        """Say how far it is."""
        self.looked_at += 1
        click.echo(f"Looking at {version} ({self.looked_at} of {self.of})", err=True)


def _make(plan: Plan, part: Part, wish: _Wish) -> None:
    """Make and write the sheets of one part."""
    from cropper.proof import from_plan  # noqa: PLC0415 - as above
    from cropper.proof.making import HTML_FILE, PDF_FILE, proofs, put  # noqa: PLC0415
    from cropper.proof.parting import among  # noqa: PLC0415

    shown = among(plan, part.versions)
    if part.number > 1:
        shown = replace(shown, failed=())  # told on the first sheet
    made = proofs(
        from_plan.sheet(shown, wish.job, part.title(wish.title)),
        html=wish.wanted != "pdf",
        pdf=wish.wanted != "html",
        progress=wish.looking,
    )
    for name, content in ((HTML_FILE, made.html), (PDF_FILE, made.pdf)):
        if content is not None:
            path = wish.to / part.file(name)
            put(path, content)
            wish.written.append(path.name)
            if not wish.as_json:
                click.echo(f"{path} ({len(content) / 1e6:.1f} MB)")
    for file, sentence in made.not_shown:
        click.echo(f"Not shown: {file}: {sentence}", err=True)
    wish.not_shown += made.not_shown


def _refuse_unknown(versions: tuple[str, ...], known: tuple[str, ...]) -> None:
    for version in versions:
        if version not in known:
            raise MisuseError(
                f"the job has no version called {version!r}",
                way_out=f"It has {_some(known)}",
            )


def _some(known: tuple[str, ...]) -> str:
    """The first of the names; a season's would fill the screen."""
    more = f" and {len(known) - MOST_NAMED} more" if len(known) > MOST_NAMED else ""
    return f"{', '.join(known[:MOST_NAMED]) or 'none'}{more}"
