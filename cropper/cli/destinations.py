"""`cropper destinations`: where pictures can go, as a table, in sentences, or as JSON."""

from __future__ import annotations

import json
import shutil
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from cropper.cli.options import json_option, presets_option

if TYPE_CHECKING:
    from cropper.destination.destination import Destination
    from cropper.destination.presets import Catalogue

WIDEST_TEXT: Final = 100
"""House: longer lines are hard to read."""


@click.command()
@click.argument("names", nargs=-1, metavar="[NAME]...")
@presets_option
@json_option
def command(names: tuple[str, ...], preset_folders: tuple[Path, ...], *, as_json: bool) -> None:
    """List where pictures can go; with NAMEs of destinations or groups, explain those in full.

    Exit codes: 0 done, 2 a NAME is unknown, 3 a preset is at fault.
    """
    from cropper.destination.presets import load_presets  # noqa: PLC0415 - keeps --help instant

    catalogue = load_presets(folders=preset_folders)
    chosen = catalogue.choose(names) if names else catalogue.destinations
    if as_json:
        _print_json(catalogue, chosen)
        return
    for notice in catalogue.notices:
        click.echo(f"Note: {notice}", err=True)
    if names:
        _explain(chosen)
    else:
        _print_table(catalogue)


def _print_json(catalogue: Catalogue, chosen: tuple[Destination, ...]) -> None:
    from cropper.destination.listing import as_listing  # noqa: PLC0415 - as above

    click.echo(json.dumps(as_listing(catalogue, chosen), indent=2, ensure_ascii=False))


def _explain(chosen: tuple[Destination, ...]) -> None:
    from cropper.destination.explaining import sentences  # noqa: PLC0415 - as above

    width = min(WIDEST_TEXT, shutil.get_terminal_size().columns)
    for number, one in enumerate(chosen):
        click.echo(("\n" if number else "") + click.style(f"{one.name}: {one.title}", bold=True))
        for sentence in sentences(one):
            click.echo(
                textwrap.fill(sentence, width, initial_indent="  - ", subsequent_indent=" " * 4)
            )


def _print_table(catalogue: Catalogue) -> None:
    from rich.console import Console  # noqa: PLC0415 - as above
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    from cropper.destination import explaining  # noqa: PLC0415

    console = Console(highlight=False)
    table = Table(box=None, pad_edge=False)
    for heading in ("name", "size", "shape", "framing"):
        table.add_column(heading)
    seen: set[str] = set()
    for group, ones in catalogue.groups.items():
        fresh = [one for one in ones if one.name not in seen]
        seen.update(one.name for one in ones)
        if fresh:
            table.add_row()
            table.add_row(Text(group if group != "all" else "in no group", style="bold"))
        for one in fresh:
            cells = (f"  {one.name}", explaining.size_said(one))
            more = (explaining.shapes_said(one), explaining.framing_said(one))
            table.add_row(*(Text(cell) for cell in (*cells, *more)))
    console.print(table)
    click.echo(f"\nGroups: {', '.join(catalogue.groups)}.")
    click.echo("`cropper destinations NAME` explains a destination, or all of a group.")
