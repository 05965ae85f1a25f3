"""Small pictures of a set's versions: from the job's masters, else its deliverables, else none."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from cropper.account.report import Portrait
from cropper.deliverable.manifest import MANIFEST
from cropper.deliverable.manifest_reading import rows_of
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
    master = plan.master(version) if plan is not None else None
    if master is not None:
        yield master.located(job)
    delivered = sorted(_delivered(job, version), key=_pixels, reverse=True)
    folder = (job / DELIVERABLES).resolve()
    files = (folder / str(one["file"]).replace("\0", "") for one in delivered)
    yield from (one for one in files if one.resolve().is_relative_to(folder))


def _pixels(row: Mapping[str, Any]) -> int:
    return int(row.get("width", 0)) * int(row.get("height", 0))


def _delivered(job: Path, version: str) -> list[dict[str, Any]]:
    """The manifest's rows of a version; none when there is no manifest that can be read."""
    try:
        rows = rows_of(job / DELIVERABLES / MANIFEST)
        return [one for one in rows if one.get("version") == version and "file" in one]
    except (OSError, ValueError):
        return []


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
