"""A value as a row's ``body``, and back: plain JSON, checked on the way in."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from cropper.errors import RecordError

Value = TypeVar("Value")


def body_of(value: object) -> dict[str, Any]:
    """``value`` (a frozen dataclass) as JSON values."""
    told: dict[str, Any] = _adapter(type(value)).dump_python(value, mode="json")
    orderless = {key for key in told if isinstance(getattr(value, key), frozenset)}
    return {key: sorted(one) if key in orderless else one for key, one in told.items()}


def value_of(kind: type[Value], body: Any) -> Value:
    """The value of ``kind`` in ``body``; raises :class:`RecordError` when it is none."""
    try:
        value: Value = _adapter(kind).validate_python(body)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise RecordError(
            f"this is no {kind.__name__.lower()}: {place}: {first['msg'].lower()}",
            way_out="Mend it, or put a backup back",
        ) from error
    return value


_ADAPTERS: dict[type[Any], TypeAdapter[Any]] = {}
"""One for each kind of value, made when first needed."""


def _adapter(kind: type[Any]) -> TypeAdapter[Any]:
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    return _ADAPTERS[kind]
