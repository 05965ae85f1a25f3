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
    from cropper.geometry import Size

WIDEST_TEXT: Final = 100
"""House: longer lines are hard to read."""


@click.command()
@click.argument("names", nargs=-1, metavar="[NAME]...")
@presets_option
@click.option("--new", metavar="NAME", help="Write a commented file for a destination of your own.")
@click.option("--size", metavar="WxH", help="With --new: the file's size in pixels, as 900x1200.")
@click.option("--like", default="", metavar="NAME", help="With --new: begin as a copy of this one.")
@json_option
def command(
    names: tuple[str, ...],
    preset_folders: tuple[Path, ...],
    *,
    new: str | None,
    size: str | None,
    like: str,
    as_json: bool,
) -> None:
    r"""List where pictures can go; with NAMEs of destinations or groups, explain those in full.

    Destinations of your own lie in your own data folder and are read by every command; --new
    writes the first lines of one.

    \b
    Examples:
      cropper destinations story
      cropper destinations --new shop-tile --size 900x1200
      cropper destinations --new tall-screen --like story

    Exit codes: 0 done, 1 a file could not be written, 2 a NAME is unknown, 3 a preset is at fault.
    """
    if new is not None:
        _write_new(new, size, like)
        return
    if size or like:
        raise click.UsageError("--size and --like belong to --new.")
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


def _write_new(name: str, size: str | None, like: str) -> None:
    """Write the file of a new own destination, and say where it is."""
    from cropper import disk  # noqa: PLC0415 - as above
    from cropper.destination.own import file_for  # noqa: PLC0415
    from cropper.destination.presets import new_text  # noqa: PLC0415
    from cropper.errors import CropperError  # noqa: PLC0415

    path = file_for(name)
    text = new_text(name, _size(size), like)
    try:
        disk.made(path.parent)
        with disk.whole(path) as file:
            file.write(text)
    except OSError as error:
        raise CropperError(f"{path} cannot be written ({error.strerror or error})") from error
    click.echo(f"{path}\nEdit it, then look at it: cropper destinations {name}")


def _size(given: str | None) -> Size | None:
    from cropper.geometry import Size  # noqa: PLC0415 - as above

    if given is None:
        return None
    parts = given.lower().replace("×", "x").split("x")
    if len(parts) != 2 or not all(one.strip().isdecimal() and int(one) for one in parts):  # noqa: PLR2004
        raise click.UsageError(f"--size {given} is no size such as 900x1200.")
    return Size(int(parts[0]), int(parts[1]))


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
