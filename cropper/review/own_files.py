"""The page's own files: styles, scripts and templates, which ride in the wheel."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import PurePosixPath
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined

TYPES: Final = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}


@cache
def static() -> dict[str, bytes]:
    """The page's own files, read once: what is not among them does not exist."""
    folder = files("cropper.review") / "static"
    return {
        one.name: one.read_bytes()
        for one in folder.iterdir()
        if PurePosixPath(one.name).suffix in TYPES
    }


@cache
def environment() -> Environment:
    """The templates, every value escaped; a name that nobody gave is an error."""
    return Environment(
        loader=PackageLoader("cropper.review", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
