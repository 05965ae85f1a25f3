"""Small pictures of a set's versions: from the job's masters, else its deliverables, else none."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from cropper.account.report import Portrait
from cropper.errors import CropperError
from cropper.job.store import DELIVERABLES, JobFolder

LONG_PX: Final = 720
"""House value: sharp at 300 px on a dense screen, and at 60 mm on paper."""
QUALITY: Final = 84
"""House value: JPEG quality of a preview."""
PLACEHOLDER: Final = (4, 5)
"""Width and height of the empty frame that stands for a picture which is gone."""


def portraits(versions: Sequence[str], job: Path | None) -> tuple[Portrait, ...]:
    """One for each version, in order; a picture that cannot be opened leaves its frame empty."""
    return tuple(_portrait(version, mark, job) for mark, version in enumerate(versions))


def _portrait(version: str, mark: int, job: Path | None) -> Portrait:
    if job is None:
        return _empty(version, mark, "no job folder was named")
    why = "this job holds no such version"
    for path in _files(version, job):
        try:
            return _seen(path, version, mark)
        except (CropperError, OSError):
            # The file's own name: a report that is sent on does not tell how folders are laid out.
            why = f"{path.name} cannot be opened"
    return _empty(version, mark, why)


def _empty(version: str, mark: int, why: str) -> Portrait:
    wide, high = PLACEHOLDER
    return Portrait(
        version=version, mark=mark, jpeg=None, width=90 * wide, height=90 * high, why_not=why
    )


def _files(version: str, job: Path) -> Iterator[Path]:
    """Where the version may still lie: its master first, then its largest deliverable."""
    plan = JobFolder(job).read()
    if plan is not None:
        yield from (one.located(job) for one in plan.masters if one.version == version)
    delivered = [one for one in _delivered(job) if one.get("version") == version]
    delivered.sort(key=_pixels, reverse=True)
    yield from (job / DELIVERABLES / str(one["file"]) for one in delivered)


def _pixels(row: Mapping[str, Any]) -> int:
    return int(row.get("width", 0)) * int(row.get("height", 0))


def _delivered(job: Path) -> list[dict[str, Any]]:
    """The manifest's rows; none when there is no manifest that can be read."""
    try:
        told = json.loads((job / DELIVERABLES / "manifest.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    rows = told.get("delivered", []) if isinstance(told, dict) else []
    return [one for one in rows if isinstance(one, dict) and "file" in one]


def _seen(path: Path, version: str, mark: int) -> Portrait:
    from PIL import Image  # noqa: PLC0415 - brings the decoders

    from cropper.master.opening import open_master  # noqa: PLC0415 - as above

    picture = Image.fromarray(open_master(path).srgb8(LONG_PX))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Portrait(
        version=version,
        mark=mark,
        jpeg=out.getvalue(),
        width=picture.width,
        height=picture.height,
    )
