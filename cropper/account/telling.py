"""A reading as lines and rows for a terminal, and as JSON for a script."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from enum import Enum
from typing import Any, Final

from cropper.account.report import Asked

HEADINGS: Final = ("where", "version", "counted", "value (interval)")


def table(one: Asked) -> tuple[Sequence[str], list[tuple[str, ...]]]:
    """Every figure of a reading, as it stands in the report's chart."""
    groups = one.chart.groups if one.chart else ()
    rows: list[tuple[str, ...]] = [
        (group.title, row.version, row.number, row.told) for group in groups for row in group.rows
    ]
    if any(group.title for group in groups):
        return HEADINGS, rows
    return HEADINGS[1:], [row[1:] for row in rows]


def lines(one: Asked) -> list[str]:
    """What is to be known beside the figures, a line each."""
    told = [f"  Careful: {said}" for said in one.reading.warnings]
    told += [f"  {said.sentence}" for said in one.seen]
    told += [f"  You may say: {said}" for said in one.reading.may]
    told += [f"  You may not say: {said}" for said in one.may_not]
    return told


def as_json_text(told: Sequence[Asked]) -> str:
    """All questions, every number unrounded; instants in ISO 8601, UTC."""
    return json.dumps({"questions": [_question(one) for one in told]}, ensure_ascii=False, indent=2)


def _question(one: Asked) -> dict[str, Any]:
    reading = one.reading
    question = plain(asdict(reading.question))
    return {
        "question": question,
        "call": reading.call.value,
        "sentence": reading.sentence,
        "ahead": reading.ahead,
        "answers": reading.answers,
        "looks": reading.looks,
        "figures": [plain(asdict(figure)) for figure in reading.figures],
        "comparisons": [plain(asdict(pair)) for pair in reading.comparisons],
        "may": list(reading.may),
        "may_not": list(reading.may_not),
        "warnings": list(reading.warnings),
        "seen": [
            {
                "version": told.version,
                "remarks": told.remarks,
                "meant": list(told.meant),
                "sight": told.sight.value,
                "sentence": told.sentence,
                "tags": {tag: plain(asdict(share)) for tag, share in told.shares},
            }
            for told in one.seen
        ],
    }


def plain(value: Any) -> Any:
    """Plain JSON values; a number without end is null, for JSON knows none."""
    if isinstance(value, Mapping):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and value == float("inf"):
        return None
    return value
