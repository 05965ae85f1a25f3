"""A crop that reaches past its master, through every verb of the job."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageChops, ImageStat

from cropper._resources import shipped
from cropper.errors import EXIT_DONE, EXIT_MISUSED
from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, DrawnLooker, Run

BOX = (-600, 600, 3000, 1800)
"""3:1; the master is 2245 x 2806 px, so 600 px on the left and 755 on the right are filled."""
BORDER = 'finish = { quality = 90, border_colour = "#e8e2d9" }'
BACKDROP = "finish = { quality = 90, carry_on_backdrop = true }"
PRESET = """
[{name}]
title = "Header"
groups = ["web"]
size_px = [900, 300]
framing = ["close-up", "half length"]
{finish}
"""


@pytest.fixture
def job(tmp_path: Path, run: Run, looker: DrawnLooker) -> Path:
    """One master for two headers, each with the crop drawn past the sides."""
    assert looker.name
    own = tmp_path / "own"
    own.mkdir()
    made = (PRESET.format(name=name, finish=how) for name, how in FINISHES.items())
    (own / "own.toml").write_text("".join(made))
    master = tmp_path / "roll.jpg"
    master.write_bytes((shipped("demo_images") / "fernhollow_a_frontal.jpg").read_bytes())
    box = ",".join(str(edge) for edge in BOX)
    crops = [part for name in FINISHES for part in ("--crop", f"{name}={box}")]
    where = ["--job", str(tmp_path / "job"), "--presets", str(own)]
    done = run("plan", str(master), "--for", ",".join(FINISHES), *where, *crops)
    assert done.exit_code == EXIT_DONE, done.output
    return tmp_path / "job"


FINISHES = {"bordered": BORDER, "carried-on": BACKDROP}


def test_a_crop_drawn_past_the_master_is_measured_in_the_filled_frame(job: Path) -> None:
    (master,) = JobFolder(job).must_read().masters
    for name in FINISHES:
        chosen = master.chosen(name)
        assert chosen is not None
        inside = next(one for one in chosen.measures if one.rule == "inside")
        assert "600 px left and 755 px right" in inside.sentence
        assert inside.verdict == "holds"


def test_what_may_not_be_filled_is_refused_in_a_sentence(job: Path, run: Run) -> None:
    for box in ("-2400,600,600,1600", "-300,2000,2700,3000"):  # too little; below a person
        done = run("plan", "--job", str(job), "--crop", f"carried-on={box}")
        assert done.exit_code == EXIT_MISUSED
        assert "At least 33% each way must lie in the master, nothing below" in done.output


def test_files_proofs_and_sheets_are_made_and_the_regions_left_out(job: Path, run: Run) -> None:
    at = ("--job", str(job))
    for verb in (("proof",), ("export",), ("export", "--proofs-for", "all"), ("verify",)):
        done = run(*verb, *at)
        assert done.exit_code == EXIT_DONE, done.output
    rows = json.loads((job / "deliverables" / "manifest.json").read_text())["delivered"]
    assert [row["iiif_region"] for row in rows] == [None, None]
    bordered, carried_on = ("; ".join(row["notes"]) for row in rows)
    assert "was added, left 150, top 0, right 189, bottom 0 px" in bordered  # at a quarter
    assert "carried on by 150 px past the left edge" in carried_on
    assert len(list((job / "client_proofs").glob("*_PROOF.jpg"))) == len(FINISHES)
    page = (job / "proof.html").read_text()
    assert "600 px left and 755 px right" in page
    assert json.loads(run("regions", "--json", *at).stdout)


def test_a_recompressed_filled_file_is_known_by_what_was_photographed(
    job: Path, run: Run, tmp_path: Path
) -> None:
    assert run("export", "--job", str(job)).exit_code == EXIT_DONE
    for file in (job / "deliverables").glob("*.jpg"):
        with Image.open(file) as picture:
            picture.save(tmp_path / file.name, quality=70)
        done = run("identify", "--json", "--job", str(job), str(tmp_path / file.name))
        (found,) = json.loads(done.stdout)["files"]
        assert found["state"] == "sure"
        (match,) = found["matches"]
        assert {one["destination"] for one in match["destinations"]} == set(FINISHES)
        assert not any(one["cut_further"] for one in match["destinations"])


def test_the_whole_master_with_a_border_is_chosen_by_its_number_and_delivered(
    tmp_path: Path, run: Run, draw: Draw, looker: DrawnLooker
) -> None:
    """A lying master for an upright card, whose destination fills nothing by itself."""
    assert looker.name
    (tmp_path / "own.toml").write_text(CARD)
    source = draw("roll.jpg", size=(2400, 1200))
    job = tmp_path / "job"
    words = ("--for", "card", "--presets", tmp_path, "--job", job)
    assert run("plan", source, *words).exit_code == EXIT_DONE
    (master,) = JobFolder(job).must_read().masters
    answer = master.answer("card")
    assert answer is not None
    kinds = [one.kind for one in answer.proposals]
    number = kinds.index("the whole master with a border") + 1
    assert number > 1  # what nobody chose fills nothing

    assert run("plan", "--job", job, "--choose", f"card={number}").exit_code == EXIT_DONE
    assert run("plan", "--job", job).exit_code == EXIT_DONE  # again: it stays
    for verb in ("export", "verify", "proof"):
        done = run(verb, "--job", job)
        assert done.exit_code == EXIT_DONE, done.output
    (row,) = json.loads((job / "deliverables" / "manifest.json").read_text())["delivered"]
    said = "a border in #ffffff was added, left 0, top 300, right 0, bottom 300 px"
    assert said in "; ".join(row["notes"])
    with Image.open(job / "deliverables" / row["file"]) as picture, Image.open(source) as whole:
        assert picture.size == (600, 900)
        for box in ((0, 0, 600, 296), (0, 604, 600, 900)):
            assert np.asarray(picture.crop(box)).min() >= WHITE
        small = whole.resize((600, 300), Image.Resampling.BOX)
        stray = ImageChops.difference(picture.crop((0, 300, 600, 600)), small)
        assert max(ImageStat.Stat(stray).mean) < NEAR


CARD = """
[card]
title = "Card"
size_px = [600, 900]
"""
WHITE = 250
"""The least code that JPEG leaves of pure white a few pixels from the picture."""
NEAR = 4
"""Codes by which sharpening and JPEG stray from a plain reduction of a grainy picture, on average;
another part of this picture, or a stretched one, is further off."""
