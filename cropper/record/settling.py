"""Agreements and runs that are there already: what a new agreement clashes with."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlalchemy import Connection

from cropper.errors import RivalsError
from cropper.publication.facts import Asked
from cropper.publication.licences import Licence
from cropper.publication.releases import Release
from cropper.publication.runs import SetRules
from cropper.publication.settling import Unsettled, still_up, unsettled
from cropper.record import tables
from cropper.record.barring import Barred
from cropper.record.reading import piece_of, read_facts
from cropper.record.rows import Stamp, counting, keep_once

Agreement = Licence | Release | SetRules | Barred


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreed:
    """An agreement as it was kept: whether it was new, and what it leaves to be done."""

    new: bool
    unsettled: tuple[Unsettled, ...] = ()
    still_up: tuple[str, ...] = ()


def agree(connection: Connection, value: Agreement, stamp: Stamp, *, anyway: str) -> Agreed:
    """Keep ``value`` and tell what it clashes with; see :meth:`Record.agree`."""
    asked = _about(connection, value)
    before = {one.key for one in unsettled(read_facts(connection, asked, None), stamp.at)}
    why = "; ".join(filter(None, (stamp.why, anyway and f"kept anyway: {anyway}")))
    new = keep(connection, value, replace(stamp, why=why))
    facts = read_facts(connection, asked, None)
    found = tuple(one for one in unsettled(facts, stamp.at) if one.key not in before)
    if found and not anyway:
        told = " ".join(f"{one.sentence} {one.way_out}." for one in found)
        raise RivalsError(
            f"this clashes with what is recorded. {told.rstrip('.')}",
            way_out="Nothing was kept. Do that first, or keep it now and be reminded: --anyway WHY",
        )
    still = still_up(value, facts) if isinstance(value, Licence) else ()
    return Agreed(new=new, unsettled=found, still_up=still)


def keep(connection: Connection, value: Agreement, stamp: Stamp) -> bool:
    """Add or correct an agreement; whether that says anything new."""
    match value:
        case Licence():
            found = {"version": value.version, "set_name": value.set or "", "outlet": value.outlet}
            return keep_once(connection, tables.licence, value.id, value, stamp, **found)
        case Release():
            return keep_once(connection, tables.release, value.person, value, stamp)
        case SetRules():
            return keep_once(connection, tables.set_rules, value.name, value, stamp)
        case Barred():
            return keep_once(connection, tables.barred, value.version, value, stamp)


def _about(connection: Connection, value: Agreement) -> Asked:
    """What is asked for, so that every run that ``value`` can bind is among the facts."""
    match value:
        case Licence() if value.set:
            return Asked(sets=(value.set,))
        case SetRules():
            return Asked(sets=(value.name,), versions=value.versions)
        case Licence() | Barred():
            return Asked(versions=(value.version,))
        case Release():
            pieces = map(piece_of, connection.execute(counting(tables.piece)))
            shown = {one.version for one in pieces if value.person in one.people}
            return Asked(versions=tuple(sorted(shown)) or ("",))
