"""``cropper check``: crops made elsewhere, measured by the same rules."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cropper.cli.batches import EXIT_STOPPED, batch_options, watched
from cropper.cli.options import (
    PictureType,
    for_option,
    json_option,
    marks_given,
    marks_options,
    presets_option,
)
from cropper.cli.tables import worded
from cropper.errors import MisuseError

if TYPE_CHECKING:
    from cropper.job.checking import Checked
    from cropper.proposal.proposal import Proposal


@click.command()
@click.argument("files", nargs=-1, required=True, type=PictureType(), metavar="FILE...")
@for_option()
@marks_options
@click.option("--explain", is_flag=True, help="Print every rule, not only those that do not hold.")
@presets_option
@batch_options
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    files: tuple[Path, ...],
    names: tuple[str, ...],
    explain: bool,
    preset_folders: tuple[Path, ...],
    workers: int | None,
    scheduler: str,
    json_lines: bool,
    as_json: bool,
    **marks: Any,
) -> None:
    """Measure each FILE, as it is, as a crop for every destination named.

    A FILE may be a folder or a pattern. Eye line, headroom, shape and all other rules, each with
    its value beside target and limit.

    Exit codes: 0 no rule is broken, 1 no FILE could be opened, 2 misused, 3 a preset is at fault,
    5 eyes were not found, 6 some FILEs could not be opened, 7 a rule is broken.
    """
    from cropper.batch.crews import crew_of  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.inputs import pictures  # noqa: PLC0415
    from cropper.batch.measuring import check_all  # noqa: PLC0415
    from cropper.destination.presets import load_presets  # noqa: PLC0415
    from cropper.job.checking import as_mapping, exit_code  # noqa: PLC0415

    given, meant = marks_given(**marks), pictures(files)
    if given.given and len(meant) != 1:
        raise MisuseError(
            f"marks by hand belong to one picture, and {len(meant)} are named",
            way_out="Check that picture alone",
        )
    chosen = load_presets(folders=preset_folders).choose(names)
    crew = crew_of(workers, scheduler)
    with watched("Checking", events=json_lines) as watch:
        checked = check_all(meant, chosen, given, crew=crew, stop=watch.stop, hear=watch.through)
    if as_json:
        click.echo(json.dumps(as_mapping(checked), indent=2, ensure_ascii=False))
    elif not json_lines:
        _print(checked, explain=explain)
    ctx.exit(EXIT_STOPPED if watch.stop.asked else exit_code(checked))


def _print(checked: list[Checked], *, explain: bool) -> None:
    from cropper.cli.tables import print_table, say  # noqa: PLC0415 - as above

    print_table(
        ("file", "destination", "shot", "verdict", "why"),
        (
            (
                Path(one.file).name,
                made.destination,
                made.shot,
                str(made.verdict),
                next(iter(made.reasons), ""),
            )
            for one in checked
            for made in one.measured
        ),
    )
    for one in checked:
        for made in one.measured:
            _rules(one, made, explain=explain)
        if one.unreadable:
            say(f"Failed: {one.problem}")
        elif one.problem is not None:
            say(f"Needs your eye: {one.file}: {one.problem}.")


def _rules(one: Checked, made: Proposal, *, explain: bool) -> None:
    """The rules that do not hold, or all of them."""
    told = [rule for rule in made.measures if explain or rule.verdict != "holds"]
    if told:
        click.echo(f"\n{one.file} for {made.destination}")
    for rule in told:
        click.echo(f"  {worded(rule.verdict)}: {rule.title}: {rule.sentence}")
