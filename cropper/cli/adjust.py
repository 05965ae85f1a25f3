"""``cropper adjust``: crops changed by hand, in words."""

from __future__ import annotations

import json
import math
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from cropper.cli.options import Command, job_option, json_option, record_option
from cropper.errors import MisuseError

if TYPE_CHECKING:
    from collections.abc import Callable

    from cropper.job.changed_crops import HandChanges
    from cropper.job.hand_changes import Change

PERCENT: Final = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<sign>%?)")
LONG_TABLE: Final = 100
"""Of more crops no table is printed (house)."""
MOST_TIGHTER: Final = 90
MOST_LOOSER: Final = 900
MOST_MOVED: Final = 100
"""Percent. House: beyond these a slip of the hand is meant."""


class PercentType(click.ParamType[float]):
    """``10%``, ``2.5 %`` or ``10``; a share such as 0.1 must carry its sign to be believed."""

    name = "PERCENT"

    def __init__(self, most: float) -> None:
        self.most = most

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Percent as a number, 10 for ``10%``."""
        if isinstance(value, float):
            return value
        match = PERCENT.fullmatch(str(value).strip())
        if match is None:
            self.fail(f"{value!r} is not a percentage such as 10%.", param, ctx)
        number = float(match["number"].replace(",", "."))
        if number < 1 and not match["sign"]:
            self.fail(f"{value!r} may mean {number:g}% or {number:.0%}: write the %.", param, ctx)
        if not 0 < number <= self.most:
            self.fail(f"{value!r} is not above 0% and at most {self.most:g}%.", param, ctx)
        return number


def _percent(most: float, name: str, help_: str) -> Callable[[Command], Command]:
    return click.option(name, type=PercentType(most), metavar="PERCENT", help=help_)


def _finite(ctx: click.Context, param: click.Parameter, value: float | None) -> float | None:
    del ctx
    if value is not None and not math.isfinite(value):
        raise click.BadParameter(f"{value} is not an angle.", param=param)
    return value


@click.command(
    epilog="\b\nExamples:\n"
    "  cropper adjust --job my-job story --eyes-higher 3%\n"
    "  cropper adjust --job my-job shawl:avatar --tighter 10%\n"
    "  cropper adjust --job my-job social --looser 5% --eyes-on-third\n"
    "  cropper adjust --job my-job shawl:cover-a4 --straighten 1.5 --freeze\n"
    "  cropper adjust --job my-job --undo"
)
@click.argument("targets", nargs=-1, metavar="[[VERSION:]DEST]...")
@job_option(to_be_made=False)
@_percent(MOST_TIGHTER, "--tighter", "Show so much less each way: the eyes stay in place.")
@_percent(MOST_LOOSER, "--looser", "Show so much more each way: the eyes stay in place.")
@_percent(MOST_MOVED, "--eyes-higher", "The eyes go up in the frame, by its seen height.")
@_percent(MOST_MOVED, "--eyes-lower", "The eyes go down in the frame.")
@_percent(MOST_MOVED, "--eyes-left", "The eyes go left in the frame, by its seen width.")
@_percent(MOST_MOVED, "--eyes-right", "The eyes go right in the frame.")
@click.option("--eyes-on-third", is_flag=True, help="The eyes go a third below the upper edge.")
@click.option(
    "--straighten",
    type=click.FloatRange(-15, 15),
    callback=_finite,
    metavar="DEG",
    help="Turn the frame clockwise about the eyes, -15 to 15 degrees: the picture in it leans the"
    " other way. 0 takes a turn away.",
)
@click.option("--reset", is_flag=True, help="Take the program's own proposal again.")
@click.option("--freeze", is_flag=True, help="Keep this crop, whatever is planned again.")
@click.option("--unfreeze", is_flag=True, help="Let go of a frozen crop.")
@click.option("--undo", is_flag=True, help="Take back the last change made with this command.")
@record_option
@json_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    *,
    targets: tuple[str, ...],
    job: Path,
    address: str | None,
    undo: bool,
    as_json: bool,
    **words: Any,
) -> None:
    """Change crops by hand, in words: tighter, eyes higher, straighter, frozen.

    DEST is a destination of the job or a group of them, changed for every picture that is planned
    for it; VERSION:DEST is one crop. All words are about where the eyes stand in the frame: with
    --eyes-higher they go up in it, so the frame shows more of the body. Without known eyes the
    middle of the crop stands for them. Crops stay whole pixels, in the destination's shape,
    inside the picture, and are measured by its rules. What is changed counts as your choice:
    planning again keeps it. A frozen crop stays when its whole destination is changed, too.

    Exit codes: 0 done, 1 cannot (nothing could be changed, or nothing to undo), 2 misused.
    """
    from cropper.job.hand_changes import change_crops, undo_last  # noqa: PLC0415 - --help instant

    now, label = datetime.now(UTC), _label(words)
    if undo:
        if targets or label:
            raise MisuseError("--undo takes back the last change whole", way_out="Give it alone")
        done = undo_last(job, now=now, record=address)
    else:
        change = _change(words)
        if not targets:
            raise MisuseError(
                "which crops are meant?", way_out="Name a destination, or VERSION:DESTINATION"
            )
        label = f"{', '.join(targets)}: {label}"
        done = change_crops(job, targets, change, label=label, now=now, record=address)
    _tell(done, as_json=as_json)
    ctx.exit(done.exit_code)


PAIRS: Final = (
    ("tighter", "looser"),
    ("eyes_higher", "eyes_lower"),
    ("eyes_left", "eyes_right"),
    ("eyes_on_third", "eyes_higher"),
    ("eyes_on_third", "eyes_lower"),
    ("freeze", "unfreeze"),
)
"""Words that contradict each other."""
MOVES: Final = (
    "tighter",
    "looser",
    "eyes_higher",
    "eyes_lower",
    "eyes_left",
    "eyes_right",
    "eyes_on_third",
    "straighten",
)


def _given(words: dict[str, Any]) -> list[str]:
    return [name for name, value in words.items() if value is not None and value is not False]


def _label(words: dict[str, Any]) -> str:
    """What was asked, as it is called when it is undone."""
    said = []
    for name in _given(words):
        unit = "" if words[name] is True else " deg" if name == "straighten" else "%"
        value = "" if words[name] is True else f" {words[name]:g}"
        said.append(f"{name.replace('_', ' ')}{value}{unit}")
    return ", ".join(said)


def _change(words: dict[str, Any]) -> Change:
    from cropper.job.adjustment import Adjustment  # noqa: PLC0415 - keeps --help instant
    from cropper.job.hand_changes import Change  # noqa: PLC0415 - as above

    given = _given(words)
    if not given:
        raise MisuseError("nothing is to be changed", way_out="Say what: --tighter 10%")
    pairs = (*PAIRS, *(("reset", one) for one in MOVES))
    for first, second in pairs:
        if first in given and second in given:
            one, other = (f"--{name.replace('_', '-')}" for name in (first, second))
            raise MisuseError(f"{one} and {other} contradict each other", way_out="Keep one")
    share = {name: (words[name] or 0.0) / 100 for name in MOVES[:6]}
    return Change(
        adjustment=Adjustment(
            sides=1 - share["tighter"] + share["looser"],
            eyes_down=share["eyes_lower"] - share["eyes_higher"],
            eyes_right=share["eyes_right"] - share["eyes_left"],
            eyes_on_third=words["eyes_on_third"],
            straighten_deg=words["straighten"],
        ),
        reset=words["reset"],
        frozen=True if words["freeze"] else False if words["unfreeze"] else None,
    )


def _tell(done: HandChanges, *, as_json: bool) -> None:
    from cropper.cli.tables import print_table, say  # noqa: PLC0415 - keeps --help instant

    if as_json:
        click.echo(json.dumps(done.mapping(), indent=2, ensure_ascii=False))
    elif len(done.changed) > LONG_TABLE:
        click.echo(f"{len(done.changed)} crops are changed; see them with `cropper proof`.")
    else:
        print_table(
            ("version", "destination", "changed", "verdict", "why"),
            (
                (
                    one.version,
                    one.destination,
                    one.said,
                    one.verdicts,
                    " ".join(one.after.reasons) if one.after else "",
                )
                for one in done.changed
            ),
        )
    for sentence in (*done.stays, *(f"Note: {one}" for one in done.sentences)):
        say(sentence)
