"""The manifest of an export, beside its files; rewritten only when something in it changed."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from cropper import __version__
from cropper.deliverable.manifest import MANIFEST, Manifest
from cropper.deliverable.writing import write_whole
from cropper.job.exporting import Exported, Spread, Wish, export_job, in_turn
from cropper.job.store import JobFolder

JSON_FILE: Final = MANIFEST
CSV_FILE: Final = "manifest.csv"
NOT_DELIVERED_FILE: Final = "not_delivered.csv"


def manifest_of(exported: Exported, now: datetime) -> Manifest:
    """The manifest of what was just exported."""
    return Manifest(
        made_by=f"cropper {__version__}",
        made_at=now.isoformat(timespec="seconds"),
        delivered=exported.delivered,
        not_delivered=exported.not_delivered,
        texts=exported.texts,
    )


def put_manifest(folder: Path, manifest: Manifest) -> tuple[Path, ...]:
    """Write the manifest's three files into ``folder``, each whole or not at all."""
    paths = tuple(folder / name for name in (JSON_FILE, CSV_FILE, NOT_DELIVERED_FILE))
    texts = (manifest.json_text(), manifest.csv_text(), manifest.not_delivered_csv_text())
    if not (_same(paths[0], manifest.mapping()) and all(path.exists() for path in paths)):
        for path, text in zip(paths, texts, strict=True):
            write_whole(path, text.encode(), replace=True)
    return paths


def _same(path: Path, mapping: dict[str, Any]) -> bool:
    """Whether the file says the same, the time it was made aside."""
    try:
        before = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    if not isinstance(before, dict):
        return False
    plain = json.loads(json.dumps(mapping))
    return {**before, "made_at": ""} == {**plain, "made_at": ""}


def run_export(
    job: Path,
    wish: Wish,
    *,
    now: datetime,
    progress: Callable[[int, int, str], None] | None = None,
    spread: Spread = in_turn,
) -> tuple[Exported, Manifest]:
    """Export the job in the folder ``job`` and write the manifest; held by this run alone."""
    folder = JobFolder(job)
    folder.must_read()
    with folder.held():
        exported = export_job(job, folder.must_read(), wish, progress, spread=spread)
        manifest = manifest_of(exported, now)
        put_manifest(wish.folder, manifest)
    return exported, manifest
