"""Where the finished pictures run, who sees them there, and what a photographer has promised.

Read from the parsed ``outlets.toml`` of a job, once, into frozen values; nothing here touches a
disk. An *outlet* is a place that shows pictures; an *audience group* is a name for the people who
look there. Two versions of one idea are *rivals*: they must not stand before one group together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from cropper.errors import PresetError

OUTLETS_FILE: Final = "outlets.toml"

STARTER: Final = """\
# outlets.toml: where the finished pictures run, and who sees them there.
#
# Two rules follow from this file. Rivals (versions of one idea) never stand before the same
# audience side by side; and an exclusive runs nowhere else.
# Change the names to your own; delete what you do not need.

[outlets.my-pages]
kind = "stream"          # stream: pictures follow one another; placed: one fixed spot
audience = "followers"   # who looks there; several groups: ["followers", "clients"]

[outlets.mill-catalogue]
kind = "placed"
audience = "mill customers"
owner = "Fernhollow Mill"            # optional: whose outlet it is
notes = "spring issue, two pages"    # optional: a line for yourself
# exclusive = true                   # optional: what it gets runs nowhere else
# commercial = true                  # optional: it advertises; people need releases
# own = true                         # optional: your own portfolio
# window_days = 30                   # streams: how long a picture stands out
# medium = "print"                   # optional, with territory and industry:
# territory = "Nordland"             #   what somebody's exclusive may be against
# industry = "knitwear"
# zone = "Europe/Oslo"               # optional: in which a plain date starts at midnight

# Which outlet each destination's file runs in: destination = outlet, or a list of outlets.
# A destination that is not listed here has an audience of its own.
[destinations]
square-post = "my-pages"
tall-post = "my-pages"
cover-a4 = "mill-catalogue"

# Optional: "this version goes there, whatever the tool thinks."
[fixed]
# cover-a4 = "hooded-shawl"

# Optional: a version that you promised to one outlet alone.
[exclusive]
# hooded-shawl = "mill-catalogue"
"""
"""A commented ``outlets.toml`` to start from."""

NO_NAMES: Final[Mapping[str, str]] = MappingProxyType({})


WINDOW_DAYS: Final = 30
"""For how long a picture stands out in a stream (house)."""


class OutletKind(StrEnum):
    """How an outlet shows pictures."""

    STREAM = "stream"
    PLACED = "placed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet:
    """A place that shows pictures. ``exclusive``: what it gets runs nowhere else.

    ``window_days`` is for how long a stream shows a picture prominently, although it never comes
    down. ``medium``, ``territory`` and ``industry`` are what an exclusive may be against.
    ``commercial``: it advertises, so the people in its pictures need releases. ``own``: it is the
    photographer's own portfolio.
    """

    name: str
    kind: OutletKind
    audience: frozenset[str]
    owner: str = ""
    notes: str = ""
    exclusive: bool = False
    window_days: int = WINDOW_DAYS
    medium: str = ""
    territory: str = ""
    industry: str = ""
    commercial: bool = False
    own: bool = False
    zone: str = ""

    def __post_init__(self) -> None:
        if not self.name or not self.audience:
            message = "an outlet needs a name and at least one audience group"
            raise ValueError(message)
        if self.window_days < 1:
            message = "a stream shows a picture for at least a day"
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlets:
    """All outlets of a job, which destination runs where, fixed points and promises.

    ``runs_in``: destination to names of outlets. ``fixed``: destination to version.
    ``exclusives``: version to the one outlet it may run in.
    """

    outlets: Mapping[str, Outlet] = field(default_factory=lambda: MappingProxyType({}))
    runs_in: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    fixed: Mapping[str, str] = field(default_factory=lambda: NO_NAMES)
    exclusives: Mapping[str, str] = field(default_factory=lambda: NO_NAMES)

    @classmethod
    def from_mapping(cls, data: Mapping[str, object], *, file: str = OUTLETS_FILE) -> Outlets:
        """Check a parsed ``outlets.toml``; raise one PresetError that names every fault."""
        faults = [_unknown(word, TABLES) for word in sorted(set(data) - set(TABLES))]
        outlets = _outlets(_table(data, "outlets", faults), faults)
        runs_in = _runs_in(_table(data, "destinations", faults), outlets, faults)
        fixed = _names(data, "fixed", "the name of a version", faults)
        exclusives = _names(data, "exclusive", "the name of an outlet", faults)
        for version, outlet in exclusives.items():
            if outlet not in outlets:
                faults.append(_no_outlet(outlet, outlets).inside(version).inside("exclusive"))
        _raise_all(faults, file)
        return cls(outlets=outlets, runs_in=runs_in, fixed=fixed, exclusives=exclusives)

    def of(self, destination: str) -> tuple[Outlet, ...]:
        """The outlets a destination's file runs in; none when nothing is said about it."""
        return tuple(self.outlets[name] for name in self.runs_in.get(destination, ()))

    def audience(self, destination: str) -> frozenset[str]:
        """Everybody who sees a destination's file."""
        return frozenset[str]().union(*(outlet.audience for outlet in self.of(destination)))

    def exclusive_outlet(self, destination: str) -> str | None:
        """The outlet that keeps what this destination gets to itself, if there is one."""
        return next((outlet.name for outlet in self.of(destination) if outlet.exclusive), None)

    def only_in(self, destination: str, outlet: str) -> bool:
        """Whether the destination's file runs in ``outlet`` and nowhere else."""
        return self.runs_in.get(destination, ()) == (outlet,)

    def strangers(self, versions: Iterable[str], destinations: Iterable[str]) -> tuple[str, ...]:
        """A sentence for each name in the file that the job does not know (often a slip)."""
        known, wanted = set(versions), set(destinations)
        said = [
            f"[{table}] speaks of the version '{name}', which this job does not hold."
            for table, names in (("fixed", self.fixed.values()), ("exclusive", self.exclusives))
            for name in sorted(set(names) - known)
        ]
        places = sorted((set(self.runs_in) | set(self.fixed)) - wanted)
        said += [f"The destination '{name}' is not among those planned." for name in places]
        return tuple(said)


TABLES: Final = ("outlets", "destinations", "fixed", "exclusive")
TEXT_KEYS: Final = ("owner", "notes", "medium", "territory", "industry", "zone")
FLAG_KEYS: Final = ("exclusive", "commercial", "own")
OUTLET_KEYS: Final = ("kind", "audience", "window_days", *TEXT_KEYS, *FLAG_KEYS)
MOST_WINDOW_DAYS: Final = 3650


def _unknown(word: str, known: Iterable[str]) -> PresetError:
    listed = ", ".join(known)
    return PresetError(f"'{word}' is not known here", way_out=f"Known: {listed}", where=(word,))


def _no_outlet(name: str, outlets: Mapping[str, Outlet]) -> PresetError:
    listed = ", ".join(sorted(outlets)) or "none yet"
    return PresetError(
        f"there is no outlet '{name}'",
        way_out=f"Add a table [outlets.{name}], or use one of: {listed}",
    )


def _raise_all(faults: list[PresetError], file: str) -> None:
    """One error for all faults, a line each, so that a file is mended in one go."""
    placed = [fault.inside(file) for fault in faults]
    if len(placed) == 1:
        raise placed[0]
    if placed:
        raise PresetError("\n".join(str(fault) for fault in placed))


def _table(data: Mapping[str, object], name: str, faults: list[PresetError]) -> dict[str, object]:
    value = data.get(name, {})
    if isinstance(value, Mapping):
        return {str(key): inner for key, inner in value.items()}
    faults.append(
        PresetError(f"{value!r} is not a table", way_out=f"Write [{name}] on its own line").inside(
            name
        )
    )
    return {}


def _words(value: object) -> tuple[str, ...] | None:
    """One name or a list of names, as names without repeats; None when it is neither."""
    items = [value] if isinstance(value, str) else value
    if not isinstance(items, list) or not items:
        return None
    if not all(isinstance(item, str) and item.strip() for item in items):
        return None
    return tuple(dict.fromkeys(item.strip() for item in items))


def _names(
    data: Mapping[str, object], table: str, what: str, faults: list[PresetError]
) -> Mapping[str, str]:
    names: dict[str, str] = {}
    for key, value in _table(data, table, faults).items():
        if isinstance(value, str) and value.strip():
            names[key] = value.strip()
        else:
            fault = PresetError(f"{value!r} is not {what}", way_out=f"Write {what} in quotes")
            faults.append(fault.inside(key).inside(table))
    return MappingProxyType(names)


def _outlets(table: Mapping[str, object], faults: list[PresetError]) -> Mapping[str, Outlet]:
    outlets: dict[str, Outlet] = {}
    for name, value in table.items():
        mine: list[PresetError] = []
        outlet = _outlet(name, value, mine)
        faults += [fault.inside(name).inside("outlets") for fault in mine]
        if outlet is not None:
            outlets[name] = outlet
    return MappingProxyType(outlets)


def _outlet(name: str, value: object, faults: list[PresetError]) -> Outlet | None:
    """One outlet; a faulty one adds its faults and still stands, so that no fault has children."""
    if not isinstance(value, Mapping):
        way_out = f'Write a table: [outlets.{name}] with kind = "stream" and audience = "..."'
        faults.append(PresetError(f"{value!r} is not an outlet", way_out=way_out))
        return None
    faults.extend(_unknown(str(word), OUTLET_KEYS) for word in value if word not in OUTLET_KEYS)
    audience = _words(value.get("audience"))
    if audience is None:
        said = f"{value['audience']!r} is not" if "audience" in value else "missing:"
        way_out = 'Write audience = "followers", or a list of such names'
        faults.append(
            PresetError(f"{said} a name for who looks there", way_out=way_out).inside("audience")
        )
    return Outlet(
        name=name,
        kind=_kind(value.get("kind"), faults),
        audience=frozenset(audience or (name,)),
        window_days=_days(value, faults),
        owner=_text(value, "owner", faults),
        notes=_text(value, "notes", faults),
        medium=_text(value, "medium", faults),
        territory=_text(value, "territory", faults),
        industry=_text(value, "industry", faults),
        zone=_text(value, "zone", faults),
        exclusive=_flag(value, "exclusive", faults),
        commercial=_flag(value, "commercial", faults),
        own=_flag(value, "own", faults),
    )


def _days(table: Mapping[str, object], faults: list[PresetError]) -> int:
    value = table.get("window_days", WINDOW_DAYS)
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_WINDOW_DAYS:
        return value
    way_out = "Write window_days = 30, the days for which a stream shows a picture prominently"
    faults.append(PresetError(f"{value!r} is not a number of days", way_out=way_out))
    faults[-1] = faults[-1].inside("window_days")
    return WINDOW_DAYS


def _kind(value: object, faults: list[PresetError]) -> OutletKind:
    if isinstance(value, str) and value in set(OutletKind):
        return OutletKind(value)
    said = "missing: how it shows pictures" if value is None else f"{value!r} is not a kind"
    way_out = 'Write kind = "stream" (pictures follow one another) or "placed" (a fixed spot)'
    faults.append(PresetError(said, way_out=way_out).inside("kind"))
    return OutletKind.PLACED


def _text(table: Mapping[str, object], key: str, faults: list[PresetError]) -> str:
    value = table.get(key, "")
    if isinstance(value, str):
        return value
    faults.append(PresetError(f"{value!r} is not text", way_out="Put it in quotes").inside(key))
    return ""


def _flag(table: Mapping[str, object], key: str, faults: list[PresetError]) -> bool:
    value = table.get(key, False)
    if isinstance(value, bool):
        return value
    fault = PresetError(f"{value!r} is neither true nor false", way_out=f"Write {key} = true")
    faults.append(fault.inside(key))
    return False


def _runs_in(
    table: Mapping[str, object], outlets: Mapping[str, Outlet], faults: list[PresetError]
) -> Mapping[str, tuple[str, ...]]:
    runs: dict[str, tuple[str, ...]] = {}
    for destination, value in table.items():
        names = _words(value)
        mine = _faults_of_runs(value, names, outlets)
        faults += [fault.inside(destination).inside("destinations") for fault in mine]
        runs[destination] = tuple(name for name in names or () if name in outlets)
    return MappingProxyType(runs)


def _faults_of_runs(
    value: object, names: tuple[str, ...] | None, outlets: Mapping[str, Outlet]
) -> list[PresetError]:
    if names is None:
        way_out = 'Write destination = "outlet", or a list of outlets'
        return [PresetError(f"{value!r} is not the name of an outlet", way_out=way_out)]
    faults = [_no_outlet(name, outlets) for name in names if name not in outlets]
    alone = [name for name in names if name in outlets and outlets[name].exclusive]
    if alone and len(names) > 1:
        others = ", ".join(f"'{name}'" for name in names if name != alone[0])
        what = f"'{alone[0]}' is exclusive, yet the same file runs in {others}"
        way_out = f"Give '{alone[0]}' a destination of its own, or drop its 'exclusive'"
        faults.append(PresetError(what, way_out=way_out))
    return faults
