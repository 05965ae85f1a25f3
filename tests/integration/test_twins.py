"""Undeclared twins among real files: EXIF clocks, kept glances, files that cannot be read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from cropper.job.twins import undeclared_twins
from cropper.likeness.capture import capture
from cropper.master.opening import master_digest


@dataclass(frozen=True)
class Master:
    version: str
    sha256: str
    path: Path

    def located(self, job: Path) -> Path:
        return job / self.path


def photographed(path: Path, seed: int, shift: int = 0, at: str = "") -> Master:
    """A soft scene of its own for every seed, moved aside by ``shift`` px."""
    blobs = cv2.GaussianBlur(np.random.default_rng(seed).normal(0, 1, (400, 500, 3)), (0, 0), 40)
    codes = np.clip(128 + 60 * blobs / blobs.std(), 0, 255).astype(np.uint8)
    exif = Image.Exif()
    if at:
        exif.get_ifd(0x8769)[0x9003] = at
    Image.fromarray(np.roll(codes, shift, axis=1)).save(path, quality=92, exif=exif)
    return Master(version=path.stem, sha256=master_digest(path), path=path)


@pytest.fixture
def masters(tmp_path: Path) -> list[Master]:
    return [
        photographed(tmp_path / "shawl.jpg", 1, at="2026:03:01 10:00:00"),
        photographed(tmp_path / "shawl_smile.jpg", 1, shift=12, at="2026:03:01 10:00:04"),
        photographed(tmp_path / "hall.jpg", 2, at="2026:03:01 10:01:00"),
        photographed(tmp_path / "shawl_autumn.jpg", 1, shift=6, at="2026:09:01 10:00:00"),
    ]


ASKED = "shawl and shawl_smile look like versions of one idea: make them a set? --set NAME"


def test_twins_are_asked_about_and_other_days_are_not(
    tmp_path: Path, masters: list[Master]
) -> None:
    assert undeclared_twins(tmp_path / "job", masters) == (ASKED,)


def test_a_declared_set_is_not_asked_about(tmp_path: Path, masters: list[Master]) -> None:
    declared = [("shawls", ["shawl", "shawl_smile"])]
    assert undeclared_twins(tmp_path / "job", masters, declared) == ()


def test_glances_are_kept_and_a_damaged_cache_is_made_anew(
    tmp_path: Path, masters: list[Master]
) -> None:
    job = tmp_path / "job"
    undeclared_twins(job, masters)
    kept = job / "fingerprints" / "glances.npz"
    for one in masters:
        one.path.rename(one.path.with_suffix(".moved"))
    assert undeclared_twins(job, masters) == (ASKED,)  # by what was kept alone
    for one in masters:
        one.path.with_suffix(".moved").rename(one.path)
    kept.write_bytes(b"PK\x03\x04 damaged")
    assert undeclared_twins(job, masters) == (ASKED,)


def test_a_master_that_cannot_be_read_is_left_out(tmp_path: Path, masters: list[Master]) -> None:
    masters[0].path.write_bytes(b"no picture")
    assert undeclared_twins(tmp_path / "job", masters) == ()


def test_the_clock_is_read_from_the_file_and_may_be_missing(
    tmp_path: Path, masters: list[Master]
) -> None:
    told = capture(masters[0].path)
    assert told is not None
    assert told.at.isoformat() == "2026-03-01T10:00:00"
    assert capture(photographed(tmp_path / "no_clock.jpg", 3).path) is None
    (tmp_path / "words.jpg").write_text("no picture")
    assert capture(tmp_path / "words.jpg") is None
