"""One call per reader: broken bytes go in, and a value or a CropperError must come out.

Runs in a child process. Pictures that open are also read to the last pixel and finished, so that
nothing hides behind a lazy decoder; one that was cut short must never pass for whole.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from tests.fuzz import job_targets

Target = Callable[[Path, bytes], None]


def picture(folder: Path, data: bytes, name: str = "broken.jpg") -> None:
    from cropper.master.opening import open_master  # noqa: PLC0415 - only in the child

    file = folder / name
    file.write_bytes(data)
    master = open_master(file)
    pixels = master.srgb8(64)
    if pixels.size == 0:
        message = "an empty picture was taken for one"
        raise AssertionError(message)


def preset(folder: Path, data: bytes) -> None:
    from cropper.destination.presets import load_presets  # noqa: PLC0415

    own = folder / "presets"
    own.mkdir(exist_ok=True)
    (own / "broken.toml").write_bytes(data)
    load_presets(folders=(own,))


def plan(folder: Path, data: bytes) -> None:
    del folder
    from cropper.job import codec  # noqa: PLC0415

    text = data.decode("utf-8", "replace")
    if '"place"' in text:
        codec.master_from(data)
    else:
        codec.from_text(text)


def words(folder: Path, data: bytes) -> None:
    from cropper.job.wording import words_for  # noqa: PLC0415
    from cropper.job.wording_reading import read_words  # noqa: PLC0415

    (folder / "words.toml").write_bytes(data)
    words_for(read_words(folder), version="roll", destination="page-header", recipient="model")


def outlets(folder: Path, data: bytes) -> None:
    from cropper.job.outlets import read_outlets  # noqa: PLC0415

    (folder / "outlets.toml").write_bytes(data)
    read_outlets(folder)


def tags(folder: Path, data: bytes) -> None:
    from cropper.account.tag_lists import read_tags  # noqa: PLC0415

    (folder / "tags.toml").write_bytes(data)
    read_tags(folder / "tags.toml")


def runs(folder: Path, data: bytes) -> None:
    _loaded(folder, data, "broken.csv")


def record(folder: Path, data: bytes) -> None:
    _loaded(folder, data, "broken.backup" if data.startswith(b'{"what"') else "broken.json")


def policy(folder: Path, data: bytes) -> None:
    _loaded(folder, data, "broken.jsonld")


def _loaded(folder: Path, data: bytes, name: str) -> None:
    from cropper.record import Stamp, open_record  # noqa: PLC0415
    from cropper.record.filing import load_from  # noqa: PLC0415

    (folder / name).write_bytes(data)
    empty, place = folder / "empty.sqlite", folder / "record.sqlite"
    if not empty.exists():
        open_record(str(empty)).close()
    shutil.copyfile(empty, place)  # making the tables takes longer than all else
    with open_record(str(place)) as kept:
        load_from(kept, folder / name, Stamp(at=datetime(2026, 3, 1, tzinfo=UTC)))
        kept.facts()


def remarks(folder: Path, data: bytes) -> None:
    from cropper.account.remarks import Source, Taking  # noqa: PLC0415
    from cropper.account.remarks import remarks as read  # noqa: PLC0415
    from cropper.publication.responses import Design, Question  # noqa: PLC0415

    file = folder / "remarks.csv"
    file.write_bytes(data)
    asked = Question(
        name="which",
        set="shawl",
        versions=("roll", "hood"),
        design=Design.ONE_POLL,
        declared_at=datetime(2026, 1, 1, tzinfo=UTC),
    )
    for _ in read(Source(path=file, question=asked, outlet="my-pages"), Taking()):
        pass


def sidecar(folder: Path, data: bytes) -> None:
    del folder
    from cropper.deliverable.region_reading import regions_from_xmp  # noqa: PLC0415

    regions_from_xmp(data)


TARGETS: Mapping[str, Target] = {
    "picture": picture,
    "preset": preset,
    "plan": plan,
    "words": words,
    "outlets": outlets,
    "tags": tags,
    "runs": runs,
    "remarks": remarks,
    "record": record,
    "policy": policy,
    "sidecar": sidecar,
    **job_targets.TARGETS,
}
