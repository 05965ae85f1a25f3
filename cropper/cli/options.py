"""Every option that more than one verb knows, written once: same name, same meaning everywhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

presets_option: Final = click.option(
    "--presets",
    "preset_folders",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    multiple=True,
    metavar="DIR",
    help="A folder of your own destinations, read beside the shipped ones; may be given again.",
)
"""Gives ``preset_folders: tuple[Path, ...]``."""

json_option: Final = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON for scripts instead of a table."
)
"""Gives ``as_json: bool``."""


def split_names(
    ctx: click.Context, param: click.Parameter, given: tuple[str, ...]
) -> tuple[str, ...]:
    """Names apart at commas: ``--for story,print --for avatar`` is three names."""
    del ctx, param
    parts = (part.strip() for one in given for part in one.split(","))
    return tuple(part for part in parts if part)


def for_option(*, required: bool = True) -> Callable[[Command], Command]:
    """``--for NAME,...``; gives ``names: tuple[str, ...]``."""
    return click.option(
        "--for",
        "names",
        multiple=True,
        required=required,
        callback=split_names,
        metavar="NAME,...",
        help="Where the pictures go: destinations and groups (social, web, press, print, client,"
        " identity, all). `cropper destinations` lists them.",
    )
