"""Agreements as somebody typed them, as values."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from uuid import uuid4

from cropper.errors import MisuseError, RecordError
from cropper.publication.dates import read_instant, said
from cropper.publication.facts import Asked
from cropper.publication.licences import Against, AtEnd, Elsewhere, Licence, LicenceKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import SetRules
from cropper.publication.spans import Span
from cropper.record.naming import outlet_called, zone_for
from cropper.record.record import Record


def licence_of(
    record: Record,
    *,
    kind: str,
    outlet: str,
    set_name: str | None,
    version: str,
    start: str,
    until: str | None,
    against: str,
    exceptions: tuple[str, ...],
    own_portfolio: bool,
    at_end: str,
    elsewhere: str,
    note: str,
    licence_id: str | None,
    zone: str | None,
) -> Licence:
    """The licence that was typed; outlets must be known, and so must what it is about.

    Raises :class:`MisuseError` for words that do not go together, and :class:`RecordError` for a
    ``licence_id`` that names none.
    """
    if licence_id is not None:
        licence_called(record, licence_id)
    named = [outlet_called(record, name) for name in filter(None, (outlet, *exceptions))]
    _known(record, set_name, version)
    own = zone_for(named[0] if outlet else None, zone)
    whom, _, value = against.partition("=")
    if whom not in set(Against):
        raise MisuseError(
            f"an exclusive is not against '{whom}'",
            way_out="Write everyone, or industry=, territory= or medium= and its name",
        )
    made = LicenceKind(kind.replace("-", " "))
    if whom != Against.EVERYONE and made not in {LicenceKind.EXCLUSIVE, LicenceKind.FIRST_USE}:
        raise MisuseError(
            f"--against has no meaning for the kind '{kind}'",
            way_out="Leave it out: only an exclusive and a first use keep others away",
        )
    return Licence(
        id=licence_id or uuid4().hex[:8],
        kind=made,
        span=Span(read_instant(start, own), read_instant(until, own) if until else None),
        outlet=outlet,
        set=set_name,
        version=version,
        against=Against(whom),
        value=value.strip(),
        exceptions=exceptions,
        own_portfolio=own_portfolio,
        at_end=AtEnd(at_end.replace("-", " ")),
        elsewhere=Elsewhere.TAKEN_DOWN if elsewhere == "taken-down" else Elsewhere.MAY_STAY,
        note=note,
        zone=own,
    )


def licence_called(record: Record, licence_id: str) -> Licence:
    """The licence of that number; raises :class:`RecordError` with those that are known."""
    known = {one.id: one for one in record.licences()}
    if licence_id in known:
        return known[licence_id]
    raise RecordError(
        f"the record knows no agreement '{licence_id}'",
        way_out=f"Known: {', '.join(known) or 'none yet'}. `cropper record agreements` lists them",
    )


def ended(licence: Licence, at: datetime) -> Licence:
    """The licence with an earlier end; raises :class:`MisuseError` for a later one."""
    if licence.span.until is not None and at > licence.span.until:
        raise MisuseError(
            f"the agreement ends earlier already, on {said(licence.span.until, licence.zone)}",
            way_out=f"To make it longer: cropper record licence ... --id {licence.id}",
        )
    return replace(licence, span=Span(licence.span.start, at), recorded_at=None)


def never_heard_of(record: Record, *, version: str = "", person: str = "") -> str:
    """A sentence when no finished file is of that version, or of that person; else nothing.

    Not refused: what was agreed may well be known before the files are.
    """
    pieces = record.facts(Asked(versions=(version,) if version else ())).pieces
    if any(one.version == version or person in one.people for one in pieces):
        return ""
    what = f"of a version '{version}'" if version else f"in which '{person}' is shown"
    return f"No finished file {what} is on record yet. If that is a slip, give it again rightly."


def _known(record: Record, set_name: str | None, version: str) -> None:
    """Refuse a licence about something nobody took in: most likely a slip."""
    if bool(set_name) == bool(version):
        raise MisuseError(
            "a licence is about one version or about a whole set",
            way_out="Give either --version or --set",
        )
    facts = record.facts(Asked(versions=(version,) if version else (), sets=filter_set(set_name)))
    known = {one.version for one in facts.pieces} | {one.set for one in facts.pieces}
    if (version or set_name) not in known:
        raise MisuseError(
            f"the record knows nothing called '{version or set_name}'",
            way_out="Take in its job first: cropper record job DIR",
        )


def filter_set(set_name: str | None) -> tuple[str, ...]:
    """A set's name as what a question is narrowed to."""
    return (set_name,) if set_name else ()


def release_of(
    person: str,
    status: str,
    *,
    signed: str | None,
    until: str | None,
    scope: str,
    outlets: tuple[str, ...],
    zone: str | None,
) -> Release:
    """The release that was typed."""
    own = zone_for(None, zone)
    return Release(
        id=uuid4().hex[:8],
        person=person,
        status=ReleaseStatus(status),
        signed_at=read_instant(signed, own) if signed else None,
        until=read_instant(until, own) if until else None,
        scope=scope,
        outlets=outlets,
    )


def rested(record: Record, set_name: str, days: int) -> SetRules:
    """The set with another rest; raises for a set nobody took in."""
    known = record.facts(Asked(versions=("",))).sets
    if set_name not in known:
        raise MisuseError(
            f"the record knows no set '{set_name}'",
            way_out=f"Known: {', '.join(sorted(known)) or 'none yet'}",
        )
    return replace(known[set_name], rest_days=days)


def declared(
    record: Record, set_name: str, versions: tuple[str, ...], days: int | None
) -> SetRules:
    """The set with these versions beside those it has, and its rest if one is given."""
    known = record.facts(Asked(versions=("",))).sets.get(set_name, SetRules(name=set_name))
    return replace(
        known,
        versions=tuple(dict.fromkeys((*known.versions, *versions))),
        rest_days=known.rest_days if days is None else days,
    )
