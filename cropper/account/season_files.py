"""A season on the disk: what is wanted of it (``season.toml``), and the proposal (JSON)."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Final

from pydantic import ConfigDict, TypeAdapter, ValidationError

from cropper.deliverable.writing import write_whole
from cropper.disk import plain
from cropper.errors import MisuseError, PresetError, RecordError
from cropper.job.outlets import read_outlets
from cropper.job.putting import write_text
from cropper.publication.dates import zone_called
from cropper.publication.facts import Facts
from cropper.publication.season import (
    BEST,
    EVERY_DAY,
    PLACED_DAYS,
    Fixed,
    Habit,
    Request,
    Season,
    Wanted,
)

FORMAT: Final = 1
WEEKS: Final = 13
"""A season unless another length is given: a quarter of a year (house)."""
MOST_WEEKS: Final = 53
WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

STARTER: Final = """\
# season.toml: what you want of a season. Everything here is optional.
#
#   cropper season propose --job my-job --plan season.toml --to season.json

weeks = 13               # how long it is
# start = 2027-01-04     # its first day; next Monday unless given
gap_days = 3             # days between two versions of one idea before one audience
near_days = 7            # drawn up anew, what starts within so many days is not moved

# One table for each outlet, by the name it has in outlets.toml.
# [outlets.my-pages]
# days = ["mon", "wed", "fri"]   # when it may post; any day unless given
# per_week = 2                   # at most so many posts a week
# takes = ["square-post"]        # which destinations run there; else as outlets.toml says

# [outlets.mill-catalogue]
# stays_days = 28                # fixed spots: how long a picture stays
# at_once = 1                    # how many stand there together

# How well a version suits an outlet: 1 to 3, or 0 for never there. Without it, the version that
# `cropper plan` gave a destination suits best where that destination runs.
# [suits.roll-neck]
# my-pages = 3

# Starts that you have decided already.
# [[fixed]]
# version = "roll-neck"
# outlet = "my-pages"
# from = 2027-01-06
"""


@dataclass(frozen=True, kw_only=True)
class OutletPlan:
    """A table ``[outlets.NAME]``."""

    __pydantic_config__ = ConfigDict(extra="forbid")

    days: list[str] = field(default_factory=lambda: list(WEEKDAYS))
    per_week: int | None = None
    stays_days: int = PLACED_DAYS
    at_once: int = 1
    takes: list[str] | None = None


@dataclass(frozen=True, kw_only=True)
class FixedPlan:
    """A table ``[[fixed]]``; ``from`` is the day."""

    __pydantic_config__ = ConfigDict(extra="forbid")

    version: str
    outlet: str
    day: date


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What ``season.toml`` says."""

    __pydantic_config__ = ConfigDict(extra="forbid")

    weeks: int = WEEKS
    start: date | None = None
    gap_days: int = 0
    near_days: int = 7
    outlets: dict[str, OutletPlan] = field(default_factory=dict)
    suits: dict[str, dict[str, int]] = field(default_factory=dict)
    fixed: list[FixedPlan] = field(default_factory=list)


def start_plan(path: Path) -> bool:
    """Write a commented ``season.toml`` to start from, unless one is there; whether it was."""
    if path.exists():
        return False
    if path.suffix != ".toml":
        raise MisuseError(
            f"there is no file {path}", way_out="A new one is written where its name ends in .toml"
        )
    write_text(path, STARTER)
    return True


def read_plan(path: Path) -> Plan:
    """What the file says; raises :class:`PresetError` that names every fault."""
    try:
        told = tomllib.loads(plain(path).read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise PresetError(
            f"it cannot be read ({error})", way_out="Mend the line", where=(str(path),)
        ) from error
    for one in told.get("fixed", []) if isinstance(told.get("fixed", []), list) else []:
        if isinstance(one, dict) and "from" in one:
            one["day"] = one.pop("from")
    try:
        plan = TypeAdapter(Plan).validate_python(told)
    except ValidationError as error:
        said = "\n".join(
            f"{path}.{'.'.join('from' if part == 'day' else str(part) for part in one['loc'])}:"
            f" {one['msg'].lower()}"
            for one in error.errors()
        )
        raise PresetError(said, way_out="`season propose --plan NEW.toml` shows each key") from None
    _check(plan, path)
    return plan


def _check(plan: Plan, path: Path) -> None:
    """Refuse numbers that mean nothing."""
    faults = []
    if not 1 <= plan.weeks <= MOST_WEEKS:
        faults.append(f"weeks: {plan.weeks} is not 1 to {MOST_WEEKS}")
    faults += [
        f"{name}: {value} is below 0"
        for name, value in (("gap_days", plan.gap_days), ("near_days", plan.near_days))
        if value < 0
    ]
    for name, one in plan.outlets.items():
        faults += [
            f"outlets.{name}.days: '{day}' is no weekday such as mon"
            for day in one.days
            if day not in WEEKDAYS
        ]
        numbers = {"per_week": one.per_week, "stays_days": one.stays_days, "at_once": one.at_once}
        faults += [
            f"outlets.{name}.{key}: {value} is below 1"
            for key, value in numbers.items()
            if value is not None and value < 1
        ]
    faults += [
        f"suits.{version}.{outlet}: {value} is not 0 to {BEST}"
        for version, outlets in plan.suits.items()
        for outlet, value in outlets.items()
        if not 0 <= value <= BEST
    ]
    if faults:
        raise PresetError("\n".join(f"{path}.{one}" for one in faults), way_out="Mend them")


def request_of(
    plan: Plan, facts: Facts, jobs: Iterable[Path], *, now: datetime, zone: str
) -> Request:
    """The season that is asked for: every finished file where its destination runs.

    Raises :class:`MisuseError` for names that the record does not know, and when nothing is wanted.
    """
    takes, best = _takes(plan, jobs, facts)
    pieces = {(one.version, one.destination): one for one in facts.pieces}
    _refuse_strangers(plan, facts)
    wanted: dict[tuple[str, str], Wanted] = {}
    for (version, destination), piece in sorted(pieces.items()):
        for outlet in takes.get(destination, ()):
            usual = BEST if best.get(destination) == version else 1
            suits = plan.suits.get(version, {}).get(outlet, usual)
            one = Wanted(piece=piece, outlet=outlet, suits=suits)
            before = wanted.get((version, outlet))
            if before is None or before.suits < suits:
                wanted[version, outlet] = one
    if not wanted:
        raise MisuseError(
            "no finished file on record goes to any outlet",
            way_out="Give the jobs (--job DIR) whose outlets.toml says which destination runs where"
            ", or write takes = [...] under [outlets.NAME] in the plan",
        )
    today = now.astimezone(zone_called(zone)).date()
    return Request(
        start=plan.start or today + timedelta(days=7 - today.weekday()),
        weeks=plan.weeks,
        wanted=tuple(wanted.values()),
        now=now,
        habits=MappingProxyType({name: _habit(one) for name, one in plan.outlets.items()}),
        fixed=tuple(
            Fixed(version=one.version, outlet=one.outlet, day=one.day) for one in plan.fixed
        ),
        gap_days=plan.gap_days,
        near_days=plan.near_days,
        zone=zone,
    )


def _takes(
    plan: Plan, jobs: Iterable[Path], facts: Facts
) -> tuple[dict[str, tuple[str, ...]], dict[str, str | None]]:
    """By destination, the outlets it runs in, and the version that suits it best."""
    takes: dict[str, tuple[str, ...]] = {}
    best: dict[str, str | None] = {}
    for job in jobs:
        for destination, outlets in read_outlets(job).runs_in.items():
            known = tuple(one for one in outlets if one in facts.outlets)
            takes[destination] = tuple(dict.fromkeys((*takes.get(destination, ()), *known)))
        best.update(_best(job))
    for name, one in plan.outlets.items():
        if one.takes is not None:
            takes = {
                destination: tuple(outlet for outlet in outlets if outlet != name)
                for destination, outlets in takes.items()
            }
            for destination in one.takes:
                takes[destination] = (*takes.get(destination, ()), name)
    return takes, best


def _best(job: Path) -> Mapping[str, str | None]:
    """Which version `cropper plan` gave each destination, of all sets of a job."""
    from cropper.job.store import JobFolder  # noqa: PLC0415 - a plan is read only where there is one

    plan = JobFolder(job).read()
    if plan is None:
        return {}
    return {
        destination: version
        for entry in plan.rivals.entries
        for destination, version in entry.planned.best.items()
    }


def _habit(one: OutletPlan) -> Habit:
    days = frozenset(WEEKDAYS.index(day) for day in one.days)
    return Habit(
        days=days or EVERY_DAY,
        per_week=one.per_week,
        stays_days=one.stays_days,
        at_once=one.at_once,
    )


def _refuse_strangers(plan: Plan, facts: Facts) -> None:
    versions = {one.version for one in facts.pieces}
    outlets = [*plan.outlets, *(name for one in plan.suits.values() for name in one)]
    for name in (*outlets, *(one.outlet for one in plan.fixed)):
        if name not in facts.outlets:
            known = ", ".join(sorted(facts.outlets)) or "none yet"
            raise MisuseError(f"the record knows no outlet '{name}'", way_out=f"Known: {known}")
    for name in (*plan.suits, *(one.version for one in plan.fixed)):
        if name not in versions:
            raise MisuseError(
                f"the record knows no version '{name}'",
                way_out="Take in its job first: cropper record job DIR",
            )


def put_season(season: Season, to: Path) -> None:
    """Write the proposal, whole or not at all; an older file of that name goes."""
    told = TypeAdapter(Season).dump_python(season, mode="json")
    text = json.dumps({"format": FORMAT, **told}, ensure_ascii=False, indent=1)
    write_whole(to, f"{text}\n".encode(), replace=True)


def read_season(path: Path) -> Season:
    """A proposal that :func:`put_season` wrote; raises :class:`RecordError` for anything else."""
    try:
        told = json.loads(plain(path).read_text(encoding="utf-8"))
        known = isinstance(told, dict) and told.pop("format", None) == FORMAT
        return TypeAdapter(Season).validate_python(told if known else None)
    except (OSError, ValueError, RecursionError, MisuseError) as error:
        raise RecordError(
            f"{path} is no season that this cropper wrote",
            way_out="Propose it again: cropper season propose",
        ) from error
