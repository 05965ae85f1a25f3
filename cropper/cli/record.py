"""`cropper record`: write down where each version runs, and what was agreed about it."""

from __future__ import annotations

from typing import Final

import click

from cropper.cli.record_agreeing import allow, bar, declare_set, licence, release, rest
from cropper.cli.record_filing import erase, history, load, save, update
from cropper.cli.record_listing import agreements, runs
from cropper.cli.record_running import correct, end, job, outlets, run, withdraw

PARTS: Final = (
    outlets,
    job,
    run,
    end,
    correct,
    withdraw,
    runs,
    licence,
    release,
    declare_set,
    rest,
    bar,
    allow,
    agreements,
    history,
    save,
    load,
    update,
    erase,
)


class InOrder(click.Group):
    """Parts in the order of the work, not of the alphabet."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """As they stand in :data:`PARTS`."""
        del ctx
        return list(self.commands)


@click.group(cls=InOrder, context_settings={"max_content_width": 100})
def command() -> None:
    """Remember where each version runs, what was agreed, and from when until when.

    First the places (`outlets`) and the finished files (`job`), then each run (`run`) and each
    agreement (`licence`, `release`). Every addition is checked against what is known: a run that
    would stand beside its rival, or break somebody's exclusive, is refused with the earliest date
    on which it would be fine.

    Corrections are added, and `history` shows what was known before. Only `erase` takes something
    out. The record publishes nothing and stays where you keep it (--record).

    Exit codes: 0 done, 1 cannot, 2 misused, 4 a rule stands in the way, 6 some rows were not taken.
    """


for part in PARTS:
    command.add_command(part)
