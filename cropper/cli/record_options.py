"""Options that the verbs about runs share."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Final

import click

zone_option: Final = click.option(
    "--zone",
    metavar="NAME",
    help="In which zone plain dates begin, such as Europe/Oslo; else the outlet's, else yours.",
)
why_option: Final = click.option(
    "--why", default="", metavar="TEXT", help="A line for the history: why this is added."
)
anyway_option: Final = click.option(
    "--anyway",
    default="",
    metavar="WHY",
    help="Keep it although recorded runs clash with it; `cropper running` reminds you of them.",
)
despite_option: Final = click.option(
    "--despite",
    multiple=True,
    metavar="RULE=REASON",
    help="Record it although it clashes by this rule; the reason is kept. May be given again.",
)

OPTIONS: Final = (
    click.option("--at", "outlet", default="", metavar="OUTLET", help="Where it runs."),
    click.option(
        "--from",
        "start",
        required=True,
        metavar="DATE",
        help="When it starts: 2026-03-01, or 2026-03-01T09:00+01:00.",
    ),
    click.option(
        "--until", metavar="DATE", help="When it ends; that day is free again. Else open."
    ),
    zone_option,
    click.option("--address", "place", default="", metavar="TEXT", help="Web address there."),
    click.option("--issue", default="", metavar="TEXT", help="The issue it is in."),
    click.option("--page", default="", metavar="TEXT", help="The page it is on."),
    click.option("--who", default="", metavar="NAME", help="Who agreed it."),
    click.option("--note", default="", metavar="TEXT", help="A line for yourself."),
    click.option("--planned", is_flag=True, help="It is promised, and does not run yet."),
)


def run_options(*, whole_jobs: bool = False) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """FILE --at OUTLET --from DATE and all else about a run; gives ``typed``.

    With ``whole_jobs``, FILE and ``--at`` may be left out where ``--job`` (``folder``) is given.
    """

    def decorated(command: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(command)
        def with_run(*args: Any, **given: Any) -> Any:
            from cropper.record.naming import Typed  # noqa: PLC0415 - keeps --help instant

            if given.get("folder") is None:
                if not given["file"]:
                    raise click.UsageError(f"Missing FILE{', or --job DIR' * whole_jobs}.")
                if not given["outlet"]:
                    raise click.UsageError("Missing option '--at': say where it runs.")
            named = ("file", "outlet", "start", "until", "zone", "issue", "page", "who", "note")
            given["file"] = given["file"] or ""
            taken = {name: given.pop(name) for name in named}
            typed = Typed(address=given.pop("place"), planned=given.pop("planned"), **taken)
            return command(*args, typed=typed, **given)

        options: Callable[..., Any] = with_run
        for option in reversed((click.argument("file", metavar="FILE", required=False), *OPTIONS)):
            options = option(options)
        return options

    return decorated


def named(pairs: tuple[str, ...]) -> dict[str, str]:
    """``RULE=REASON`` pairs as a mapping; a reason must be there."""
    told = {}
    for pair in pairs:
        name, sign, reason = pair.partition("=")
        if not sign or not reason.strip():
            raise click.BadParameter(f"'{pair}' is not RULE=REASON, such as rivals='both wanted'")
        told[name.strip()] = reason.strip()
    return told
