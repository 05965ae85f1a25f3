"""From rows to facts: what a question needs, found by the indices, and no more."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from types import MappingProxyType
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, or_

from cropper.publication.facts import Asked, Facts
from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.runs import Piece, Run, SetRules
from cropper.record import tables
from cropper.record.bodies import value_of
from cropper.record.rows import among, counting

MANY: Final = 5_000
"""For so many versions all homes are read at once: SQLite takes 32,766 names in a question."""


def read_facts(
    connection: Connection,
    asked: Asked,
    known_at: datetime | None,
    ground: Facts | None = None,
) -> Facts:
    """The snapshot that ``asked`` narrows to; rows known at ``known_at``, or now.

    ``ground`` is an earlier snapshot of the same transaction, whose outlets, releases, sets and
    barred versions still hold.
    """
    outlets = read_outlets(connection, known_at) if ground is None else ground.outlets
    standing = _standing(connection, known_at, ground)
    in_sets = _versions_in(connection, asked.sets, standing["sets"], known_at)
    rows = connection.execute(_runs(asked, in_sets, outlets.values(), known_at))
    runs = tuple(run_of(row) for row in rows)
    versions = {*asked.versions, *in_sets, *(run.version for run in runs)}
    everything = asked == Asked()
    homes = read_homes(connection, None if everything else versions, standing["sets"], known_at)
    sets = {*asked.sets, *(run.set for run in runs if run.set)}
    sets |= {name for version in versions for name in homes.get(version, ())}
    pieces = _pieces(connection, asked, (run.piece for run in runs), known_at)
    return Facts(
        outlets=outlets,
        pieces=pieces,
        runs=tuple(at_home(run, homes) for run in runs),
        licences=_licences(connection, None if everything else (versions, sets), known_at),
        homes=homes,
        **standing,
    )


def about(connection: Connection, run: Run) -> Asked:
    """What must be asked so that the rules can judge ``run``: its version and all its sets."""
    rules = _by_thread(connection, tables.set_rules, SetRules, None)
    homes = read_homes(connection, {run.version}, rules, None)
    sets = homes.get(run.version, frozenset()) | ({run.set} if run.set else frozenset())
    return Asked(versions=(run.version,), sets=tuple(sorted(sets)))


def at_home(run: Run, homes: Mapping[str, frozenset[str]]) -> Run:
    """The run with a set that its version belongs to, where it names none itself."""
    names = homes.get(run.version)
    return replace(run, set=min(names)) if names and not run.set else run


def read_homes(
    connection: Connection,
    versions: Collection[str] | None,
    sets: Mapping[str, SetRules],
    known_at: datetime | None,
) -> Mapping[str, frozenset[str]]:
    """By version, the sets it belongs to, of some versions or (None) of all."""
    piece = tables.piece.c
    homed = counting(tables.piece, known_at).where(piece.set_name != "")
    if versions is not None and len(versions) <= MANY:
        homed = homed.where(among(piece.version, sorted(versions)))
    found: dict[str, set[str]] = {}
    for name, rules in sets.items():
        for version in rules.versions:
            if versions is None or version in versions:
                found.setdefault(version, set()).add(name)
    for row in connection.execute(homed.with_only_columns(piece.version, piece.set_name)):
        found.setdefault(row.version, set()).add(row.set_name)
    return MappingProxyType({version: frozenset(names) for version, names in found.items()})


def _versions_in(
    connection: Connection,
    names: Sequence[str],
    sets: Mapping[str, SetRules],
    known_at: datetime | None,
) -> tuple[str, ...]:
    """The versions of the sets called ``names``."""
    if not names:
        return ()
    piece = tables.piece.c
    homed = counting(tables.piece, known_at).where(among(piece.set_name, names))
    rows = connection.execute(homed.with_only_columns(piece.version)).scalars()
    listed = (one for name in names if name in sets for one in sets[name].versions)
    return tuple(sorted({*listed, *rows}))


def _standing(
    connection: Connection, known_at: datetime | None, ground: Facts | None
) -> dict[str, Any]:
    """What is the same for every question: releases, sets and barred versions."""
    if ground is not None:
        return {"releases": ground.releases, "sets": ground.sets, "barred": ground.barred}
    return {
        "releases": _by_thread(connection, tables.release, Release, known_at),
        "sets": _by_thread(connection, tables.set_rules, SetRules, known_at),
        "barred": _barred(connection, known_at),
    }


def read_outlets(
    connection: Connection, known_at: datetime | None = None
) -> MappingProxyType[str, Outlet]:
    """Every outlet by its name."""
    return _by_thread(connection, tables.outlet, Outlet, known_at)


def run_of(row: Row[Any]) -> Run:
    """A run, with when its row was added."""
    return value_of(Run, {**row.body, "recorded_at": row.recorded_at})


def piece_of(row: Row[Any]) -> Piece:
    """A piece, with when its row was added."""
    return value_of(Piece, {**row.body, "recorded_at": row.recorded_at})


def _runs(
    asked: Asked, in_sets: Sequence[str], outlets: Iterable[Outlet], known_at: datetime | None
) -> Select[Any]:
    """``in_sets`` are the versions of the sets asked for: their runs may not name the set."""
    run = tables.run.c
    query = counting(tables.run, known_at).order_by(run.start, run.thread)
    whose: list[ColumnElement[bool]] = []
    if asked.versions or in_sets:
        whose.append(among(run.version, sorted({*asked.versions, *in_sets})))
    if asked.sets:
        whose.append(among(run.set_name, asked.sets))
    if whose:
        query = query.where(or_(*whose))
    if asked.outlets:
        query = query.where(among(run.outlet, asked.outlets))
    if asked.audience:
        groups = set(asked.audience)
        seen_by = [one.name for one in outlets if one.audience & groups]
        query = query.where(among(run.outlet, seen_by))
    if asked.pieces:
        query = query.where(among(run.piece, asked.pieces))
    if asked.span is not None:
        still = or_(run.until.is_(None), run.until > asked.span.start)
        begun = run.start < asked.span.until if asked.span.until is not None else still
        query = query.where(and_(still, begun))
    return query


def _pieces(
    connection: Connection, asked: Asked, ran: Iterable[str], known_at: datetime | None
) -> tuple[Piece, ...]:
    """The pieces asked for and those that ran; all of them when nothing was narrowed."""
    piece = tables.piece.c
    query = counting(tables.piece, known_at).order_by(piece.entry)
    if asked != Asked():
        whose = [among(piece.thread, [*{*ran, *asked.pieces}])]
        if asked.versions:
            whose.append(among(piece.version, asked.versions))
        if asked.sets:
            whose.append(among(piece.set_name, asked.sets))
        query = query.where(or_(*whose))
    return tuple(piece_of(row) for row in connection.execute(query))


def _licences(
    connection: Connection, about: tuple[set[str], set[str]] | None, known_at: datetime | None
) -> tuple[Licence, ...]:
    licence = tables.licence.c
    query = counting(tables.licence, known_at).order_by(licence.entry)
    if about is not None:
        versions, sets = about
        mine = or_(
            and_(licence.version != "", among(licence.version, sorted(versions))),
            and_(licence.set_name != "", among(licence.set_name, sorted(sets))),
        )
        query = query.where(mine)
    rows = connection.execute(query)
    return tuple(one for one in map(_licence_of, rows) if not one.called_off)


def read_licences(connection: Connection) -> tuple[Licence, ...]:
    """Every licence as it stands, also those called off, in the order they were recorded."""
    query = counting(tables.licence).order_by(tables.licence.c.entry)
    return tuple(_licence_of(row) for row in connection.execute(query))


def _licence_of(row: Row[Any]) -> Licence:
    return value_of(Licence, {**row.body, "recorded_at": row.recorded_at})


def _by_thread(
    connection: Connection, table: Any, kind: type[Any], known_at: datetime | None
) -> MappingProxyType[str, Any]:
    rows = connection.execute(counting(table, known_at).order_by(table.c.thread))
    return MappingProxyType({row.thread: value_of(kind, row.body) for row in rows})


def _barred(connection: Connection, known_at: datetime | None) -> MappingProxyType[str, str]:
    rows = connection.execute(counting(tables.barred, known_at))
    return MappingProxyType({row.thread: row.body["why"] for row in rows if row.body["why"]})
