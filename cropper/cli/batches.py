"""What every verb with long work has in common: its options, its progress, and Ctrl-C."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

if TYPE_CHECKING:
    from cropper.batch.stopping import Stop
    from cropper.batch.telling import State, Tally

Command = TypeVar("Command", bound=Callable[..., Any])
EXIT_STOPPED: Final = 130
"""What a run that was stopped by Ctrl-C exits with (128 + SIGINT, the shells' convention)."""


def batch_options(command: Command) -> Command:
    """``--workers``, ``--scheduler`` and ``--json-lines``; gives them by these names."""
    options = (
        click.option(
            "--workers",
            type=click.IntRange(min=1),
            metavar="N",
            help="Share the work among N processes; one that crashes costs one picture only.",
        ),
        click.option(
            "--scheduler",
            default="",
            metavar="ADDRESS",
            help="Share the work among the workers of a Dask scheduler, such as tls://host:8786.",
        ),
        click.option(
            "--json-lines", is_flag=True, help="Print an event per line for scripts, as it happens."
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


class Watch:
    """Tells of a batch under way: a bar, now and then a line, or events."""

    def __init__(self, tally: Tally, stop: Stop, tell: Callable[[str, bool], None]) -> None:
        self.tally, self.stop, self._tell = tally, stop, tell
        self.events = False

    def through(self, what: str, state: State, of: int, sentence: str = "") -> None:
        """One more is through."""
        self.stop.heed()
        self.tally.add(state, of)
        if self.events:
            from cropper.batch.telling import event  # noqa: PLC0415 - keeps --help instant

            told = {"sentence": sentence} if sentence else {}
            click.echo(event("through", what=what, state=state, **told, **self.tally.mapping()))
        self._tell(what, False)


@contextmanager
def watched(doing: str, *, events: bool = False) -> Iterator[Watch]:
    """Watch a batch; ``events`` goes to stdout as JSON lines, all else to stderr."""
    from cropper.batch.stopping import listening  # noqa: PLC0415 - keeps --help instant
    from cropper.batch.telling import Tally, event  # noqa: PLC0415
    from cropper.cli.tables import say  # noqa: PLC0415

    tally = Tally(time.monotonic)
    with _teller(doing, tally, quiet=events) as tell, listening(say) as stop:
        watch = Watch(tally, stop, tell)
        watch.events = events
        if events:
            click.echo(event("begin", doing=doing))
        tally.begin()
        yield watch
        stop.heed()
        tell("", True)
    if events:
        click.echo(event("end", stopped=stop.asked, **tally.mapping()))
    elif stop.asked:
        say(f"Stopped: {tally.sentence()}. Run it again for the rest; what is done is kept.")


@contextmanager
def _teller(doing: str, tally: Tally, *, quiet: bool) -> Iterator[Callable[[str, bool], None]]:
    if quiet:
        yield lambda _what, _last: None
    elif sys.stderr.isatty():
        with _bar(doing, tally) as tell:
            yield tell
    else:
        yield _lines(doing, tally)


def _lines(doing: str, tally: Tally) -> Callable[[str, bool], None]:
    """A line on stderr now and then, and a last one if there was one before and more came."""
    from cropper.batch.telling import LINE_EVERY_S  # noqa: PLC0415 - keeps --help instant
    from cropper.cli.tables import say  # noqa: PLC0415

    last, told = tally.clock(), 0

    def tell(_what: str, ended: bool) -> None:  # noqa: FBT001 - called in two places, here
        nonlocal last, told
        due = tally.clock() - last >= LINE_EVERY_S
        if (due or (ended and told)) and tally.done != told:
            say(f"{doing}: {tally.sentence()}")
            last, told = tally.clock(), tally.done

    return tell


@contextmanager
def _bar(doing: str, tally: Tally) -> Iterator[Callable[[str, bool], None]]:
    from rich.console import Console  # noqa: PLC0415 - keeps --help instant
    from rich.progress import BarColumn, Progress, TextColumn  # noqa: PLC0415

    columns = (TextColumn(doing), BarColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)

        def tell(what: str, _ended: bool) -> None:  # noqa: FBT001 - as above
            said = tally.sentence() + (f": {what}" if what else "")
            bar.update(task, completed=tally.done, total=tally.of or None, description=said)

        yield tell
