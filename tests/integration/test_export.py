"""``cropper export``: whole files, a true manifest, nobody's file overwritten."""

from __future__ import annotations

import csv
import errno
import hashlib
import json
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from PIL import Image

from cropper.deliverable.manifest import FIELDS
from cropper.job.approving import said
from cropper.job.plan import Word
from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, Run

SCHEMAS = Path(__file__).parents[2] / "cropper" / "schemas"
pytestmark = pytest.mark.usefixtures("looker")


def manifest(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return told


def stamps(folder: Path) -> dict[str, int]:
    return {one.name: one.stat().st_mtime_ns for one in folder.rglob("*") if one.is_file()}


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    """A planned job: one master for three destinations."""
    job = tmp_path / "job"
    words = ("--for", "square-post,tall-post,print-4x6", "--job", job)
    assert run("plan", draw("ilse.jpg"), *words).exit_code == 0
    return job


@pytest.fixture
def made(job: Path) -> Path:
    return job / "deliverables"


def test_the_manifest_tells_the_truth_of_every_file(run: Run, job: Path, made: Path) -> None:
    assert run("export", "--job", job).exit_code == 0

    told = manifest(made)
    schema = json.loads((SCHEMAS / "manifest.schema.json").read_text())
    jsonschema.Draft202012Validator(schema).validate(told)
    assert [one["destination"] for one in told["delivered"]] == [
        "square-post",
        "tall-post",
        "print-4x6",
    ]
    for one in told["delivered"]:
        data = (made / one["file"]).read_bytes()
        assert (hashlib.sha256(data).hexdigest(), len(data)) == (one["sha256"], one["bytes"])
        with Image.open(made / one["file"]) as picture:
            assert picture.size == (one["width"], one["height"])
        x0, y0, x1, y1 = one["crop"]
        assert 0 <= x0 < x1 <= 1600
        assert 0 <= y0 < y1 <= 2000


def test_an_independent_tool_gives_the_same_digest(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    for one in manifest(made)["delivered"]:
        said = subprocess.run(
            ["sha256sum", made / one["file"]], capture_output=True, text=True, check=True
        )
        assert said.stdout.split()[0] == one["sha256"]


def test_the_table_has_the_fields_of_the_manifest_and_a_row_per_file(
    run: Run, job: Path, made: Path
) -> None:
    run("export", "--job", job)
    with (made / "manifest.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == FIELDS
    assert [row["file"] for row in rows] == [one["file"] for one in manifest(made)["delivered"]]
    assert json.loads(rows[0]["crop"]) == manifest(made)["delivered"][0]["crop"]


def test_cells_that_a_spreadsheet_would_run_are_disarmed(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "odd"
    run("plan", draw("=cmd()+1.jpg"), "--for", "square-post", "--job", job)
    run("export", "--job", job)
    folder = job / "deliverables"
    for name in ("manifest.csv", "not_delivered.csv"):
        with (folder / name).open(newline="", encoding="utf-8") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert manifest(folder)["delivered"][0]["master"] == "=cmd()+1.jpg"


def test_exporting_again_writes_nothing(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    before = stamps(made)
    again = run("export", "--job", job)
    assert again.exit_code == 0
    assert stamps(made) == before


def test_only_the_file_whose_crop_changed_is_written_again(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    before = stamps(made)
    run("plan", "--job", job, "--crop", "square-post=10,10,1410,1410")

    run("export", "--job", job)

    after = stamps(made)
    changed = {name for name in after if after[name] != before.get(name)}
    assert {name for name in changed if name.endswith(".jpg")} == {"ilse_square-post_1080x1080.jpg"}
    told = {one["destination"]: one for one in manifest(made)["delivered"]}
    assert told["square-post"]["proposed_by"] == "photographer"
    assert told["square-post"]["crop"] == [10, 10, 1410, 1410]


def test_a_deleted_file_comes_back(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    gone = made / "ilse_square-post_1080x1080.jpg"
    first = gone.read_bytes()
    gone.unlink()
    run("export", "--job", job)
    assert gone.read_bytes() == first


def test_the_file_of_another_picture_is_never_overwritten(run: Run, job: Path, made: Path) -> None:
    made.mkdir()
    other = made / "ilse_square-post_1080x1080.jpg"
    other.write_bytes(b"somebody else's")

    for _ in range(2):
        assert run("export", "--job", job).exit_code == 0
        assert other.read_bytes() == b"somebody else's"
        names = {one["destination"]: one["file"] for one in manifest(made)["delivered"]}
        assert names["square-post"] == "ilse_square-post_1080x1080-2.jpg"


def test_a_file_that_somebody_retouched_is_left_as_it_is(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    retouched = made / "ilse_square-post_1080x1080.jpg"
    retouched.write_bytes(b"retouched by hand")

    result = run("export", "--job", job)

    assert result.exit_code == 6
    assert retouched.read_bytes() == b"retouched by hand"
    assert "Move it away" in result.stderr
    assert manifest(made)["not_delivered"][0]["destination"] == "square-post"


def test_masters_stay_as_they_are_to_the_byte(run: Run, job: Path) -> None:
    master = job.parent / "ilse.jpg"
    before = master.read_bytes(), master.stat().st_mtime_ns
    run("export", "--job", job)
    run("export", "--job", job, "--all", "--by-recipient")
    assert (master.read_bytes(), master.stat().st_mtime_ns) == before


def test_a_master_that_changed_since_planning_is_refused_with_the_way_out(
    run: Run, draw: Draw, job: Path, made: Path
) -> None:
    draw("ilse.jpg", 99)
    result = run("export", "--job", job)
    assert result.exit_code == 1
    assert "Plan it again" in result.stderr
    assert not list(made.glob("*.jpg"))
    assert all("changed" in one["reason"] for one in manifest(made)["not_delivered"])


def test_a_master_that_is_gone_does_not_stop_the_others(
    run: Run, draw: Draw, job: Path, made: Path
) -> None:
    run("plan", draw("two.jpg", 2), "--for", "square-post", "--job", job)
    (job.parent / "ilse.jpg").unlink()
    result = run("export", "--job", job)
    assert result.exit_code == 6
    assert [one["version"] for one in manifest(made)["delivered"]] == ["two"]


def test_a_run_killed_in_the_middle_resumes_and_loses_nothing(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cropper.deliverable import writing  # noqa: PLC0415

    whole, calls = writing.write_whole, []

    def killed(path: Path, data: bytes, **how: Any) -> None:
        calls.append(path)
        whole(path, data, **how)
        if len(calls) == 2:
            raise KeyboardInterrupt  # after the file appeared, before it was noted

    with monkeypatch.context() as patched:
        patched.setattr("cropper.job.making.write_whole", killed)
        result = run("export", "--job", job)
        assert result.exit_code != 0
    before = stamps(made)
    assert len([name for name in before if name.endswith(".jpg")]) == 2

    assert run("export", "--job", job).exit_code == 0

    after = stamps(made)
    assert all(after[name] == stamp for name, stamp in before.items())
    assert len(manifest(made)["delivered"]) == 3
    assert not [name for name in after if "-2" in name or "part" in name]


def test_a_full_disk_leaves_no_half_file_and_is_said(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> Path:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("cropper.deliverable.writing._written_aside", full)
        result = run("export", "--job", job)

    assert result.exit_code == 1
    assert "Make room on the disk" in result.stderr
    assert not list(made.glob("*"))
    assert run("export", "--job", job).exit_code == 0


def test_a_disk_that_fills_in_the_middle_keeps_what_was_written(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from cropper.deliverable import writing  # noqa: PLC0415

    aside, pictures = writing._written_aside, []

    def filling(path: Path, data: bytes) -> Path:
        if path.suffix == ".jpg":
            pictures.append(path)
            if len(pictures) > 1:
                raise OSError(errno.ENOSPC, "No space left on device")
        return aside(path, data)

    with monkeypatch.context() as patched:
        patched.setattr("cropper.deliverable.writing._written_aside", filling)
        result = run("export", "--job", job)

    assert result.exit_code == 6
    assert len(manifest(made)["delivered"]) == 1
    assert len(manifest(made)["not_delivered"]) == 2
    before = stamps(made)
    assert run("export", "--job", job).exit_code == 0
    assert len(manifest(made)["delivered"]) == 3
    first = pictures[0].name
    assert stamps(made)[first] == before[first]


def test_a_folder_that_may_not_be_written_to_is_said(
    run: Run, job: Path, made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> Path:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("cropper.deliverable.writing._written_aside", refused)
    result = run("export", "--job", job)
    assert result.exit_code == 1
    assert "Choose a folder that can be written to" in result.stderr
    assert not list(made.glob("*"))


def test_a_recipient_with_a_path_for_a_name_stays_in_the_folder(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job, presets = tmp_path / "sly", tmp_path / "presets"
    presets.mkdir()
    (presets / "sly.toml").write_text(
        '[sly]\ntitle = "Sly"\nsize_px = [200, 200]\nrecipient = "../../../outside"\n'
    )
    words = ("--for", "sly", "--presets", presets, "--job", job)
    assert run("plan", draw("ilse.jpg"), *words).exit_code == 0
    run("export", "--job", job, "--by-recipient")
    (row,) = manifest(job / "deliverables")["delivered"]
    assert row["file"].startswith("outside/")
    assert not list(tmp_path.parent.glob("outside*"))


def test_a_folder_that_cannot_be_made_is_said(run: Run, job: Path, tmp_path: Path) -> None:
    (tmp_path / "a-file").write_text("in the way")
    result = run("export", "--job", job, "--to", tmp_path / "a-file" / "below")
    assert result.exit_code == 1
    assert "Error: " in result.stderr or "Failed: " in result.stderr


def test_one_folder_for_each_recipient(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job, "--by-recipient")
    for one in manifest(made)["delivered"]:
        assert (made / one["file"]).parent.parent == made


def test_only_the_destinations_asked_for(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job, "--only", "tall-post")
    assert [one["destination"] for one in manifest(made)["delivered"]] == ["tall-post"]
    assert run("export", "--job", job, "--only", "the-moon").exit_code == 2


def test_of_a_set_the_assigned_versions_are_written_and_the_others_explained(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "set"
    one, two = draw("roll-neck.jpg", 1), draw("shawl.jpg", 2, (2000, 1600))
    words = ("--set", "wool", "--for", "square-post,tall-post", "--job", job)
    run("plan", one, two, *words)

    run("export", "--job", job, "--to", tmp_path / "assigned")
    told = manifest(tmp_path / "assigned")
    assert sorted(one["destination"] for one in told["delivered"]) == ["square-post", "tall-post"]
    assert {one["set"] for one in told["delivered"]} == {"wool"}
    assert len(told["not_delivered"]) == 2
    assert all("goes to" in one["reason"] for one in told["not_delivered"])

    run("export", "--job", job, "--to", tmp_path / "all", "--all")
    assert len(manifest(tmp_path / "all")["delivered"]) == 4


def test_what_has_no_crop_is_listed_with_its_reason(
    run: Run, draw: Draw, job: Path, made: Path
) -> None:
    run("plan", draw("small.jpg", 3, (200, 250)), "--for", "square-post", "--job", job)
    run("export", "--job", job)
    (missing,) = manifest(made)["not_delivered"]
    assert (missing["version"], missing["destination"]) == ("small", "square-post")
    assert "Far too few pixels" in missing["reason"]


def test_a_crop_in_which_nobody_was_found_is_written_and_asks_for_a_look(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "nobody"
    assert run("plan", draw("nobody.jpg", 3), "--for", "square-post", "--job", job).exit_code == 5
    told = run("export", "--job", job, "--to", tmp_path / "out")
    assert told.exit_code == 5
    assert "no face was found" in told.output
    assert len(manifest(tmp_path / "out")["delivered"]) == 1
    assert run("export", "--job", job, "--to", tmp_path / "out").exit_code == 5


@pytest.mark.parametrize("word", [Word.APPROVED, Word.HELD])
def test_once_that_crop_is_approved_the_export_asks_nothing(
    run: Run, draw: Draw, tmp_path: Path, word: Word
) -> None:
    job = tmp_path / "nobody"
    run("plan", draw("nobody.jpg", 3), "--for", "square-post", "--job", job)
    folder = JobFolder(job)
    with folder.held():
        plan = folder.must_read()
        master = plan.master("nobody")
        assert master is not None
        folder.write(plan.with_master(said(master, "square-post", word, "", datetime.now(UTC))))
    told = run("export", "--job", job)
    assert told.exit_code == (0 if word is Word.APPROVED else 5)
    assert ("no face was found" in told.output) is (word is Word.HELD)


def test_planning_and_exporting_in_one_run_asks_once(run: Run, draw: Draw, tmp_path: Path) -> None:
    job, nobody = tmp_path / "nobody", draw("nobody.jpg", 3)
    told = run("plan", nobody, "--for", "square-post", "--job", job, "--export")
    assert told.exit_code == 5
    assert told.stderr.count("no face was found") == 1


def test_a_lost_ledger_costs_no_second_copies(run: Run, job: Path, made: Path) -> None:
    run("export", "--job", job)
    before = {one.name for one in made.iterdir()}
    (job / "exported.json").unlink()
    run("export", "--job", job)
    assert {one.name for one in made.iterdir()} == before


def test_a_folder_without_a_plan_is_said(run: Run, tmp_path: Path) -> None:
    result = run("export", "--job", tmp_path)
    assert result.exit_code == 1
    assert "holds no plan" in result.stderr


def test_a_process_killed_outright_leaves_whole_files_and_the_next_run_finishes(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job = tmp_path / "killed"
    folder = job / "deliverables"
    run("plan", draw("large.jpg", 4, (2400, 3000)), "--for", "social,print", "--job", job)
    words = (sys.executable, "-c", "from cropper.cli.main import main; main()", "export")
    with subprocess.Popen([*words, "--job", job], stderr=subprocess.DEVNULL) as process:
        until = time.monotonic() + 60
        while not list(folder.glob("*.jpg")) and time.monotonic() < until:
            time.sleep(0.02)
        process.kill()
    before = {one.name: one.read_bytes() for one in folder.glob("[!.]*.jpg")}
    assert before
    for name in before:
        with Image.open(folder / name) as picture:
            picture.load()  # whole

    assert run("export", "--job", job).exit_code == 0

    names = {one["file"] for one in manifest(folder)["delivered"]}
    assert before.keys() <= names
    assert {name: (folder / name).read_bytes() for name in before} == before
    texts = {one["file"] for one in manifest(folder)["texts"]}
    assert {
        one.relative_to(folder).as_posix()
        for one in folder.rglob("[!.]*")
        if one.is_file() and not (one.parent == folder and one.suffix in {".csv", ".json"})
    } == names | texts
