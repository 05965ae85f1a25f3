"""Every option that more than one verb knows, written once: same name, same meaning everywhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from cropper.geometry import Point

if TYPE_CHECKING:
    from cropper.job.plan import HandMarks

Command = TypeVar("Command", bound=Callable[..., Any])

WHERE_ARE_THEY: Final = (
    "Masters that were moved are found by what they hold: cropper relink --job {job} FOLDER"
)
"""The way out when a master is not where the plan has it."""

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


record_option: Final = click.option(
    "--record",
    "address",
    envvar="CROPPER_RECORD",
    metavar="FILE|ADDRESS",
    help="Where the record is kept: a file, or postgresql://USER@HOST/DATABASE. Else"
    " $CROPPER_RECORD, else record.sqlite beside the job or in this folder, else the one in your"
    " own data folder.",
)
"""Gives ``address: str | None``."""


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
        help="Where the pictures go: destinations and groups (social, web, press, press-pdf, print,"
        " client, identity, all). `cropper destinations` lists them.",
    )


def job_option(*, to_be_made: bool) -> Callable[[Command], Command]:
    """``--job DIR``; gives ``job: Path``."""
    said = "made if need be" if to_be_made else "as `cropper plan` made it"
    return click.option(
        "--job",
        "job",
        type=click.Path(path_type=Path, file_okay=False),
        required=True,
        metavar="DIR",
        help=f"The job's folder, {said}.",
    )


class PointType(click.ParamType[Point]):
    """``X,Y`` in pixels of the upright picture, y down."""

    name = "X,Y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Point:
        """Two numbers with a comma between them."""
        if isinstance(value, Point):
            return value
        try:
            across, down = (float(part) for part in str(value).split(","))
            return Point(across, down)
        except ValueError:
            self.fail(f"{value!r} is not a place such as 1210,1480 (x,y in pixels).", param, ctx)


class PictureType(click.ParamType[Path]):
    """A path of this machine, or the address of a picture, folder or pattern on storage."""

    name = "picture"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """The path it names; an address that is not to be read is a misuse, told as one."""
        from cropper.master.stored import named  # noqa: PLC0415 - keeps --help instant

        del param, ctx
        return named(value) if isinstance(value, str) else Path(value)


def marks_options(command: Command) -> Command:
    """``--eyes``, ``--crown``, ``--chin``, ``--principal``, ``--exclude-face``, ``--small-faces``.

    Gives ``eyes``, ``crown``, ``chin``, ``principal``, ``excluded``, ``small_faces``: see
    :func:`marks_given`.
    """
    options = (
        click.option("--eyes", nargs=2, type=PointType(), help="Both pupils, placed by hand."),
        click.option("--crown", type=PointType(), help="Top of the hair, placed by hand."),
        click.option("--chin", type=PointType(), help="Lowest point of the chin, by hand."),
        click.option(
            "--principal",
            type=click.IntRange(min=1),
            multiple=True,
            metavar="N",
            help="Who the picture is about: number in `cropper find`; may be given again.",
        ),
        click.option(
            "--exclude-face",
            "excluded",
            type=click.IntRange(min=1),
            multiple=True,
            metavar="N",
            help="No person at all (a face on a poster): number in `cropper find`.",
        ),
        click.option("--small-faces", is_flag=True, help="Also look for very small heads; slower."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def marks_given(
    *,
    eyes: tuple[Point, Point] | None,
    crown: Point | None,
    chin: Point | None,
    principal: tuple[int, ...],
    excluded: tuple[int, ...],
    small_faces: bool,
) -> HandMarks:
    """What :func:`marks_options` read, as one value."""
    from cropper.job.plan import HandMarks  # noqa: PLC0415 - keeps --help instant

    return HandMarks(
        eyes=eyes,
        crown=crown,
        chin=chin,
        principal=principal,
        excluded=excluded,
        small_faces=small_faces,
    )
