"""JSON laid out for people: indented, but points, boxes and short lists stay on one line."""

from __future__ import annotations

import json
import math
from typing import Any, Final

LINE: Final = 96
"""A list or object that fits in this many characters stays on one line (house)."""


def laid_out(value: Any) -> str:
    """JSON text of plain values, ending with a line break.

    JSON has no infinity: it is written as the word ``"inf"``.

    >>> print(laid_out({"crop": [0, 0, 10, 20]}), end="")
    {"crop": [0, 0, 10, 20]}
    """
    return _rows(finite(value), 0) + "\n"


def laid_out_within(value: Any, depth: int) -> str:
    """The same for a value that stands ``depth`` steps inside another; without a line break."""
    return _rows(finite(value), depth)


def finite(value: Any) -> Any:
    """The same values with infinities as words."""
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    return value


def _rows(value: Any, depth: int) -> str:
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if not isinstance(value, dict | list) or not value or len(flat) + 2 * depth <= LINE:
        return flat
    pad, end = "  " * (depth + 1), "  " * depth
    if isinstance(value, dict):
        rows = [
            f"{json.dumps(key, ensure_ascii=False)}: {_rows(item, depth + 1)}"
            for key, item in value.items()
        ]
        return "{\n" + ",\n".join(pad + row for row in rows) + f"\n{end}}}"
    return "[\n" + ",\n".join(pad + _rows(item, depth + 1) for item in value) + f"\n{end}]"
