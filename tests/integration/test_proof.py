"""`cropper proof` on a real job folder: sheets appear whole, and masters are never touched."""

from __future__ import annotations

import hashlib
import io
import json
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image
from PIL.PngImagePlugin import PngInfo
from pypdf import PdfReader

from cropper.cli.main import cropper
from cropper.destination.destination import Destination, ShapeRange
from cropper.errors import EXIT_CANNOT, EXIT_DONE, EXIT_MISUSED, EXIT_SOME_FAILED
from cropper.geometry import Crop, Extent, PixelBox, Point, Size
from cropper.job.plan import (
    Cell,
    Choice,
    ChoiceState,
    FailedMaster,
    Plan,
    PlannedMaster,
    PlannedSet,
)
from cropper.job.store import JobFolder
from cropper.proof import parting
from cropper.proposal.proposal import Answer, Proposal, Verdict
from cropper.subject.subject import Finding, Landmark, Subject

WHEN = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
SQUARE = Destination(
    name="square-post", title="Square post", shape=ShapeRange(Fraction(1), Fraction(1))
)


def a_person() -> Subject:
    return Subject(
        left_eye=Point(180, 150),
        right_eye=Point(220, 150),
        eye_sigma_px=1,
        chin=Landmark(Point(200, 230), 3),
        skull_top=Landmark(Point(200, 80), 4),
        hair_top=Landmark(Point(200, 70), 3),
        hairline=Landmark(Point(200, 100), 3),
        brows=Landmark(Point(200, 135), 2),
        crown_in_frame=True,
        head_box=Extent(140, 70, 260, 230),
    )


def a_proposal(box: PixelBox, kind: str) -> Proposal:
    return Proposal(
        destination=SQUARE.name,
        crop=Crop(box),
        kind=kind,
        shot="bust",
        orientation="upright",
        measures=(),
        cost=0.0,
        verdict=Verdict.HOLDS,
        reasons=(f"This is {kind}.",),
        delivered=Size(300, 300),
        enlargement=1.0,
        effective_ppi=None,
    )


def a_master_file(at: Path) -> str:
    """A real PNG with words in its metadata; its digest."""
    words = PngInfo()
    words.add_text("Serial", "secret-serial")
    picture = Image.linear_gradient("L").resize((400, 500)).convert("RGB")
    at.parent.mkdir(parents=True, exist_ok=True)
    picture.save(at, pnginfo=words)
    return hashlib.sha256(at.read_bytes()).hexdigest()


def planned(version: str, sha256: str, choice: Choice | None = None) -> PlannedMaster:
    first, second = (
        a_proposal(PixelBox(0, 0, 400, 400), "looser"),
        a_proposal(PixelBox(50, 50, 350, 350), "tighter"),
    )
    choice = choice or Choice(index=0, at=WHEN)
    return PlannedMaster(
        file=f"/a client's folder/{version}.png",
        path=f"../masters/{version}.png",
        sha256=sha256,
        width=400,
        height=500,
        version=version,
        finding=Finding(size=Size(400, 500), subjects=(a_person(),)),
        answers=(Answer(destination=SQUARE.name, proposals=(first, second)),),
        choices={SQUARE.name: choice},
        remarks=(f"A remark about {version}.",),
    )


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job of two rivals, one crop made by hand, and one file that could not be planned."""
    digests = {
        name: a_master_file(tmp_path / "masters" / f"{name}.png") for name in ("neck", "hood")
    }
    hand = Choice(
        hand=a_proposal(PixelBox(20, 20, 380, 380), "by eye"),
        chosen_by="photographer",
        state=ChoiceState.LOOK_AGAIN,
        at=WHEN,
    )
    cells = tuple(
        Cell(
            version=name,
            destination=SQUARE.name,
            verdict=Verdict.HOLDS,
            lost=0.2,
            spare_px=100,
            sentence=f"{name} suits.",
        )
        for name in digests
    )
    rivals = PlannedSet(
        name="winter",
        versions=("neck", "hood"),
        matrix=cells,
        best={SQUARE.name: "hood"},
        runner_up={SQUARE.name: "neck"},
        sentences=(f"{SQUARE.name}: hood. It wins by its headroom.", "Shoot one looser."),
        runner_up_costs="The other way round costs a little headroom.",
        assigned=True,
    )
    plan = Plan(
        program_version="0",
        made_at=WHEN,
        destinations=(SQUARE,),
        masters=(planned("neck", digests["neck"]), planned("hood", digests["hood"], hand)),
        sets=(rivals,),
        failed=(FailedMaster(file="torn.jpg", sentence="torn.jpg is cut short."),),
    )
    folder = tmp_path / "winter job"
    folder.mkdir()
    JobFolder(folder).write(plan)
    return folder


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cropper, ["proof", *map(str, words)])


def test_both_sheets_appear_in_the_job_folder_and_masters_stay_as_they_were(job: Path) -> None:
    masters = sorted((job.parent / "masters").iterdir())
    before = [one.read_bytes() for one in masters]
    result = run("--job", job)
    assert result.exit_code == EXIT_DONE, result.output
    page = (job / "proof.html").read_text("utf-8")
    assert "<h1>winter job</h1>" in page
    assert "planned 01 March 2026, 09:30 UTC" in page
    assert len(PdfReader(io.BytesIO((job / "proof.pdf").read_bytes())).pages) == 3
    assert [one.read_bytes() for one in masters] == before
    assert not [one for one in job.iterdir() if one.name.endswith(".part")]


def test_the_page_tells_what_the_plan_remembers(job: Path) -> None:
    run("--job", job, "--html")
    page = (job / "proof.html").read_text("utf-8")
    assert not (job / "proof.pdf").exists()
    for said in (
        "Chosen by hand (photographer)",
        "Look again: the master, its people or the destination changed",
        "torn.jpg is cut short.",
        "A remark about neck.",
        "✓ goes here",
        "runner-up",
        "The other way round costs a little headroom.",
        "It wins by its headroom.",
        "Shoot one looser.",
        "This is looser.",
        "This is by eye.",
    ):
        assert said in page
    assert "secret-serial" not in page
    assert "client&#39;s folder" not in page, "a sheet that is sent on tells no folders"


def test_a_script_is_told_the_files_and_what_is_not_shown(job: Path) -> None:
    (job.parent / "masters" / "neck.png").unlink()
    result = run("--job", job, "--html", "--json")
    assert result.exit_code == EXIT_SOME_FAILED
    told = json.loads(result.stdout)
    size = (job / "proof.html").stat().st_size
    assert told["files"] == [{"file": str(job / "proof.html"), "bytes": size}]
    assert len(told["not_shown"]) == 1
    assert "neck" in told["not_shown"][0]["file"]
    assert told["not_shown"][0]["sentence"]


def test_another_folder_and_only_the_pdf(job: Path, tmp_path: Path) -> None:
    to = tmp_path / "for the wall" / "today"
    result = run("--job", job, "--to", to, "--pdf")
    assert result.exit_code == EXIT_DONE, result.output
    assert [one.name for one in to.iterdir()] == ["proof.pdf"]
    assert str(to / "proof.pdf") in result.output


def test_one_version_alone(job: Path) -> None:
    assert run("--job", job, "--html", "--only", "neck").exit_code == EXIT_DONE
    page = (job / "proof.html").read_text("utf-8")
    assert "A remark about neck." in page
    assert "A remark about hood." not in page
    unknown = run("--job", job, "--only", "cape")
    assert unknown.exit_code == EXIT_MISUSED
    assert "neck, hood" in unknown.output


def test_the_same_plan_gives_the_same_sheets(job: Path) -> None:
    run("--job", job)
    first = [(job / name).read_bytes() for name in ("proof.html", "proof.pdf")]
    run("--job", job)
    assert [(job / name).read_bytes() for name in ("proof.html", "proof.pdf")] == first


def test_a_master_that_is_gone_is_named_and_the_other_is_shown(job: Path) -> None:
    (job.parent / "masters" / "hood.png").unlink()
    result = run("--job", job, "--html")
    assert result.exit_code == EXIT_SOME_FAILED
    assert "Not shown: hood.png" in result.output
    page = (job / "proof.html").read_text("utf-8")
    assert "A remark about neck." in page
    assert "there is no such file" in page


def test_a_master_that_changed_since_is_not_shown_with_its_old_crops(job: Path) -> None:
    picture = Image.new("RGB", (400, 500), "white")
    picture.save(job.parent / "masters" / "hood.png")
    result = run("--job", job, "--html")
    assert result.exit_code == EXIT_SOME_FAILED
    assert "has changed since it was planned" in result.output


def test_no_plan_is_a_sentence_with_the_way_out(tmp_path: Path) -> None:
    result = run("--job", tmp_path)
    assert result.exit_code == EXIT_CANNOT
    assert "cropper plan" in result.output
    assert "Traceback" not in result.output


def test_a_sheet_that_cannot_be_written_leaves_the_old_one(job: Path) -> None:
    run("--job", job, "--html")
    old = (job / "proof.html").read_bytes()
    blocked = job / "blocked"
    blocked.write_text("a file where a folder should be")
    result = run("--job", job, "--html", "--to", blocked / "inside")
    assert result.exit_code == EXIT_CANNOT
    assert "cannot be written" in result.output
    assert (job / "proof.html").read_bytes() == old


def test_a_larger_job_comes_in_parts_and_one_that_cannot_be_shown_stops_no_other(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parting, "ON_A_SHEET", 1)
    assert run("--job", job, "--html", "--only", "neck").exit_code == EXIT_DONE
    (job.parent / "masters" / "neck.png").unlink()

    result = run("--job", job, "--html")

    assert result.exit_code == EXIT_SOME_FAILED, result.output
    assert sorted(one.name for one in job.glob("proof*")) == ["proof-2.html", "proof.html"]
    page = (job / "proof-2.html").read_text("utf-8")
    assert "winter job, part 2 of 2" in page
    assert "Looking at hood (2 of 2)" in result.stderr
    assert "Not shown: part 1 of 2" in result.stderr
    assert f"left there: {job / 'proof.html'}" in result.stderr
