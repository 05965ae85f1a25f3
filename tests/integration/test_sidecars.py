"""Sidecars of real jobs, read by an independent program, and crops taken from them again."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from tests.integration.conftest import Draw, Run

CORNERS = [(-500, -625), (500, -625), (500, 625), (-500, 625)]
pytestmark = pytest.mark.usefixtures("looker")


def planned(job: Path, destination: str, version: str = "ilse") -> dict[str, Any]:
    from cropper.job.store import JobFolder  # noqa: PLC0415

    master = JobFolder(job).must_read().master(version)
    assert master is not None
    chosen = master.chosen(destination)
    assert chosen is not None
    box = chosen.crop.box
    return {
        "box": (box.x0, box.y0, box.x1, box.y1),
        "turned": chosen.crop.straighten_deg,
        "by": chosen.proposed_by,
    }


def regions(path: Path) -> list[dict[str, Any]]:
    words = ("exiftool", "-j", "-struct", "-XMP-iptcExt:ImageRegion", path)
    said = subprocess.run(words, capture_output=True, text=True, check=True)
    found: list[dict[str, Any]] = json.loads(said.stdout)[0]["ImageRegion"]
    return found


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,tall-post", "--job", job)
    return job


def test_every_master_gets_a_sidecar_in_the_job_and_none_beside_it(run: Run, job: Path) -> None:
    assert run("export", "--job", job).exit_code == 0
    found = regions(job / "sidecars" / "ilse.xmp")
    assert [one["RId"] for one in found] == ["crop-square-post", "crop-tall-post"]
    x0, y0, x1, y1 = planned(job, "square-post")["box"]
    edge = found[0]["RegionBoundary"]
    told = [edge["RbX"] * 1600, edge["RbY"] * 2000, edge["RbW"] * 1600, edge["RbH"] * 2000]
    assert told == pytest.approx([x0, y0, x1 - x0, y1 - y0], abs=0.001)
    assert not list(job.parent.glob("*.xmp"))


def test_a_sidecar_that_is_right_is_not_written_again(run: Run, job: Path) -> None:
    run("export", "--job", job)
    path = job / "sidecars" / "ilse.xmp"
    before = path.stat().st_mtime_ns
    run("export", "--job", job)
    assert path.stat().st_mtime_ns == before


def test_beside_a_master_somebody_else_s_sidecar_is_left_alone(run: Run, job: Path) -> None:
    other = job.parent / "ilse.xmp"
    other.write_text("<x:xmpmeta xmlns:x='adobe:ns:meta/'/>")
    result = run("export", "--job", job, "--sidecars-beside-masters")
    assert result.exit_code == 6
    assert "somebody else" in result.stderr
    assert other.read_text() == "<x:xmpmeta xmlns:x='adobe:ns:meta/'/>"
    other.unlink()
    assert run("export", "--job", job, "--sidecars-beside-masters").exit_code == 0
    assert len(regions(other)) == 2


def test_a_sidecar_that_exiftool_wrote_to_is_never_replaced(run: Run, job: Path) -> None:
    run("export", "--job", job)
    path = job / "sidecars" / "ilse.xmp"
    words = ("exiftool", "-q", "-overwrite_original", "-XMP-dc:Title=Ilse in wool", path)
    subprocess.run(words, check=True)
    theirs = path.read_bytes()
    run("plan", "--job", job, "--crop", "square-post=10,10,1410,1410")
    assert run("export", "--job", job).exit_code == 6
    assert path.read_bytes() == theirs


def test_crops_come_back_from_a_sidecar_as_the_photographer_s_own(
    run: Run, job: Path, tmp_path: Path
) -> None:
    run("plan", "--job", job, "--crop", "square-post=10,20,1410,1420")
    run("export", "--job", job)
    shutil.copy(job / "sidecars" / "ilse.xmp", tmp_path / "kept.xmp")
    run("plan", "--job", job, "--crop", "square-post=0,0,700,700")

    assert run("regions", "--job", job, "--read", tmp_path / "kept.xmp").exit_code == 0

    told = planned(job, "square-post")
    assert (told["box"], told["by"]) == ((10, 20, 1410, 1420), "photographer")


def test_crops_are_taken_from_the_xmp_in_a_picture(run: Run, job: Path, tmp_path: Path) -> None:
    marked = tmp_path / "marked.jpg"
    shutil.copy(job.parent / "ilse.jpg", marked)
    boundary = "{RbShape=rectangle,RbUnit=pixel,RbX=100,RbY=200,RbW=1200,RbH=1500}"
    role = "{Identifier=http://cv.iptc.org/newscodes/imageregionrole/portraitCropping}"
    words = f"-XMP-iptcExt:ImageRegion={{RegionBoundary={boundary},RRole=[{role}]}}"
    subprocess.run(["exiftool", "-q", "-overwrite_original", words, marked], check=True)

    result = run("regions", "--job", job, "--read", marked, "--json")

    assert result.exit_code == 0
    assert planned(job, "tall-post")["box"] == (100, 200, 1300, 1700)
    assert planned(job, "square-post")["by"] == "cropper"


@pytest.mark.parametrize(
    "content",
    [b"", b"no xmp", b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', b"<a/>"],
)
def test_what_holds_no_region_changes_nothing_and_is_said(
    run: Run, job: Path, tmp_path: Path, content: bytes
) -> None:
    before = (job / "plan.json").read_bytes()
    (tmp_path / "odd.xmp").write_bytes(content)
    result = run("regions", "--job", job, "--read", tmp_path / "odd.xmp")
    assert result.exit_code == 1
    assert result.stderr
    assert (job / "plan.json").read_bytes() == before


def test_the_regions_of_a_job_are_listed(run: Run, job: Path) -> None:
    told = json.loads(run("regions", "--job", job, "--json").stdout)["regions"]
    assert [(one["version"], one["name"]) for one in told] == [
        ("ilse", "square-post"),
        ("ilse", "tall-post"),
    ]
    assert "tall-post" in run("regions", "--job", job).stdout
    assert run("regions", "--job", job, "--only", "the-moon").exit_code == 2


def test_a_sidecar_of_a_version_that_is_gone_is_taken_away(run: Run, job: Path) -> None:
    run("export", "--job", job)
    shutil.copy(job / "sidecars" / "ilse.xmp", job / "sidecars" / "gone.xmp")
    (job / "sidecars" / "notes.xmp").write_text("somebody's own")
    run("export", "--job", job)
    assert sorted(one.name for one in (job / "sidecars").iterdir()) == ["ilse.xmp", "notes.xmp"]


def test_a_straightened_crop_goes_through_sidecar_and_manifest(
    run: Run, job: Path, tmp_path: Path
) -> None:
    """A polygon of an independent writer: a box of 1000 x 1250 px turned by 3 degrees."""
    schema = Path(__file__).parents[2] / "cropper" / "schemas" / "manifest.schema.json"
    turn = complex(0.9986295347545738, 0.0523359562429438)  # cos, sin of 3 degrees (tables)
    points = [complex(800, 1000) + turn * complex(x, y) for x, y in CORNERS]
    vertices = ",".join(f"{{RbX={one.real / 1600},RbY={one.imag / 2000}}}" for one in points)
    boundary = f"{{RbShape=polygon,RbUnit=relative,RbVertices=[{vertices}]}}"
    role = "{Identifier=http://cv.iptc.org/newscodes/imageregionrole/cropping}"
    words = f"-XMP-iptcExt:ImageRegion={{RegionBoundary={boundary},RRole=[{role}]}}"
    subprocess.run(["exiftool", "-q", words, tmp_path / "theirs.xmp"], check=True)

    read = ("--read", tmp_path / "theirs.xmp", "--only", "tall-post")
    assert run("regions", "--job", job, *read).exit_code == 0
    assert planned(job, "tall-post")["turned"] == pytest.approx(3, abs=1e-3)
    run("export", "--job", job)

    told = json.loads((job / "deliverables" / "manifest.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(json.loads(schema.read_text())).validate(told)
    assert [one["reason"] for one in told["not_delivered"]] == []
    row = next(one for one in told["delivered"] if one["destination"] == "tall-post")
    assert (row["media_fragment"], row["iiif_region"], row["iiif_request"]) == (None, None, None)
    assert "polygon" in row["region_left_out"]
    turned = next(
        one for one in regions(job / "sidecars" / "ilse.xmp") if one["RId"] == "crop-tall-post"
    )
    found = [
        complex(one["RbX"] * 1600, one["RbY"] * 2000)
        for one in turned["RegionBoundary"]["RbVertices"]
    ]
    assert all(abs(one - other) < 0.05 for one, other in zip(found, points, strict=True))
