"""The photographer's ``tags.toml`` from the disk: the job's own, else the user's, else none."""

from __future__ import annotations

import tomllib
from pathlib import Path

from cropper.disk import plain
from cropper.errors import PresetError
from cropper.job.putting import made_folder, reason, write_text
from cropper.publication.tags import STARTER, TAGS_FILE, TagList


def own_tags() -> Path:
    """Where tags for all jobs are kept, in the user's own data folder."""
    from platformdirs import user_data_path  # noqa: PLC0415 - only when looked for

    return user_data_path("cropper", appauthor=False) / TAGS_FILE


def find_tags(job: Path | None = None, given: Path | None = None) -> Path | None:
    """The file that counts: ``given``, the job's, or the user's; None when there is none."""
    if given is not None:
        return given
    usual = [*([job / TAGS_FILE] if job else []), own_tags()]
    return next((path for path in usual if path.is_file()), None)


def read_tags(path: Path) -> TagList:
    """The checked list; raises :class:`PresetError` for a file that does not say what it must."""
    try:
        parsed = tomllib.loads(plain(path).read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        raise PresetError(
            f"it cannot be read ({reason(error)})", way_out="Check the name", where=(str(path),)
        ) from error
    except (ValueError, RecursionError) as error:
        raise PresetError(
            f"this is not TOML: {error}", way_out="Mend the line", where=(str(path),)
        ) from error
    return TagList.from_mapping(parsed, file=str(path))


def starter(path: Path) -> bool:
    """Write a commented list to start from; False when a file stands there already."""
    if path.exists():
        return False
    made_folder(path.parent)
    write_text(path, STARTER)
    return True
