"""Destinations as data: the shipped presets and the photographer's own folder, read and checked.

Every ``*.toml`` of a folder holds one table per destination. A destination of the photographer's
replaces a shipped one of the same name, and :attr:`Catalogue.notices` says so. All faults of all
files are reported at once, in one :class:`PresetError`.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from cropper._resources import shipped
from cropper.destination import faults, reading
from cropper.destination.building import ContradictionError, build
from cropper.destination.destination import Destination
from cropper.destination.own import copied, own_folder, starter
from cropper.destination.schema import DestinationTable
from cropper.disk import plain
from cropper.errors import MisuseError, PresetError
from cropper.geometry import Size

ALL: Final = "all"
SHIPPED: Final = "presets"
LARGEST_FILE_BYTES: Final = 1_000_000
"""House: all shipped presets together are a twentieth of this."""


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Every destination known, in the order of their files, and what a reader should know."""

    destinations: tuple[Destination, ...]
    notices: tuple[str, ...] = ()
    given: frozenset[str] = frozenset()
    """Names of those that stand in a folder which was named for this very run."""

    @property
    def groups(self) -> dict[str, tuple[Destination, ...]]:
        """Group name to its destinations; ``all`` comes last."""
        found: dict[str, tuple[Destination, ...]] = {}
        for destination in self.destinations:
            for group in destination.groups:
                found[group] = (*found.get(group, ()), destination)
        return {**found, ALL: self.destinations}

    def choose(self, names: Sequence[str]) -> tuple[Destination, ...]:
        """The destinations that ``names`` mean: names of destinations and of groups.

        The order of the names is kept and nothing comes twice. Raises :class:`MisuseError` that
        names every word it does not know, each with the nearest that exist.
        """
        by_name = {one.name: (one,) for one in self.destinations} | self.groups
        wanted = [name.strip().lower() for name in names if name.strip()]
        if not wanted:
            raise MisuseError(
                "no destination was named",
                way_out=f"Name some, or a group: {', '.join(self.groups)}",
            )
        unknown = [name for name in dict.fromkeys(wanted) if name not in by_name]
        if unknown:
            raise MisuseError(
                "; ".join(_unknown(name, tuple(by_name)) for name in unknown),
                way_out="`cropper destinations` lists them all",
            )
        chosen = {one.name: one for name in wanted for one in by_name[name]}
        return tuple(chosen.values())


def _unknown(name: str, known: tuple[str, ...]) -> str:
    words = {part: one for one in known for part in one.split("-")}
    near = difflib.get_close_matches(name.replace("_", "-").replace(" ", "-"), known, n=3)
    near += [one for one in known if name and name in one]
    near += [words[part] for part in difflib.get_close_matches(name, words, n=1)]
    near = list(dict.fromkeys(near))[:3]
    said = f"there is no destination or group {name!r}"
    return f"{said} (did you mean {reading.listed(near)}?)" if near else said


@dataclass(frozen=True, slots=True)
class _Source:
    """One preset file, its name in messages, and its folder when it is the photographer's own."""

    called: str
    file: Traversable
    folder: Path | None


def load_presets(*, folders: Sequence[Path] = ()) -> Catalogue:
    """The shipped presets, those of the user's own folder and of ``folders``, later ones winning.

    Raises one :class:`PresetError` (exit 3) that says every fault of every file.
    """
    wrong: list[PresetError] = []
    kept: dict[str, Destination] = {}
    notices: list[str] = []
    given: set[str] = set()
    mine = own_folder()
    own = (mine,) if any(mine.glob("*.toml")) else ()
    for folder in (None, *own, *folders):
        layer = _shipped_sources() if folder is None else _own_sources(folder, wrong)
        for destination in _layer(layer, wrong).values():
            if folder in folders:
                given.add(destination.name)
            before = kept.get(destination.name)
            if before is not None:
                notices.append(
                    f"{destination.name}: {destination.preset_file} replaces"
                    f" the one of {before.preset_file}"
                )
            kept[destination.name] = destination
    wrong.extend(_clashes(tuple(kept.values())))
    if wrong:
        raise faults.all_at_once(wrong)
    return Catalogue(tuple(kept.values()), tuple(notices), frozenset(given))


def _shipped_sources() -> list[_Source]:
    files = (file for file in shipped(SHIPPED).iterdir() if file.name.endswith(".toml"))
    return [
        _Source(file.name, file, folder=None) for file in sorted(files, key=lambda one: one.name)
    ]


def _own_sources(folder: Path, wrong: list[PresetError]) -> list[_Source]:
    try:
        files = sorted(file for file in folder.iterdir() if file.suffix.lower() == ".toml")
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        wrong.append(
            PresetError(f"the presets folder cannot be read: {reason}", where=(str(folder),))
        )
        return []
    if not files:
        wrong.append(
            PresetError(
                "there is no .toml file in this presets folder",
                where=(str(folder),),
                way_out="docs/how-to/add-a-destination.md shows one",
            )
        )
    taken = {source.called for source in _shipped_sources()}
    return [
        # A file that is called like a shipped one is told apart by its folder.
        _Source(
            f"{folder.name}/{file.name}" if file.name in taken else file.name, file, folder=folder
        )
        for file in files
    ]


def _layer(sources: list[_Source], wrong: list[PresetError]) -> dict[str, Destination]:
    """The destinations of one folder; one name in two of its files is a fault."""
    found: dict[str, Destination] = {}
    for source in sources:
        for destination in _of_file(source, wrong):
            first = found.get(destination.name)
            if first is not None:
                wrong.append(
                    PresetError(
                        f"{first.preset_file} holds a destination of this name already",
                        where=(source.called, destination.name),
                    )
                )
                continue
            found[destination.name] = destination
    return found


def _of_file(source: _Source, wrong: list[PresetError]) -> Iterator[Destination]:
    try:
        tables = _toml(source.file)
    except PresetError as error:
        wrong.append(error.inside(source.called))
        return
    if not tables:
        wrong.append(PresetError("holds no destination", where=(source.called,)))
    for name, table in tables.items():
        made = _of_table(name, table, source)
        if isinstance(made, Destination):
            yield made
        else:
            wrong.extend(fault.inside(source.called) for fault in made)


def _toml(file: Traversable) -> dict[str, object]:
    try:
        raw = (plain(file) if isinstance(file, Path) else file).read_bytes()
        if len(raw) > LARGEST_FILE_BYTES:
            raise PresetError(f"is larger than {LARGEST_FILE_BYTES} bytes, too large for a preset")
        tables: dict[str, object] = tomllib.loads(raw.decode("utf-8-sig"), parse_float=Decimal)
    except OSError as error:
        raise PresetError(f"cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise PresetError(f"is not UTF-8 text (byte {error.start})") from error
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise PresetError(f"is not TOML: {error}") from error
    return tables


def _of_table(name: str, table: object, source: _Source) -> Destination | list[PresetError]:
    try:
        reading.name(name)
    except ValueError as error:
        return [PresetError(str(error), where=(name,))]
    if not isinstance(table, dict):
        what = f"{reading.shown(table)} stands outside any destination: write [a-name] above it"
        return [PresetError(what, where=(name,))]
    if name == ALL:
        return [PresetError("is the name of the group of everything", where=(name,))]
    try:
        checked = DestinationTable.model_validate(table)
        return build(name, checked, preset_file=source.called, folder=source.folder)
    except ValidationError as error:
        return faults.of_validation(error, DestinationTable, table, name)
    except ContradictionError as error:
        return faults.of_contradictions(error.faults, name)


def _clashes(destinations: tuple[Destination, ...]) -> Iterator[PresetError]:
    groups = {group for one in destinations for group in one.groups}
    by_pattern: dict[str, Destination] = {}
    for one in destinations:
        where = (one.preset_file, one.name)
        if one.name in groups:
            yield PresetError("is the name of a group as well: rename one of them", where=where)
        if ALL in one.groups:
            what = "'all' is the group of everything: leave it out"
            yield PresetError(what, where=(*where, "groups"))
        if "{destination}" in one.naming:
            continue
        first = by_pattern.setdefault(one.naming, one)
        if first is not one:
            yield PresetError(
                f"{reading.shown(one.naming)} is the pattern of {first.name} too, so their files"
                " would have one name: put {destination} in it",
                where=(*where, "naming"),
            )


def new_text(name: str, size: Size | None, like: str) -> str:
    """The text of a new own destination: of ``size``, or like another one (and of ``size``).

    Raises :class:`MisuseError` where there is nothing to begin with, and :class:`PresetError` where
    what comes of it is no destination.
    """
    if like:
        text = copied(_text_of(like), like, name, size)
    elif size is not None:
        text = starter(name, size)
    else:
        raise MisuseError(
            "a new destination needs a size", way_out="Add --size 900x1200, or --like"
        )
    _refuse_faulty(name, text)
    return text


def _text_of(name: str) -> str:
    """The preset file that a destination stands in."""
    mine = own_folder()
    own = [one for one in _own_sources(mine, []) if one.file.is_file()] if mine.is_dir() else []
    for source in (*own, *_shipped_sources()):
        if name in _toml(source.file):
            return source.file.read_text(encoding="utf-8")
    raise MisuseError(
        f"there is no destination '{name}' to copy", way_out="`cropper destinations` lists them"
    )


def _refuse_faulty(name: str, text: str) -> None:
    """Raise :class:`PresetError` for a text that would be at fault among all others."""
    source = _Source(f"{name}.toml", Path(name), folder=None)
    made = _of_table(name, tomllib.loads(text, parse_float=Decimal)[name], source)
    if not isinstance(made, Destination):
        raise faults.all_at_once([fault.inside(source.called) for fault in made])
    wrong = list(_clashes((*load_presets().destinations, made)))
    if wrong:
        raise faults.all_at_once(wrong)
