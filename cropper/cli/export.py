"""``cropper export``: the finished files of a job, and the manifest of what went where."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.batches import EXIT_STOPPED, batch_options, watched
from cropper.cli.options import WHERE_ARE_THEY, job_option, json_option, split_names

if TYPE_CHECKING:
    from cropper.batch.work import Crew
    from cropper.deliverable.manifest import NotDelivered
    from cropper.job.exporting import Exported, Wish
    from cropper.job.making import FileMade

HELD_SHOWN: Final = 20
"""So many held crops are told one by one (house: a screen)."""


@click.command()
@job_option(to_be_made=False)
@click.option(
    "--to",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the files go; the job's own folder 'deliverables' unless given.",
)
@click.option("--all", "everything", is_flag=True, help="Rivals too, not only the assigned ones.")
@click.option(
    "--by-recipient/--flat",
    default=None,
    help="One folder for each recipient, or one for all; files move. As before unless given.",
)
@click.option(
    "--only",
    multiple=True,
    callback=split_names,
    metavar="NAME,...",
    help="Only these destinations, groups or recipients of the job.",
)
@click.option(
    "--approved-only",
    is_flag=True,
    help="Only what stands approved on the page of `cropper review`.",
)
@click.option(
    "--with-problems",
    is_flag=True,
    help="Also crops that break a rule and that you have not approved; else they are held.",
)
@click.option(
    "--accept-low-ppi",
    is_flag=True,
    help="Also prints with fewer pixels per inch than their destination demands; else held.",
)
@batch_options
@click.option(
    "--sidecars-beside-masters",
    is_flag=True,
    help="XMP sidecars with the crops also beside the masters; never over somebody else's.",
)
@click.option(
    "--proofs-for",
    metavar="RECIPIENT|all",
    help="Instead of finished files: small proofs with a visible mark, in 'client_proofs'.",
)
@click.option(
    "--proof-words",
    metavar="TEXT",
    help="What the mark says; 'proof, not for publication' unless given.",
)
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    job: Path,
    folder: Path | None,
    everything: bool,
    by_recipient: bool | None,
    only: tuple[str, ...],
    approved_only: bool,
    with_problems: bool,
    accept_low_ppi: bool,
    sidecars_beside_masters: bool,
    proofs_for: str | None,
    proof_words: str | None,
    workers: int | None,
    scheduler: str,
    json_lines: bool,
    as_json: bool,
) -> None:
    """Write the finished files of a job, with manifest.json and manifest.csv beside them.

    Files appear whole or not at all, masters stay untouched, and only what changed since the last
    export is written again. Of a set, the assigned versions are written. Each master gets an XMP
    sidecar with its crops as image regions, in the job's folder 'sidecars'. With --proofs-for
    nothing is delivered: every crop for that recipient becomes a small marked picture to look at.

    A crop that breaks a rule is held until you approve it, choose it or draw it yourself.

    Exit codes: 0 done, 1 nothing could be written, 2 misused, 4 rivals clash, 5 a crop is held, a
    choice of yours needs another look, or eyes were not found for certain, 6 some files failed, 130
    stopped by Ctrl-C.
    """
    if proofs_for is not None:
        ctx.exit(_client_proofs(job, proofs_for, proof_words, as_json=as_json))
    if proof_words is not None:
        raise click.UsageError("--proof-words belongs to --proofs-for.")
    from cropper.batch.crews import crew_of  # noqa: PLC0415 - keeps --help instant
    from cropper.job.exporting import Wish  # noqa: PLC0415
    from cropper.job.store import DELIVERABLES  # noqa: PLC0415

    now = datetime.now(UTC)
    wish = Wish(
        folder=folder or job / DELIVERABLES,
        day=f"{now.astimezone():%Y%m%d}",
        everything=everything,
        by_recipient=by_recipient,
        only=only,
        approved_only=approved_only,
        with_problems=with_problems,
        accept_low_ppi=accept_low_ppi,
        sidecars_beside_masters=sidecars_beside_masters,
    )
    crew = crew_of(workers, scheduler)
    ctx.exit(export(job, wish, crew, now=now, json_lines=json_lines, as_json=as_json))


def export(
    job: Path,
    wish: Wish,
    crew: Crew | None,
    *,
    now: datetime,
    json_lines: bool,
    as_json: bool,
    questions_told: bool = False,
) -> int:
    """Export the job and tell of it; gives the exit code.

    ``questions_told``: the plan of the same run has told already what the finder asks.
    """
    from cropper.batch.exporting import spread_over, state_of  # noqa: PLC0415 - as above
    from cropper.batch.telling import State  # noqa: PLC0415
    from cropper.job.manifesting import JSON_FILE, run_export  # noqa: PLC0415

    state = State.DONE
    with watched("Exporting", events=json_lines) as watch:

        def hear(made: FileMade) -> None:
            nonlocal state
            state = state_of(made)

        done = run_export(
            job,
            wish,
            now=now,
            progress=lambda _done, of, file: watch.through(file, state, of),
            spread=spread_over(crew, watch.stop, hear),
        )
    if as_json:
        _echo(wish.folder / JSON_FILE)
    elif not json_lines:
        print_exported(done, wish.folder)
    talk(replace(done, questions=()) if questions_told else done, job)
    return EXIT_STOPPED if watch.stop.asked else done.exit_code


def _echo(file: Path) -> None:
    """A text as it stands, line by line."""
    with file.open(encoding="utf-8") as lines:
        for line in lines:
            click.echo(line, nl=False)


def _client_proofs(job: Path, recipient: str, words: str | None, *, as_json: bool) -> int:
    """Marked proofs, told; gives the exit code."""
    from cropper.cli.tables import print_table, progress, say  # noqa: PLC0415 - as above
    from cropper.job.client_proofs import exit_code, run_client_proofs  # noqa: PLC0415

    with progress("Proofs") as step:
        made = run_client_proofs(job, recipient=recipient, text=words, progress=step)
    good = [one for one in made if not one.fault]
    cells = [(one.version, one.destination, one.recipient, str(one.path)) for one in good]
    heads = ("version", "destination", "recipient", "file")
    if as_json:
        rows = [dict(zip(heads, row, strict=True)) for row in cells]
        click.echo(json.dumps({"format": 1, "proofs": rows}, indent=2, ensure_ascii=False))
    else:
        print_table(heads, cells)
    for one in made:
        if one.fault:
            say(f"Failed: {one.version} for {one.destination}: {one.fault}")
    return exit_code(made)


def print_exported(done: Exported, to: Path) -> None:
    """The delivered files as a table, if it is not too long, and where they lie."""
    from cropper.cli.tables import print_table  # noqa: PLC0415 - as above

    rows: list[Sequence[str]] = [
        (
            one.file,
            f"{one.width} x {one.height}",
            f"{one.bytes / 1000:.0f} kB",
            one.verdict,
            "written" if one.fresh else "moved" if one.moved else "as before",
        )
        for one in done.first
    ]
    if done.delivered == len(rows):
        print_table(("file", "px", "size", "verdict", "this run"), rows)
    click.echo(f"\n{_in_short(done, to)}")


def _in_short(done: Exported, to: Path) -> str:
    """The last line: what lies there, and what this run did to it."""
    from cropper.cli.tables import counted  # noqa: PLC0415 - as above

    did = [f"{done.written} written now"]
    did += [f"{done.moved} moved"] * bool(done.moved)
    others = done.listed - done.delivered
    did += [f"{others} of earlier exports"] * bool(others)
    withheld = done.not_delivered
    rest = f"; {withheld} not delivered, see not_delivered.csv" if withheld else ""
    return f"{counted(done.listed, 'file')} in {to} ({', '.join(did)}){rest}."


def _alike(failures: Iterable[NotDelivered]) -> dict[tuple[str | None, str], list[str]]:
    """By version and reason, the destinations: one missing master is told of once."""
    told: dict[tuple[str | None, str], list[str]] = {}
    for one in failures:
        told.setdefault((one.version, one.reason), []).append(one.destination or "anything")
    return told


def talk(done: Exported, job: Path) -> None:
    """What needs saying besides, on stderr."""
    from cropper.cli.tables import say  # noqa: PLC0415 - as above

    for (version, reason), places in _alike(done.failures).items():
        say(f"Failed: {version} for {', '.join(places)}: {reason}")
    if done.clash:
        say("Rivals clash: a set is not assigned, so none of its versions was written (or --all).")
    for name in done.look_again:
        say(f"Needs your eye: look again at {name}; its ground changed after you chose.")
    for question in done.questions:
        say(f"Needs your eye: {question}.")
    for sidecar in done.sidecars:
        say(f"Failed: the sidecar of {sidecar.version}: {sidecar.fault}")
    for remark in done.remarks:
        say(f"Left alone: {remark}")
    for doubt in done.doubts:
        say(f"Failed: {doubt}")
    if done.absent and (done.failures or done.doubts):
        say(WHERE_ARE_THEY.format(job=job))
    for path in done.set_aside:
        say(f"Moved aside, because the plan no longer gives it: {path}")
    _talk_of_problems(done, job)


def _talk_of_problems(done: Exported, job: Path) -> None:
    """The last lines: which crops break a rule, whether they left, and what to do."""
    from cropper.cli.tables import counted, say  # noqa: PLC0415 - as above
    from cropper.job.approving import HELD_FOR_A_PROBLEM  # noqa: PLC0415

    if done.problems:
        says = "has a problem" if done.problems == 1 else "have a problem"
        say(f"Look: {counted(done.problems, 'file')} {says}, and nobody approved it.")
    if not done.held:
        return
    held = [one for one in done.first_missing if one.reason.startswith(HELD_FOR_A_PROBLEM)]
    for one in held[:HELD_SHOWN]:
        why = one.reason.removeprefix(HELD_FOR_A_PROBLEM).strip()
        say(f"Held: {one.version} for {one.destination}. {why}")
    if done.held > HELD_SHOWN:
        say(f"... and {done.held - HELD_SHOWN} more: see not_delivered.csv.")
    says = "has a problem and was" if done.held == 1 else "have a problem and were"
    say(f"{counted(done.held, 'crop')} {says} not exported.")
    say(
        f"Look and approve: cropper review --job {job}. To export all the same: cropper export "
        f"--job {job} --with-problems"
    )
