"""Deliverables are compared with their manifest byte for byte, and made whole again."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from cropper.batch.verifying import Fault, verify
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    job = tmp_path / "job"
    files = (draw("ilse.jpg"), draw("wool.jpg"))
    run("plan", *files, "--for", "square-post,tall-post", "--job", job)
    assert run("export", "--job", job).exit_code in {0, 5}
    assert len(pictures(job)) == 4
    return job


def pictures(job: Path) -> dict[str, str]:
    """Every deliverable and its digest, taken here and not from the manifest."""
    return {
        one.name: hashlib.sha256(one.read_bytes()).hexdigest()
        for one in (job / "deliverables").rglob("*.jpg")
    }


def test_all_is_well_and_masters_are_not_needed(run: Run, job: Path) -> None:
    for picture in job.parent.glob("*.jpg"):
        picture.unlink()
    told = run("verify", "--job", job)
    assert told.exit_code == 0
    assert "4 of 4 files are as they were delivered" in told.stdout


def test_one_bit_a_missing_file_a_stranger_and_half_a_file_are_named(run: Run, job: Path) -> None:
    folder = job / "deliverables"
    changed, missing, *_ = sorted(pictures(job))
    data = bytearray((folder / changed).read_bytes())
    data[len(data) // 2] ^= 1
    (folder / changed).write_bytes(data)
    (folder / missing).unlink()
    (folder / "mine.txt").write_text("a note")
    (folder / ".part-x").write_text("half")

    told = json.loads(run("verify", "--job", job, "--json").stdout)

    assert {(one["fault"], one["file"]) for one in told["found"]} == {
        ("changed", changed),
        ("missing", missing),
        ("not in the manifest", "mine.txt"),
        ("never finished", ".part-x"),
    }
    assert (told["listed"], told["sound"]) == (4, 2)
    assert run("verify", "--job", job).exit_code == 6


def test_repair_makes_the_very_files_again_and_throws_nothing_away(run: Run, job: Path) -> None:
    before = pictures(job)
    changed, missing, *_ = sorted(before)
    (job / "deliverables" / changed).write_bytes(b"somebody's own")
    (job / "deliverables" / missing).unlink()
    (job / "deliverables" / "mine.txt").write_text("a note")

    told = run("verify", "--job", job, "--repair")

    assert told.exit_code == 0, told.stderr
    assert pictures(job) == before
    (aside,) = (job / "set_aside").rglob("*.jpg")
    assert aside.name == changed
    assert aside.read_bytes() == b"somebody's own"
    assert (job / "deliverables" / "mine.txt").read_text() == "a note"


def test_a_manifest_that_points_outside_is_not_followed(job: Path) -> None:
    folder = job / "deliverables"
    told = json.loads((folder / "manifest.json").read_text())
    secret = job.parent / "secret.jpg"
    secret.write_bytes(b"secret")
    digest = hashlib.sha256(b"secret").hexdigest()
    names = ["../../secret.jpg", str(secret), "a/../../../secret.jpg", "link.jpg", "x\x00y", ""]
    (folder / "link.jpg").symlink_to(secret)
    told["delivered"] = [{"file": name, "sha256": digest} for name in names]
    (folder / "manifest.json").write_text(json.dumps(told))

    found = verify(folder).found

    outside = [one.file for one in found if one.fault is Fault.OUTSIDE]
    assert outside == names


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"delivered": [1]}', '{"delivered": [{}]}'])
def test_a_damaged_manifest_is_a_sentence(run: Run, job: Path, text: str) -> None:
    (job / "deliverables" / "manifest.json").write_text(text)
    told = run("verify", "--job", job)
    assert told.exit_code == 1
    assert "damaged" in told.stderr


def test_without_an_export_there_is_nothing_to_verify(run: Run, tmp_path: Path) -> None:
    told = run("verify", "--job", tmp_path)
    assert told.exit_code == 1
    assert "cropper export" in told.stderr


@pytest.mark.parametrize(
    "text",
    [
        '{"delivered": [], "bytes": ' + "9" * 6000 + "}",
        '{"delivered": [{"bytes": ' + "9" * 6000 + "}]}",
        "[" * 100_000,
        '{"delivered": ' + "[" * 100_000,
        '{"delivered": [' + '{"a":' * 100_000,
    ],
    ids=["number at the head", "number in a row", "brackets", "brackets in the list", "objects"],
)
def test_a_manifest_that_would_end_a_parser_is_a_sentence_too(
    run: Run, job: Path, text: str
) -> None:
    (job / "deliverables/manifest.json").write_text(text)
    verified = run("verify", "--job", job)
    assert verified.exit_code == 1
    assert "damaged" in verified.stderr
    taken = run("record", "job", job, "--record", job.parent / "record.sqlite")
    assert taken.exit_code == 1
    assert "Traceback" not in taken.stderr
    assert run("export", "--job", job).exit_code == 0
    assert run("verify", "--job", job).exit_code == 0


@pytest.mark.parametrize("text", ['{"format": ' + "9" * 6000 + "}", '{"folders": ' + "[" * 100_000])
def test_a_ledger_that_would_end_a_parser_is_a_sentence(run: Run, job: Path, text: str) -> None:
    (job / "exported.json").write_text(text)
    told = run("export", "--job", job)
    assert told.exit_code == 1
    assert "exported.json cannot be read (it is damaged)" in told.stderr
