"""`cropper find`: who is in the pictures, and where their eyes and heads are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cropper._layout import laid_out
from cropper.cli.options import PointType, json_option
from cropper.cli.tables import print_table, progress, say
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_SOME_FAILED,
    MasterError,
    MisuseError,
    weightiest,
)
from cropper.geometry import Point

if TYPE_CHECKING:
    from cropper.job.one_master import Seen
    from cropper.subject.subject import Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One picture: what was seen in it, or why it could not be opened."""

    file: str
    seen: Seen | None
    problem: str | None

    @property
    def exit_code(self) -> int:
        """Exit code that this picture asks for in a batch."""
        if self.seen is None:
            return EXIT_SOME_FAILED
        return EXIT_DONE if self.problem is None else EXIT_NEEDS_YOUR_EYE


@click.command()
@click.argument("pictures", nargs=-1, required=True, metavar="PICTURE...")
@json_option
@click.option("--small-faces", is_flag=True, help="Also look for very small heads; slower.")
@click.option(
    "--eyes", nargs=2, type=PointType(), help="Both pupils, placed by hand (one PICTURE only)."
)
@click.pass_context
def command(
    ctx: click.Context,
    pictures: tuple[str, ...],
    eyes: tuple[Point, Point] | None,
    *,
    as_json: bool,
    small_faces: bool,
) -> None:
    """Find eyes and heads in PICTUREs, with how sure each is.

    Places are pixels of the upright picture, x,y from its top left corner, y down. Nothing is
    written, and no picture leaves this machine.

    Exit codes: 0 everybody found, 1 the only PICTURE cannot be opened, 2 misused, 5 nobody was
    found in some PICTURE or eyes are only estimated, 6 some PICTUREs cannot be opened.
    """
    if eyes is not None and len(pictures) > 1:
        raise MisuseError(
            f"--eyes belongs to one picture, and {len(pictures)} were named",
            way_out="Run `cropper find` once for each picture whose eyes you place",
        )
    with progress("Looking") as step:
        looked = []
        for number, one in enumerate(_looked(pictures, eyes, small_faces=small_faces), start=1):
            looked.append(one)
            step(number, len(pictures), one.file)
    if as_json:
        click.echo(_json(looked), nl=False)
    else:
        _print(looked)
    ctx.exit(_exit_code(looked))


def _looked(
    pictures: tuple[str, ...], eyes: tuple[Point, Point] | None, *, small_faces: bool
) -> Iterator[Looked]:
    """Each picture in turn; one that cannot be opened does not stop the others."""
    from cropper.job.looking import MasterLooker  # noqa: PLC0415 - keeps --help instant
    from cropper.job.plan import HandMarks  # noqa: PLC0415
    from cropper.subject.principal import question  # noqa: PLC0415

    looker = MasterLooker()
    marks = HandMarks(eyes=eyes, small_faces=small_faces)
    for file in pictures:
        try:
            seen = looker.look(Path(file), marks)
        except MasterError as error:
            yield Looked(file=file, seen=None, problem=str(error))
        else:
            yield Looked(file=file, seen=seen, problem=question(seen.finding.subjects))


def _exit_code(looked: list[Looked]) -> int:
    """The weightiest of all pictures; a single one that cannot be opened is a plain failure."""
    if len(looked) == 1 and looked[0].seen is None:
        return EXIT_CANNOT
    return weightiest(*(one.exit_code for one in looked))


def _json(looked: list[Looked]) -> str:
    from cropper.subject import listing  # noqa: PLC0415 - keeps --help instant

    pictures = [
        listing.unreadable(one.file, one.problem or "")
        if one.seen is None
        else listing.found(one.file, one.seen.finding, one.problem)
        for one in looked
    ]
    return laid_out(listing.listed(pictures))


def _print(looked: list[Looked]) -> None:
    """One row per person, then what needs the photographer's eye."""
    headings = ("picture", "person", "eyes", "tilt", "turn", "chin", "hair top", "sure", "role")
    rows = [
        _row(one.file, number, subject)
        for one in looked
        if one.seen is not None
        for number, subject in enumerate(one.seen.finding.subjects, start=1)
    ]
    if rows:
        print_table(headings, rows)
    for one in looked:
        for note in one.seen.notes if one.seen else ():
            say(f"Note: {one.file}: {note}")
        if one.problem:
            opened = one.seen is not None
            say(f"{one.file}: {one.problem}" if opened else f"Error: {one.problem}")


def _row(file: str, number: int, one: Subject) -> tuple[str, ...]:
    """A person in words and whole pixels, each with its one standard deviation."""
    left, right = one.left_eye, one.right_eye
    state = "" if one.eyes_state == "open" else f", {one.eyes_state}"
    origin = "" if one.eyes_from == "found" else f", {one.eyes_from}"
    crown = "" if one.crown_in_frame else " (outside the frame)"
    eyes = f"{left.x:.0f},{left.y:.0f} {right.x:.0f},{right.y:.0f} ±{one.eye_sigma_px:.0f}"
    eyes += f"{state}{origin}"
    return (
        file,
        str(number),
        eyes,
        f"{one.tilt_deg:+.1f}°",
        str(one.turned),
        f"{one.chin.at.x:.0f},{one.chin.at.y:.0f} ±{one.chin.sigma_px:.0f}",
        f"{one.hair_top.at.x:.0f},{one.hair_top.at.y:.0f} ±{one.hair_top.sigma_px:.0f}{crown}",
        f"{one.score:.2f}",
        f"{'principal' if one.principal else 'bystander'}: {one.why}",
    )
