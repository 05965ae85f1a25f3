"""The parts of `cropper record` about what was agreed: licences, releases, rests, bars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from cropper.cli.options import record_option
from cropper.cli.record_options import anyway_option, why_option, zone_option
from cropper.cli.record_running import opened, stamp
from cropper.cli.tables import say

if TYPE_CHECKING:
    from cropper.record.settling import Agreed

KINDS: Final = ("first-use", "exclusive", "embargo", "term")
STATES: Final = {
    "none": "MR-NON",
    "not-needed": "MR-NAP",
    "unlimited": "MR-UMR",
    "limited": "MR-LMR",
}


@click.command(short_help="Record an agreement: first-use, exclusive, embargo, term.")
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--outlet", default="", metavar="OUTLET", help="To whom it was given.")
@click.option("--set", "set_name", metavar="SET", help="About the whole set ...")
@click.option("--version", default="", metavar="VERSION", help="... or about one version.")
@click.option("--from", "start", required=True, metavar="DATE", help="When it begins.")
@click.option("--until", metavar="DATE", help="When it ends; that day is free again. Else open.")
@click.option(
    "--against",
    default="everyone",
    metavar="everyone|KIND=NAME",
    help="Whom an exclusive shuts out: everyone, or industry=, territory= or medium=NAME.",
)
@click.option("--except", "exceptions", multiple=True, metavar="OUTLET", help="May all the same.")
@click.option("--own-portfolio", is_flag=True, help="Your own outlets may all the same.")
@click.option(
    "--at-end",
    type=click.Choice(["no-new-use", "must-come-down"]),
    default="no-new-use",
    show_default=True,
    help="What its end means.",
)
@click.option(
    "--elsewhere",
    type=click.Choice(["may-stay", "taken-down"]),
    default="may-stay",
    show_default=True,
    help="What an exclusive asks of older posts in other streams.",
)
@click.option("--note", default="", metavar="TEXT", help="A line for yourself.")
@click.option("--id", "licence_id", metavar="ID", help="Correct this one instead of adding one.")
@zone_option
@anyway_option
@why_option
@record_option
def licence(*, anyway: str, why: str, address: str | None, **given: Any) -> None:
    """Record an agreement: first-use, exclusive, embargo, or term (may show it, for a time).

    What a licence allows is for the contract to say; the record reminds you of what you typed.
    Where a recorded run clashes with it, nothing is kept, and you read what to take down by when.

    Exit codes: 0 kept, 1 cannot, 2 misused, 4 a recorded run clashes with it.
    """
    from cropper.record.agreeing import licence_of  # noqa: PLC0415 - keeps --help instant

    with opened(address) as record:
        made = licence_of(record, **given)
        kept = record.agree(made, stamp(why), anyway=anyway)
    click.echo(f"Licence {made.id}: {made.kind} of {made.version or f'the set {made.set}'}.")
    say_agreed(kept)


def say_agreed(kept: Agreed) -> None:
    """What an agreement that was kept leaves to be done, and what is to be known beside it."""
    for one in kept.unsettled:
        click.echo(f"{one.sentence} {one.way_out}.")
    for sentence in kept.still_up:
        say(f"Note: {sentence}. The agreement does not ask to take it down.")


@click.command(short_help="Record what a person in your pictures has agreed to.")
@click.argument("person")
@click.argument("status", type=click.Choice(sorted(STATES)))
@click.option("--signed", metavar="DATE", help="When it was signed.")
@click.option("--until", metavar="DATE", help="Until when it holds; else for good.")
@click.option("--scope", default="", metavar="TEXT", help="What it allows, in its own words.")
@click.option(
    "--for", "outlets", multiple=True, metavar="OUTLET", help="Where a limited one holds."
)
@zone_option
@anyway_option
@why_option
@record_option
def release(
    *,
    person: str,
    status: str,
    zone: str | None,
    anyway: str,
    why: str,
    address: str | None,
    **given: Any,
) -> None:
    """Record what PERSON in your pictures has agreed to. Runs that advertise ask for it.

    Whether a release is needed, and whether this one is enough, is yours to confirm.
    """
    from cropper.record.agreeing import never_heard_of, release_of  # noqa: PLC0415 - as above

    made = release_of(person, STATES[status], zone=zone, **given)
    with opened(address) as record:
        kept = record.agree(made, stamp(why), anyway=anyway)
        unheard = never_heard_of(record, person=person)
    click.echo(f"{person}: {status.replace('-', ' ')}{f' ({made.scope})' * bool(made.scope)}.")
    say_agreed(kept)
    _note(unheard)


@click.command()
@click.argument("set_name", metavar="SET")
@click.argument("days", type=click.IntRange(min=0))
@anyway_option
@why_option
@record_option
def rest(*, set_name: str, days: int, anyway: str, why: str, address: str | None) -> None:
    """Let DAYS pass between two rivals of SET before one audience."""
    from cropper.record.agreeing import rested  # noqa: PLC0415 - keeps --help instant

    with opened(address) as record:
        kept = record.agree(rested(record, set_name, days), stamp(why), anyway=anyway)
    click.echo(f"Rivals of '{set_name}' rest {days} days before one audience.")
    say_agreed(kept)


@click.command("set", short_help="Say which versions belong to one idea.")
@click.argument("set_name", metavar="SET")
@click.argument("versions", nargs=-1, required=True, metavar="VERSION...")
@click.option("--rest", "days", type=click.IntRange(min=0), metavar="DAYS", help="Days apart.")
@anyway_option
@why_option
@record_option
def declare_set(
    *,
    set_name: str,
    versions: tuple[str, ...],
    days: int | None,
    anyway: str,
    why: str,
    address: str | None,
) -> None:
    """Say which versions belong to one idea. `cropper record job` does it for a job's sets.

    Runs of these versions that are recorded already are bound by it, too.
    """
    from cropper.record.agreeing import declared, never_heard_of  # noqa: PLC0415 - as above

    with opened(address) as record:
        rules = declared(record, set_name, versions, days)
        kept = record.agree(rules, stamp(why), anyway=anyway)
        unheard = [never_heard_of(record, version=one) for one in versions]
    click.echo(f"The set '{set_name}': {', '.join(rules.versions)}.")
    say_agreed(kept)
    for sentence in unheard:
        _note(sentence)


@click.command()
@click.argument("version")
@click.option("--why", required=True, metavar="TEXT", help="Why it may run nowhere.")
@anyway_option
@record_option
def bar(*, version: str, why: str, anyway: str, address: str | None) -> None:
    """Let VERSION run nowhere: withdrawn, or refused."""
    from cropper.record.agreeing import never_heard_of  # noqa: PLC0415 - keeps --help instant
    from cropper.record.barring import Barred  # noqa: PLC0415

    with opened(address) as record:
        barred = Barred(version=version, why=why)
        kept = record.agree(barred, stamp(why), anyway=anyway)
        unheard = never_heard_of(record, version=version)
    click.echo(f"'{version}' may run nowhere: {why}.")
    say_agreed(kept)
    _note(unheard)


def _note(sentence: str) -> None:
    if sentence:
        say(f"Note: {sentence}")


@click.command()
@click.argument("version")
@why_option
@record_option
def allow(*, version: str, why: str, address: str | None) -> None:
    """Let a barred VERSION run again."""
    with opened(address) as record:
        record.bar(version, "", stamp(why))
    click.echo(f"'{version}' may run again.")
