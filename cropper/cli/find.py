"""`cropper find`: who is in the pictures, and where their eyes and heads are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from cropper._layout import laid_out
from cropper.cli.batches import EXIT_STOPPED, batch_options, watched
from cropper.cli.options import PointType, json_option
from cropper.cli.tables import print_table, say
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_SOME_FAILED,
    MisuseError,
    weightiest,
)
from cropper.geometry import Point

if TYPE_CHECKING:
    from cropper.batch.measuring import Looked
    from cropper.subject.subject import Finding, Subject


EXIT_CODES: Final = {
    "done": EXIT_DONE,
    "waits for the eye": EXIT_NEEDS_YOUR_EYE,
    "failed": EXIT_SOME_FAILED,
}
"""What a picture in each state asks for in a batch."""


@click.command()
@click.argument("pictures", nargs=-1, required=True, metavar="PICTURE...")
@json_option
@click.option("--small-faces", is_flag=True, help="Also look for very small heads; slower.")
@click.option(
    "--eyes", nargs=2, type=PointType(), help="Both pupils, placed by hand (one PICTURE only)."
)
@batch_options
@click.pass_context
def command(
    ctx: click.Context,
    pictures: tuple[str, ...],
    eyes: tuple[Point, Point] | None,
    *,
    as_json: bool,
    small_faces: bool,
    workers: int | None,
    scheduler: str,
    json_lines: bool,
) -> None:
    """Find eyes and heads in PICTUREs, with how sure each is.

    A PICTURE may be a folder (all pictures in it and below) or a pattern. Places are pixels of the
    upright picture, x,y from its top left corner, y down. Nothing is written, and no picture
    leaves this machine unless you name another machine's scheduler.

    Exit codes: 0 everybody found, 1 the only PICTURE cannot be opened, 2 misused, 5 nobody was
    found in some PICTURE or eyes are only estimated, 6 some PICTUREs cannot be opened.
    """
    from cropper.batch.crews import crew_of  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.inputs import pictures as meant  # noqa: PLC0415
    from cropper.batch.measuring import look_at  # noqa: PLC0415
    from cropper.job.plan import HandMarks  # noqa: PLC0415
    from cropper.master.stored import named  # noqa: PLC0415

    as_given = {named(one): one for one in pictures}
    files = [as_given.get(one, str(one)) for one in meant(as_given)]
    if eyes is not None and len(files) > 1:
        raise MisuseError(
            f"--eyes belongs to one picture, and {len(files)} were named",
            way_out="Run `cropper find` once for each picture whose eyes you place",
        )
    crew, marks = crew_of(workers, scheduler), HandMarks(eyes=eyes, small_faces=small_faces)
    with watched("Looking", events=json_lines) as watch:
        looked = look_at(files, marks, crew=crew, stop=watch.stop, hear=watch.through)
    if as_json:
        click.echo(_json(looked), nl=False)
    elif not json_lines:
        _print(looked)
    ctx.exit(EXIT_STOPPED if watch.stop.asked else _exit_code(looked))


def _exit_code(looked: list[Looked]) -> int:
    """The weightiest of all pictures; a single one that cannot be opened is a plain failure."""
    if len(looked) == 1 and looked[0].seen is None:
        return EXIT_CANNOT
    return weightiest(*(EXIT_CODES[str(one.state)] for one in looked))


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
        for line in _remarks(one.seen.finding) if one.seen else ():
            say(f"{one.file}: {line}")
        for note in one.seen.notes if one.seen else ():
            say(f"Note: {one.file}: {note}")
        if one.problem:
            opened = one.seen is not None
            say(f"{one.file}: {one.problem}" if opened else f"Error: {one.problem}")


SHUT: Final = frozenset({"half", "closed"})


def _remarks(finding: Finding) -> list[str]:
    """What stands in no column: eyes nearly shut, and persons without a head."""
    lines = []
    for number, one in enumerate(finding.subjects, start=1):
        details = {"left": one.left_detail, "right": one.right_detail}
        shut = [
            side
            for side, detail in details.items()
            if detail is not None and str(detail.state) in SHUT
        ]
        if len(shut) == 1:
            lines.append(f"person {number}: the eye on the {shut[0]} is nearly shut")
        elif shut and one.eyes_state == "half":
            lines.append(f"person {number}: both eyes are nearly shut")
    for box in finding.bodies:
        place = f"{box.x0:.0f},{box.y0:.0f} to {box.x1:.0f},{box.y1:.0f}"
        lines.append(f"somebody whose head was not found, {place}")
    return lines


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
