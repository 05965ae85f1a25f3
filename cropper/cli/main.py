"""The ``cropper`` command: finds its verbs lazily, and turns errors into words and exit codes."""

from __future__ import annotations

import importlib
import sys
import traceback
import warnings
from typing import Final

import click

from cropper import __version__
from cropper.cli.batches import EXIT_STOPPED
from cropper.cli.streams import Streams
from cropper.cores import one_core
from cropper.errors import (
    EXIT_DONE,
    EXIT_NOT_TOLD,
    EXIT_OUR_FAULT,
    PRECEDENCE,
    CropperError,
    weightiest,
)

VERBS: Final = {
    "find": "Find eyes and heads in pictures.",
    "destinations": "List and explain where pictures can go.",
    "plan": "Propose a crop per destination, with reasons, into a job folder.",
    "proof": "Make the proof sheets of a job: HTML and PDF.",
    "review": "Look, correct, compare and approve on a local page.",
    "adjust": "Change crops by hand, in words: tighter, eyes higher, frozen.",
    "check": "Measure crops made elsewhere by the same rules.",
    "relink": "Find masters again that were moved or renamed.",
    "remove": "Take masters or destinations out of a job.",
    "status": "Tell how a job stands: done, waiting for your eye, failed.",
    "words": "Write who made a job's pictures, what they show, and who may use them.",
    "export": "Write the finished files of a job and their manifest.",
    "verify": "Compare every deliverable with its manifest, and repair.",
    "deliver": "Put one recipient's files into a folder to hand over.",
    "regions": "List crops as image regions, or take crops from regions made elsewhere.",
    "identify": "Tell which picture, version and destination a found file comes from.",
    "record": "Write down where each version runs, and what was agreed.",
    "allowed": "Tell whether a file may run at an outlet, then.",
    "running": "List what runs where, now or on a date, and what is free or unused.",
    "expiring": "List what ends soon, and what to do about it.",
    "season": "Propose what runs where for weeks ahead, and accept it.",
    "timeline": "Draw what runs where: outlets down, weeks across, clashes crossed.",
    "feedback": "Count what came back, and learn what it tells and what not.",
    "report": "Write one page about a set: what ran where, what came back.",
    "demo": "Do the whole job on the shipped pictures.",
}
"""Verb and its one-line help; the verb lives in ``cropper.cli.<verb>`` as ``command``."""

OLD_NAMES: Final = {"may": "allowed", "tally": "feedback"}
"""Names that verbs had before; they work, unlisted, until the next version but one."""


class Verbs(click.Group):
    """Verbs imported only when used: ``--help`` must not pay for the engines."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Verbs in the order of the work."""
        del ctx
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the verb's own module."""
        del ctx
        name = OLD_NAMES.get(cmd_name, cmd_name)
        if name not in VERBS:
            return None
        module = importlib.import_module(f"cropper.cli.{name}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the verb; a slip of the pen is answered with what may have been meant."""
        if args and args[0] not in {*VERBS, *OLD_NAMES} and not args[0].startswith("-"):
            from difflib import get_close_matches  # noqa: PLC0415 - only for a slip

            near = get_close_matches(args[0], VERBS, n=1)
            meant = f" Did you mean '{near[0]}'?" if near else ""
            ctx.fail(f"there is no verb '{args[0]}'.{meant}")
        return super().resolve_command(ctx, args)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """``help VERB`` is ``VERB --help``."""
        return super().parse_args(ctx, [*args[1:], "--help"] if args[:1] == ["help"] else args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of verbs without importing any of them."""
        del ctx
        with formatter.section("Verbs"):
            formatter.write_dl(list(VERBS.items()))

    def invoke(self, ctx: click.Context) -> object:
        """Run the verb; a CropperError becomes a sentence and its exit code."""
        try:
            return super().invoke(ctx)
        except CropperError as error:
            from cropper.cli.tables import say  # noqa: PLC0415 - keeps --help instant

            say(f"Error: {error}")
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("Stopped at once: run it again for the rest; what is done stays.", err=True)
            ctx.exit(EXIT_STOPPED)


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="cropper")
def cropper() -> None:
    """From a finished portrait to the right crop for every destination.

    Finds eyes and heads, proposes crops with reasons, lets you look and correct, and writes the
    finished files with their words and a manifest. Then it keeps the record: where each version
    runs, what was agreed, and what came back. Works offline; never publishes anything; never
    changes a master.
    """


def main() -> None:
    """Entry point: a fault of ours says so, keeps its traceback, and exits with 70."""
    one_core()
    streams = Streams()
    warnings.filterwarnings("ignore", module="PIL")  # its remarks are for programmers
    try:
        cropper()
    except SystemExit as ending:
        if streams.lost() and ending.code in PRECEDENCE:
            sys.exit(weightiest(EXIT_NOT_TOLD, int(ending.code or EXIT_DONE)))
        raise
    except Exception:  # noqa: BLE001 - the last line of defence, reported in full
        traceback.print_exc()
        click.echo(
            "Error: this is a fault of cropper's own; please report the lines above.", err=True
        )
        sys.exit(EXIT_OUR_FAULT)
