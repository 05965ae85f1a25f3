"""Marked proofs: seen, never over the eyes, and never among the deliverables."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from cropper.deliverable.proof_mark import (
    Clear,
    marked,
    on_proof,
    place_for,
    places_on_faces,
    round_eyes,
)
from cropper.geometry import Crop, Extent, PixelBox, Point, Size
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,story", "--job", job)
    return job


def test_proofs_are_small_marked_and_no_deliverables(run: Run, job: Path) -> None:
    result = run("export", "--job", job, "--proofs-for", "all", "--json")
    assert result.exit_code == 0, result.stderr
    assert not (job / "deliverables").exists()
    assert not (job / "exported.json").exists()
    rows = json.loads(result.stdout)["proofs"]
    assert [one["destination"] for one in rows] == ["square-post", "story"]
    for one in rows:
        path = Path(one["file"])
        assert path.is_relative_to(job / "client_proofs")
        assert path.stem.endswith("_PROOF")
        with Image.open(path) as picture:
            assert max(picture.size) <= 1600
        words = ("exiftool", "-j", "-XMP-xmpRights:UsageTerms", path)
        said = json.loads(subprocess.run(words, capture_output=True, check=True).stdout)[0]
        assert said["UsageTerms"] == "proof, not for publication"


def test_the_words_are_the_photographer_s_to_choose(run: Run, job: Path) -> None:
    words = ("--proofs-for", "all", "--proof-words", "Fernhollow Mill, first look")
    assert run("export", "--job", job, *words).exit_code == 0
    (path, *_) = sorted((job / "client_proofs").rglob("*.jpg"))
    assert b"Fernhollow Mill, first look" in path.read_bytes()


@pytest.mark.parametrize("words", ["", "x" * 81, "\x00"])
def test_words_that_cannot_stand_are_refused(run: Run, job: Path, words: str) -> None:
    said = run("export", "--job", job, "--proofs-for", "all", "--proof-words", words)
    assert said.exit_code == 2


def test_a_recipient_nobody_knows_is_refused(run: Run, job: Path) -> None:
    result = run("export", "--job", job, "--proofs-for", "../../etc")
    assert result.exit_code == 2
    assert not (job / "client_proofs").exists()


def test_somebody_s_own_file_is_left_alone(run: Run, job: Path) -> None:
    run("export", "--job", job, "--proofs-for", "all")
    path = next((job / "client_proofs").rglob("*square*"))
    path.write_bytes(b"my own")
    assert run("export", "--job", job, "--proofs-for", "all").exit_code == 6
    assert path.read_bytes() == b"my own"


@settings(max_examples=25)
@given(
    st.integers(200, 700),
    st.integers(200, 700),
    st.floats(0.1, 0.9),
    st.floats(0.1, 0.9),
    st.floats(0.02, 0.3),
)
def test_no_pixel_within_reach_of_an_eye_is_changed(
    wide: int, high: int, x: float, y: float, apart: float
) -> None:
    half = apart * wide / 2
    left, right = Point(x * wide - half, y * high), Point(x * wide + half, y * high)
    head = Extent(left.x - 2 * half, left.y - 3 * half, right.x + 2 * half, right.y + 3 * half)
    size, zones = Size(wide, high), round_eyes(left, right)
    place = place_for("proof, not for publication", size, Clear(heads=(head,), eyes=zones))
    if place is None:
        return
    grey = Image.new("RGB", (wide, high), "#808080")
    changed = np.any(np.asarray(marked(grey, "proof, not for publication", place)) != 128, axis=2)
    assert changed.any()
    for one in (left, right):
        x0, y0 = max(0, int(one.x - 0.5 * half)), max(0, int(one.y - 0.5 * half))
        assert not changed[
            y0 : max(0, int(one.y + 0.5 * half)), x0 : max(0, int(one.x + 0.5 * half))
        ].any()


def test_a_place_in_a_turned_crop_is_found_on_its_proof() -> None:
    """Its corners are the proof's corners."""
    from cropper.deliverable.straightening import corners  # noqa: PLC0415

    crop, size = Crop(PixelBox(100, 200, 900, 1200), 7.0), Size(400, 500)
    found = [on_proof(Point(x, y), crop, size) for x, y in corners(crop)]
    wanted = [(0, 0), (400, 0), (400, 500), (0, 500)]
    for one, (x, y) in zip(found, wanted, strict=True):
        assert (one.x, one.y) == pytest.approx((x, y), abs=1e-6)


def test_destinations_with_the_same_crop_share_one_proof(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    presets = tmp_path / "presets"
    presets.mkdir()
    for name, size in (("small", [400, 500]), ("large", [800, 1000]), ("other", [500, 500])):
        (presets / f"{name}.toml").write_text(
            f'[{name}]\ntitle = "{name}"\nsize_px = {size}\nrecipient = "client"\n'
        )
    job = tmp_path / "job"
    asked = ("--for", "small,large,other", "--presets", presets)
    planned = run("plan", draw("ilse.jpg"), *asked, "--job", job)
    assert planned.exit_code == 0, planned.output
    result = run("export", "--job", job, "--proofs-for", "client", "--json")
    rows = json.loads(result.stdout)["proofs"]
    assert len(rows) == 3
    assert len({row["file"] for row in rows}) == 2
    assert len(list((job / "client_proofs").rglob("*.jpg"))) == 2


def test_a_crop_at_the_chin_does_not_lose_the_mark() -> None:
    head = Extent(120, 60, 360, 380)
    eyes = round_eyes(Point(190, 200), Point(290, 200))
    text, size = "proof, not for publication", Size(480, 600)
    clear = Clear(heads=(head,), eyes=eyes)
    proof = Image.new("RGB", (size.width, size.height), "#808080")
    for place in places_on_faces(text, clear):
        proof = marked(proof, text, place)
    changed = np.any(np.asarray(proof) != 128, axis=2)
    assert changed[60:380, 120:360].sum() > 300  # between skull top and chin, ear to ear
    for eye in eyes:
        assert not changed[int(eye.y0) : int(eye.y1), int(eye.x0) : int(eye.x1)].any()
