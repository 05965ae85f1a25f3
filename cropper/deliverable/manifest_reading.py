"""A manifest read row by row, however long it is; nothing in it is trusted."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from cropper.deliverable.manifest import FORMAT, Delivered
from cropper.disk import plain
from cropper.errors import JobError
from cropper.json_bounds import Bounded


def rows_of(manifest: Path, part: str = "delivered") -> Iterator[dict[str, Any]]:
    """The rows of one of its lists (``delivered``, ``not_delivered``, ``texts``), as they stand.

    Raises OSError when it cannot be read, and ValueError, perhaps after some rows, where it is no
    JSON or no manifest.
    """
    import ijson  # noqa: PLC0415 - brings a compiled reader

    with plain(manifest).open("rb") as file:
        try:
            for row in ijson.items(Bounded(file), f"{part}.item", use_float=True):
                if not isinstance(row, dict):
                    raise ValueError(f"a row of {part} is none")  # noqa: TRY004 - bad content
                yield row
        except ijson.JSONError as error:
            raise ValueError(str(error)) from error


def head_of(manifest: Path, key: str) -> Any:
    """One of the values at a manifest's head, None where it has none. Raises as :func:`rows_of`."""
    import ijson  # noqa: PLC0415 - as above

    with plain(manifest).open("rb") as file:
        try:
            return next(ijson.items(Bounded(file), key, use_float=True), None)
        except ijson.JSONError as error:
            raise ValueError(str(error)) from error


def lists(manifest: Path, part: str) -> bool:
    """Whether it has this list at all. Raises as :func:`rows_of`."""
    import ijson  # noqa: PLC0415 - as above

    with plain(manifest).open("rb") as file:
        try:
            return any(
                (at, event) == (part, "start_array") for at, event, _ in ijson.parse(Bounded(file))
            )
        except ijson.JSONError as error:
            raise ValueError(str(error)) from error


@cache
def _rows() -> TypeAdapter[Delivered]:
    return TypeAdapter(Delivered)


def delivered_from(row: dict[str, Any]) -> Delivered:
    """A row of ``delivered`` as the value it was written from; raises ValueError where it is none.

    Rows of formats 1 and 2 get the defaults of what they do not have.
    """
    return _rows().validate_python(row)


def refuse_newer(manifest: Path) -> None:
    """Raise :class:`JobError` for a manifest whose format this program does not know.

    Raises as :func:`rows_of` where it cannot be read at all.
    """
    stated = head_of(manifest, "format")
    if isinstance(stated, int) and stated > FORMAT:
        raise JobError(
            f"{manifest} was made by a newer program (manifest format {stated}, this one knows "
            f"{FORMAT})",
            way_out="Update cropper, or export to another folder with --to",
        )
