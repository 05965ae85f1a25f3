"""A job's words in its files, its manifest and the texts beside the deliverables."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from lxml import html

from tests.integration.conftest import Draw, Run

SCHEMA = Path(__file__).parents[2] / "cropper" / "schemas" / "manifest.schema.json"
WORDS = """
caption = "Ilse Marrow in lambswool <grey>, copper light: ø 漢字"
alt_text = "A woman in a grey roll-neck looks to the left"

[[credit]]
role = "photographer"
name = "R. Quillfeather"

[[credit]]
role = "makeup"
name = "withheld"

[licence."*"]
terms = "Invented: for Fernhollow Mill, spring only"
"""
pytestmark = pytest.mark.usefixtures("looker")


def manifest(job: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((job / "deliverables" / "manifest.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(json.loads(SCHEMA.read_text())).validate(told)
    return told


def pictures(job: Path) -> dict[str, int]:
    return {one.name: one.stat().st_mtime_ns for one in (job / "deliverables").glob("*.jpg")}


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,link-preview", "--job", job)
    (job / "words.toml").write_text(WORDS, encoding="utf-8")
    return job


def test_words_stand_in_the_file_the_manifest_and_the_text_beside_it(run: Run, job: Path) -> None:
    result = run("export", "--job", job)
    assert result.exit_code == 0, result.stderr
    told = manifest(job)
    row = told["delivered"][0]
    path = job / "deliverables" / row["file"]
    words = ("exiftool", "-j", "-XMP-dc:Creator", "-XMP-xmpRights:UsageTerms", path)
    said = json.loads(subprocess.run(words, capture_output=True, check=True).stdout)[0]
    assert said["Creator"] in ("R. Quillfeather", ["R. Quillfeather"])
    assert said["UsageTerms"] == row["usage_terms"] == "Invented: for Fernhollow Mill, spring only"
    assert "R. Quillfeather" in row["credit_line"]
    assert any("withheld" in note for note in row["notes"])
    text = (job / "deliverables" / row["text"]).read_text("utf-8")
    assert "漢字" in text
    assert row["credit_line"] in text


def test_the_texts_are_listed_with_their_digests(run: Run, job: Path) -> None:
    run("export", "--job", job)
    for one in manifest(job)["texts"]:
        data = (job / "deliverables" / one["file"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == one["sha256"]


def test_a_page_destination_gets_a_snippet_that_an_html_parser_understands(
    run: Run, job: Path
) -> None:
    run("export", "--job", job)
    (page,) = (job / "deliverables" / "texts").glob("*.html")
    tree = html.fromstring(f"<html><body>{page.read_text('utf-8')}</body></html>")
    (image,) = tree.iter("img")
    assert image.get("alt") == "A woman in a grey roll-neck looks to the left"
    row = next(one for one in manifest(job)["delivered"] if one["destination"] == "link-preview")
    assert (image.get("src"), image.get("width")) == (row["file"], str(row["width"]))


def test_only_files_whose_words_changed_are_written_again(run: Run, job: Path) -> None:
    run("export", "--job", job)
    before = pictures(job)
    run("export", "--job", job)
    assert pictures(job) == before
    words = (job / "words.toml").read_text("utf-8")
    (job / "words.toml").write_text(words + '\n[version.stranger]\ncaption = "Nobody"\n', "utf-8")
    run("export", "--job", job)
    assert pictures(job) == before
    (job / "words.toml").write_text(words.replace("Quillfeather", "Quill-Feather"), "utf-8")
    run("export", "--job", job)
    after = pictures(job)
    assert all(after[name] > before[name] for name in before)


def test_texts_that_are_stale_go_and_texts_of_somebody_stay(run: Run, job: Path) -> None:
    run("export", "--job", job)
    texts = job / "deliverables" / "texts"
    (texts / "mine.txt").write_text("my own notes")
    (job / "words.toml").unlink()
    assert run("export", "--job", job).exit_code == 0
    assert [one.name for one in texts.glob("*.txt")] == ["mine.txt"]
    assert manifest(job)["delivered"][0]["text"] is None


def test_a_text_that_somebody_wrote_to_is_left_and_said(run: Run, job: Path) -> None:
    run("export", "--job", job)
    path = job / "deliverables" / manifest(job)["delivered"][0]["text"]
    path.write_text("changed by hand")
    words = (job / "words.toml").read_text("utf-8").replace("spring", "summer")
    (job / "words.toml").write_text(words.replace("copper", "late"), "utf-8")
    result = run("export", "--job", job)
    assert result.exit_code == 6
    assert path.read_text() == "changed by hand"
    assert "changed by somebody else" in result.stderr


def test_words_at_fault_stop_the_export_before_a_file_is_written(run: Run, job: Path) -> None:
    (job / "words.toml").write_text("caption = 7\n")
    assert run("export", "--job", job).exit_code == 3
    assert not (job / "deliverables").exists()


def test_a_caption_of_ten_thousand_letters_is_whole_in_the_manifest_s_text(
    run: Run, job: Path
) -> None:
    long = "Wool and copper light. " * 435
    (job / "words.toml").write_text(f'caption = "{long.strip()}"\n', "utf-8")
    assert run("export", "--job", job).exit_code == 0
    row = manifest(job)["delivered"][0]
    words = ("exiftool", "-j", "-XMP-dc:Description", job / "deliverables" / row["file"])
    said = json.loads(subprocess.run(words, capture_output=True, check=True).stdout)[0]
    assert said["Description"] == long.strip()


def test_a_text_outside_the_folder_is_never_taken_away(run: Run, job: Path) -> None:
    """A manifest that somebody forged must not make an export remove files elsewhere."""
    run("export", "--job", job)
    victim = job / "victim.txt"
    victim.write_text("not to be removed")
    path = job / "deliverables" / "manifest.json"
    told = json.loads(path.read_text("utf-8"))
    digest = hashlib.sha256(victim.read_bytes()).hexdigest()
    told["texts"].append({"file": "texts/../../victim.txt", "sha256": digest})
    told["texts"].append({"file": str(victim), "sha256": digest})
    path.write_text(json.dumps(told), "utf-8")
    run("export", "--job", job)
    assert victim.exists()
    shutil.rmtree(job / "deliverables")
