"""The photographer's ``outlets.toml`` from the disk, checked once."""

from __future__ import annotations

import tomllib
from pathlib import Path

from cropper.disk import short
from cropper.errors import MisuseError, PresetError
from cropper.job.putting import write_text
from cropper.job.store import OUTLETS, reason
from cropper.publication.outlets import STARTER, Outlets


def start_outlets(path: Path) -> bool:
    """Write a commented file of outlets to start from, unless ``path`` is there; whether it was."""
    if path.exists():
        return False
    if path.suffix != ".toml":
        raise MisuseError(
            f"there is no file {path}", way_out="A new one is written where its name ends in .toml"
        )
    write_text(path, STARTER)
    return True


def read_outlets(job: Path, given: Path | None = None) -> Outlets:
    """What ``given`` says, else the job's own file, else nothing: every destination for itself.

    Raises :class:`PresetError` for a file that cannot be read or does not say what it must.
    """
    path = given or job / OUTLETS
    if given is None and not path.is_file():
        return Outlets()
    try:
        parsed = tomllib.loads(short(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise PresetError(
            f"it cannot be read ({reason(error)})", way_out="Check the name", where=(str(path),)
        ) from error
    except (ValueError, RecursionError) as error:
        raise PresetError(
            f"this is not TOML: {error}",
            way_out="Mend the line; `cropper record outlets NEW.toml` writes one to start from",
            where=(str(path),),
        ) from error
    return Outlets.from_mapping(parsed, file=str(path))
