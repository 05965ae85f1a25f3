"""Faults of preset files as sentences with their place: file, table, key, value, what is right."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from cropper.destination.contradictions import Fault
from cropper.destination.reading import shown
from cropper.errors import PresetError

LIST_OF_TABLES: Final = "is not a list of tables: write [[{table}.{key}]] above each of them"


def of_validation(
    error: ValidationError, model: type[BaseModel], table: Mapping[str, object], name: str
) -> list[PresetError]:
    """Every fault the validation found in ``table``, in the words of a preset's author."""
    return [_of_one(dict(row), model, table, name) for row in error.errors(include_url=False)]


def of_contradictions(faults: Sequence[Fault], name: str) -> list[PresetError]:
    """Contradictions as errors placed at their key."""
    return [PresetError(fault.what, where=(name, fault.key)) for fault in faults]


def _of_one(
    row: Mapping[str, Any], model: type[BaseModel], table: Mapping[str, object], name: str
) -> PresetError:
    place = tuple(str(step) for step in row["loc"])
    where = (name, *place)
    match row["type"]:
        case "value_error":
            return PresetError(str(row["ctx"]["error"]), where=where)
        case "missing":
            return PresetError(_missing(place), where=where)
        case "extra_forbidden":
            return PresetError(_unknown(place, model, table), where=where)
        case "list_type":
            return PresetError(LIST_OF_TABLES.format(table=name, key=place[-1]), where=where)
        case "model_type":
            what = f"{shown(row['input'])} is not a table such as {{ key = value }}"
            return PresetError(what, where=where)
        case _:
            return PresetError(f"{shown(row['input'])}: {row['msg']}", where=where)


def _missing(place: tuple[str, ...]) -> str:
    examples = {
        "title": "title = 'Tall post'",
        "name": "name = 'small screens'",
        "box": "box = [0, 0, 1, 0.14]",
        "keep_clear": "keep_clear = 'eyes'",
        "target": "target = [0.30, 0.36]",
        "limits": "limits = [0.25, 0.45]",
    }
    return f"is missing; for example {examples.get(place[-1], place[-1])}"


def _unknown(place: tuple[str, ...], model: type[BaseModel], table: Mapping[str, object]) -> str:
    known = list(_keys_at(place[:-1], model))
    near = [key for key in difflib.get_close_matches(place[-1], known, n=3) if key not in table]
    if near:
        return f"is no key here; did you mean {' or '.join(near)}?"
    return f"is no key here; there are {', '.join(known)}"


def _keys_at(place: tuple[str, ...], model: type[BaseModel]) -> tuple[str, ...]:
    """The keys of the table at ``place``, found through the models' own annotations."""
    for step in place:
        if step.isdigit():
            continue
        inner = _models_in(model.model_fields[step].annotation)
        if inner:
            model = inner[0]
    return tuple(model.model_fields)


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    inner = getattr(annotation, "__args__", ())
    return [model for part in inner for model in _models_in(part)]


def all_at_once(faults: Sequence[PresetError], of: str = "the presets") -> PresetError:
    """One error that says every fault, one to a line; a single one stays itself."""
    if len(faults) == 1:
        return faults[0]
    lines = "\n".join(f"  {fault}" for fault in faults)
    return PresetError(f"{len(faults)} faults in {of}:\n{lines}")
