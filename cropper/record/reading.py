"""From rows to facts: what a question needs, found by the indices, and no more."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from types import MappingProxyType
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, or_

from cropper.publication.facts import Asked, Facts
from cropper.publication.licences import Licence
from cropper.publication.outlets import Outlet
from cropper.publication.releases import Release
from cropper.publication.runs import Piece, Run, SetRules
from cropper.record import tables
from cropper.record.bodies import value_of
from cropper.record.rows import among, counting


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
    runs = tuple(
        run_of(row) for row in connection.execute(_runs(asked, outlets.values(), known_at))
    )
    versions = {*asked.versions, *(run.version for run in runs)}
    sets = {*asked.sets, *(run.set for run in runs if run.set)}
    everything = asked == Asked()
    pieces = _pieces(connection, asked, (run.piece for run in runs), known_at)
    return Facts(
        outlets=outlets,
        pieces=pieces,
        runs=runs,
        licences=_licences(connection, None if everything else (versions, sets), known_at),
        **_standing(connection, known_at, ground),
    )


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


def _runs(asked: Asked, outlets: Iterable[Outlet], known_at: datetime | None) -> Select[Any]:
    run = tables.run.c
    query = counting(tables.run, known_at).order_by(run.start, run.thread)
    whose: list[ColumnElement[bool]] = []
    if asked.versions:
        whose.append(among(run.version, asked.versions))
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
    return tuple(value_of(Licence, {**row.body, "recorded_at": row.recorded_at}) for row in rows)


def _by_thread(
    connection: Connection, table: Any, kind: type[Any], known_at: datetime | None
) -> MappingProxyType[str, Any]:
    rows = connection.execute(counting(table, known_at).order_by(table.c.thread))
    return MappingProxyType({row.thread: value_of(kind, row.body) for row in rows})


def _barred(connection: Connection, known_at: datetime | None) -> MappingProxyType[str, str]:
    rows = connection.execute(counting(tables.barred, known_at))
    return MappingProxyType({row.thread: row.body["why"] for row in rows if row.body["why"]})
