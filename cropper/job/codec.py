"""Plan <-> JSON, exactly: every number comes back as it was, fractions as ``"4/5"``.

Untrusted JSON becomes a :class:`Plan` here, once, and is never a dict again.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any, Final, cast

from pydantic import TypeAdapter, ValidationError

from cropper._layout import finite, laid_out
from cropper.errors import JobError
from cropper.job.plan import FORMAT, Plan

RESTORE: Final = "Restore plan.json from a copy, or plan into a fresh job folder"


@cache
def _adapter() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


def to_mapping(plan: Plan) -> dict[str, Any]:
    """The plan as plain JSON values."""
    return cast("dict[str, Any]", finite(_adapter().dump_python(plan, mode="json")))


def from_mapping(mapping: object) -> Plan:
    """A plan from JSON values; raises :class:`JobError` naming the first value that is wrong."""
    _refuse_foreign(mapping)
    try:
        return _adapter().validate_python(mapping)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])
        said = first["msg"][:1].lower() + first["msg"][1:]
        raise JobError(
            f"{place or 'the plan'} is not as a plan needs it: {said}", way_out=RESTORE
        ) from error


def to_text(plan: Plan) -> str:
    """The plan as people read it: indented, but points, boxes and short lists on one line."""
    return laid_out(to_mapping(plan))


def from_text(text: str) -> Plan:
    """A plan from its text; raises :class:`JobError` where it is not one."""
    try:
        mapping = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise JobError(f"this is not JSON ({error})", way_out=RESTORE) from error
    return from_mapping(mapping)


def _refuse_foreign(mapping: object) -> None:
    """Only a plan of a format that this program knows may pass."""
    stated = mapping.get("format") if isinstance(mapping, dict) else None
    if not isinstance(stated, int) or isinstance(stated, bool):
        raise JobError(
            "this is not the plan of a job: it names no format",
            way_out="Point --job at a folder made by `cropper plan`",
        )
    if stated > FORMAT:
        raise JobError(
            f"this job was made by a newer program (plan format {stated}, this one knows {FORMAT})",
            way_out="Update cropper, or plan into a fresh job folder",
        )


def plan_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of plan.json; shipped as ``schemas/plan.schema.json``."""
    schema = _adapter().json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"A job's plan, format {FORMAT}",
        **{key: value for key, value in schema.items() if key != "title"},
    }


if __name__ == "__main__":
    print(json.dumps(plan_schema(), indent=1, ensure_ascii=False))  # noqa: T201 - renews the file
