"""One recipient's files in one folder, with credits and terms; and who got what, asked later."""

from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.integration.conftest import Draw, DrawnLooker, Run


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker) -> Path:
    """An exported job with files for several recipients."""
    del looker
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "client,square-post", "--job", job)
    run("export", "--job", job, "--with-problems")
    return job


def rows(job: Path) -> list[dict[str, Any]]:
    told = json.loads((job / "deliverables/manifest.json").read_text())["delivered"]
    return [one for one in told if one["recipient"] == "model"]


def test_a_recipient_gets_all_of_hers_and_nothing_else(run: Run, job: Path) -> None:
    done = run("deliver", "--to", "model", "--job", job, "--zip")
    assert done.exit_code == 0, done.stderr
    (folder,) = (one for one in (job / "deliveries").iterdir() if one.is_dir())
    mine = {one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in folder.glob("*.jpg")}
    assert mine == {Path(one["file"]).name: one["sha256"] for one in rows(job)}
    said = (folder / "credits.txt").read_text()
    sheet = (folder / "contact.html").read_text()
    for name in mine:
        assert name in said
        assert name in sheet
    assert "http" not in sheet
    (packed,) = (job / "deliveries").glob("*.zip")
    with zipfile.ZipFile(packed) as archive:
        assert archive.testzip() is None
        assert {Path(one).name for one in archive.namelist()} == {
            *mine,
            "credits.txt",
            "contact.html",
        }


def test_who_got_which_file_is_one_question(run: Run, job: Path) -> None:
    assert "Nothing was delivered" in run("deliver", "--list", "--job", job).stdout
    run("deliver", "--to", "model", "--job", job)
    run("deliver", "--to", "model", "--job", job)
    told = json.loads(run("deliver", "--list", "--job", job, "--json").stdout)["deliveries"]
    assert len(told) == 2
    assert told[0]["folder"] != told[1]["folder"]
    assert {one["sha256"] for one in told[0]["files"]} == {one["sha256"] for one in rows(job)}
    said = run("deliver", "--list", "--to", "model", "--job", job).stdout
    assert rows(job)[0]["version"] in said
    assert (
        "Nothing was delivered" in run("deliver", "--list", "--to", "client", "--job", job).stdout
    )


def test_a_changed_file_does_not_leave(run: Run, job: Path) -> None:
    (job / "deliverables" / rows(job)[0]["file"]).write_bytes(b"retouched")
    said = run("deliver", "--to", "model", "--job", job)
    assert said.exit_code == 1
    assert "cropper verify" in said.stderr
    assert not (job / "deliveries").exists() or not list((job / "deliveries").rglob("*.jpg"))
    assert "Nothing was delivered" in run("deliver", "--list", "--job", job).stdout


def test_a_stranger_and_a_job_that_was_not_exported_are_sentences(
    run: Run, draw: Draw, job: Path, tmp_path: Path
) -> None:
    said = run("deliver", "--to", "the moon", "--job", job)
    assert said.exit_code == 2
    assert "model" in said.stderr
    run("plan", draw("wool.jpg"), "--for", "square-post", "--job", tmp_path / "new")
    fresh = run("deliver", "--to", "model", "--job", tmp_path / "new")
    assert fresh.exit_code == 1
    assert "cropper export" in fresh.stderr
    assert run("deliver", "--job", job).exit_code == 2
