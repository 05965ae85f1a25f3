"""A long JSON object read value by value, so that its length costs no memory."""

from __future__ import annotations

from collections.abc import Iterator
from typing import IO, Any

from cropper.json_bounds import Bounded


def leaves(file: IO[bytes], *, deep: int) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every value that stands ``deep`` keys down, or ends before, with the keys that lead to it.

    Raises :class:`ValueError`, perhaps after some of them, where it is no JSON.
    """
    import ijson  # noqa: PLC0415 - brings a compiled reader

    keys: list[str] = []
    built, inside = ijson.ObjectBuilder(), 0
    try:
        for event, value in ijson.basic_parse(Bounded(file), use_float=True):
            begins, ends = event.startswith("start"), event.startswith("end")
            if inside:
                built.event(event, value)
                inside += begins - ends
                if not inside:
                    yield tuple(keys), built.value
            elif event == "map_key":
                keys[-1] = value
            elif event == "start_map" and len(keys) < deep:
                keys.append("")
            elif event == "end_map":
                keys.pop()
            elif begins:
                built, inside = ijson.ObjectBuilder(), 1
                built.event(event, value)
            else:
                yield tuple(keys), value
    except ijson.JSONError as error:
        raise ValueError(str(error)) from error
