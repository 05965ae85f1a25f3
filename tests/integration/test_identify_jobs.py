"""The verb on real job folders: files told by their bytes and looks, folders of them, workers."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

from cropper.geometry import Crop, PixelBox
from cropper.job.fingerprints import Made
from cropper.job.identifying import identified
from cropper.job.known import known
from cropper.job.plan import Choice
from cropper.job.store import JobFolder
from tests.integration.conftest import Run

DEMO = Path(__file__).resolve().parents[2] / "demo_images"
SCHEMA = Path(__file__).resolve().parents[2] / "cropper" / "schemas" / "identify.schema.json"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with two small masters made from the demo, planned and exported."""
    from click.testing import CliRunner  # noqa: PLC0415

    from cropper.cli.main import cropper  # noqa: PLC0415

    folder = tmp_path_factory.mktemp("identify")
    for name in ("a_frontal", "i_shawl_rival"):
        with Image.open(DEMO / f"fernhollow_{name}.jpg") as picture:
            picture.thumbnail((1400, 1400))
            picture.save(folder / f"{name}.jpg", quality=95)
    words = [str(folder / "a_frontal.jpg"), str(folder / "i_shawl_rival.jpg")]
    asked = ["plan", *words, "--for", "square-post,full-frame-web", "--job", str(folder / "job")]
    assert CliRunner().invoke(cropper, asked).exit_code in {0, 5}
    exported = CliRunner().invoke(cropper, ["export", "--job", str(folder / "job")])
    assert exported.exit_code == 0
    return folder / "job"


def finished(job: Path, destination: str) -> Path:
    return next((job / "deliverables").glob(f"a_frontal_{destination}*.jpg"))


def test_the_verb_tells_exact_worn_and_foreign_files(job: Path, run: Run, tmp_path: Path) -> None:
    exact = tmp_path / "renamed.jpg"
    exact.write_bytes(finished(job, "square-post").read_bytes())
    worn = tmp_path / "worn.jpg"
    with Image.open(exact) as picture:
        picture.resize((420, 420)).save(worn, quality=50)
    alien = tmp_path / "alien.png"
    Image.new("RGB", (300, 300), "grey").save(alien)
    words = tmp_path / "words.jpg"
    words.write_text("no picture")
    result = run("identify", exact, worn, alien, words, "--job", job, "--json")
    assert result.exit_code == 6
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(result.stdout), schema)
    told = [one["state"] for one in json.loads(result.stdout)["files"]]
    assert told == ["exact", "sure", "unknown", None]
    matches = [one["matches"][0] for one in json.loads(result.stdout)["files"][:2]]
    assert {one["version"] for one in matches} == {"a_frontal"}
    assert {one["destinations"][0]["destination"] for one in matches} == {"square-post"}
    assert run("identify", exact, worn, "--job", job).exit_code == 0
    assert run("identify", alien, "--job", job).exit_code == 5
    assert run("identify", words, "--job", job).exit_code == 1


def test_an_empty_folder_and_a_file_that_is_not_there_are_told(
    job: Path, run: Run, tmp_path: Path
) -> None:
    result = run("identify", tmp_path, job / "nothing.jpg", "--job", job)
    assert result.exit_code == 1
    assert "no picture in this folder" in result.output
    assert "there is no such file" in result.output


def test_an_unknown_file_is_told_in_a_sentence(job: Path, run: Run) -> None:
    result = run("identify", DEMO / "fernhollow_f_tilted.jpg", "--job", job)
    assert result.exit_code == 5
    assert "unknown" in result.output


def test_a_job_without_a_plan_is_told(tmp_path: Path, run: Run) -> None:
    result = run("identify", "x.jpg", "--job", tmp_path)
    assert result.exit_code == 1
    assert "holds no plan" in result.output


def test_runs_of_the_finished_file_are_told(job: Path) -> None:
    pictures = known([job], print)
    told = identified(finished(job, "square-post"), pictures, lambda sha256: [f"runs {sha256[:4]}"])
    assert told.matches[0].runs == (f"runs {told.matches[0].cuts[0].of.sha256[:4]}",)


def test_a_master_that_has_gone_is_still_known(job: Path) -> None:
    quiet: list[str] = []
    known([job], quiet.append)
    master = next(iter(JobFolder(job).must_read().masters)).located(job)
    aside = master.with_suffix(".aside")
    master.rename(aside)
    (job / "fingerprints" / "shelf.npz").write_bytes(b"damaged")
    try:
        pictures = known([job], quiet.append)
    finally:
        aside.rename(master)
    assert quiet == []
    assert len(pictures.pictures.shelf.names) == 2


@pytest.fixture(scope="module")
def found(job: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of found files, one of them below: exact, worn, foreign, and no picture at all."""
    folder = tmp_path_factory.mktemp("found")
    square = finished(job, "square-post")
    (folder / "exact.jpg").write_bytes(square.read_bytes())
    (folder / "below").mkdir()
    with Image.open(square) as picture:
        picture.resize((420, 420)).save(folder / "below" / "worn.jpg", quality=50)
    Image.new("RGB", (300, 300), "grey").save(folder / "alien.png")
    (folder / "words.jpg").write_text("no picture")
    return folder


def test_processes_tell_what_one_process_tells(
    job: Path, found: Path, run: Run, tmp_path: Path
) -> None:
    told = []
    for number, crew in enumerate(((), ("--workers", 1), ("--workers", 2))):
        fresh = tmp_path / f"{number}" / "job"
        shutil.copytree(job, fresh, ignore=shutil.ignore_patterns("fingerprints"))
        shutil.copytree(job.parent, fresh.parent, ignore=ignored, dirs_exist_ok=True)
        result = run("identify", found, "--job", fresh, "--json", *crew)
        assert result.exit_code == 6
        told.append(result.stdout.replace(str(fresh), "job"))
        assert (fresh / "fingerprints" / "shelf.npz").exists()
    assert told[0] == told[1] == told[2]
    states = [one["state"] for one in json.loads(told[0])["files"]]
    assert states == ["unknown", "exact", None, "sure"]


def ignored(_: str, names: list[str]) -> set[str]:
    """All but the masters."""
    return {name for name in names if not name.endswith(".jpg")}


def test_events_tell_of_each_file_what_it_is(job: Path, found: Path, run: Run) -> None:
    result = run("identify", found / "below", found / "*.png", "--job", job, "--json-lines")
    assert result.exit_code == 5
    events = [json.loads(line) for line in result.stdout.splitlines()]
    through = [one for one in events if one["event"] == "through"]
    assert [(Path(one["what"]).name, one["state"]) for one in through][-2:] == [
        ("worn.jpg", "done"),
        ("alien.png", "waits for the eye"),
    ]
    assert through[-2]["sentence"] == "sure: a_frontal, square-post"


def test_workers_are_refused_where_nothing_can_be_written_down(
    job: Path, found: Path, run: Run, tmp_path: Path
) -> None:
    shutil.copytree(job, tmp_path / "job", ignore=shutil.ignore_patterns("fingerprints"))
    shutil.copytree(job.parent, tmp_path, ignore=ignored, dirs_exist_ok=True)
    (tmp_path / "job" / "fingerprints").write_text("a file stands in the folder's way")
    worn = found / "below"
    assert run("identify", worn, "--job", tmp_path / "job").exit_code == 0
    result = run("identify", worn, "--job", tmp_path / "job", "--workers", 1)
    assert result.exit_code == 1
    assert "without --workers" in result.output


def test_what_is_known_is_read_once_and_only_what_changed_is_made_anew(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(job, tmp_path / "job", ignore=shutil.ignore_patterns("fingerprints"))
    shutil.copytree(job.parent, tmp_path, ignore=ignored, dirs_exist_ok=True)
    made: list[str] = []

    def told(one: Made, of: int) -> None:
        made.append(f"{one.wanted.path.name} of {of}")

    first = known([tmp_path / "job"], print, told=told)
    assert made == ["a_frontal.jpg of 2", "i_shawl_rival.jpg of 2"]

    def opened_again(*_: object) -> None:
        raise AssertionError("a master's own file was read again")

    made.clear()
    with monkeypatch.context() as patched:
        patched.setattr("cropper.job.known.of_master", opened_again)
        again = known([tmp_path / "job"], print, told=told)
    assert made == []
    assert again.masters == first.masters
    assert again.pictures.shelf.names == first.pictures.shelf.names

    folder = JobFolder(tmp_path / "job")
    with folder.held():
        plan = folder.must_read()
        master = plan.masters[0]
        proposed = master.chosen("square-post")
        assert proposed is not None
        whole = replace(proposed, crop=Crop(PixelBox(20, 30, 520, 530)))
        choice = Choice(hand=whole, chosen_by="photographer", at=plan.made_at)
        folder.write(plan.with_master(master.with_choice("tall-post", choice)))
    known([tmp_path / "job"], print, told=told)
    assert made == ["a_frontal.jpg of 1"]
