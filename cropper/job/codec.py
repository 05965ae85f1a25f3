"""Plan <-> JSON, exactly: every number comes back as it was, fractions as ``"4/5"``.

Untrusted JSON becomes a :class:`Plan` here, once, and is never a dict again.
"""

from __future__ import annotations

import json
import math
from functools import cache
from typing import Any, Final, cast

from pydantic import TypeAdapter, ValidationError

from cropper.errors import JobError
from cropper.job.plan import FORMAT, Plan

LINE: Final = 96
"""A list or object that fits in this many characters stays on one line (house)."""


@cache
def _adapter() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


def to_mapping(plan: Plan) -> dict[str, Any]:
    """The plan as plain JSON values."""
    mapping = _adapter().dump_python(plan, mode="json")
    return cast("dict[str, Any]", _finite(mapping))


def from_mapping(mapping: object) -> Plan:
    """A plan from JSON values; raises :class:`JobError` naming the first value that is wrong."""
    _refuse_newer(mapping)
    try:
        return _adapter().validate_python(mapping)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])
        raise JobError(
            f"{place or 'the plan'} is not as a plan needs it: {first['msg'].lower()}",
            way_out="Restore plan.json from a copy, or plan into a fresh job folder",
        ) from error


def to_text(plan: Plan) -> str:
    """The plan as people read it: indented, but points, boxes and short lists on one line."""
    return laid_out(to_mapping(plan)) + "\n"


def from_text(text: str) -> Plan:
    """A plan from its text; raises :class:`JobError` where it is not one."""
    try:
        mapping = json.loads(text)
    except ValueError as error:
        raise JobError(
            f"this is not JSON ({error})",
            way_out="Restore plan.json from a copy, or plan into a fresh job folder",
        ) from error
    return from_mapping(mapping)


def _refuse_newer(mapping: object) -> None:
    if not isinstance(mapping, dict) or not isinstance(mapping.get("format"), int):
        raise JobError(
            "this is not the plan of a job: it names no format",
            way_out="Point --job at a folder made by `cropper plan`",
        )
    if mapping["format"] > FORMAT:
        raise JobError(
            f"this job was made by a newer program (plan format {mapping['format']}, "
            f"this one knows {FORMAT})",
            way_out="Update cropper, or plan into a fresh job folder",
        )


def _finite(value: Any) -> Any:
    """JSON has no infinity: it is written as a word, which the reader takes back as a number."""
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_finite(item) for item in value]
    return value


def laid_out(value: Any, depth: int = 0) -> str:
    """JSON text of ``value``: what fits on a line stays on it, the rest is indented."""
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if not isinstance(value, (dict, list)) or not value or len(flat) + 2 * depth <= LINE:
        return flat
    pad, end = "  " * (depth + 1), "  " * depth
    if isinstance(value, dict):
        rows = [
            f"{json.dumps(key, ensure_ascii=False)}: {laid_out(item, depth + 1)}"
            for key, item in value.items()
        ]
        return "{\n" + ",\n".join(pad + row for row in rows) + f"\n{end}}}"
    return "[\n" + ",\n".join(pad + laid_out(item, depth + 1) for item in value) + f"\n{end}]"
