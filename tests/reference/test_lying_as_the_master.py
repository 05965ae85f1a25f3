"""Prints and the portfolio lie as the master lies, for every shipped master.

The eyes are the truth that rides with the pictures, made with them and not found in them.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cropper.destination.presets import load_presets
from cropper.geometry import Point, Size
from cropper.proposal.planning import propose
from cropper.subject.by_hand import by_hand
from cropper.subject.subject import Finding

FOLDER = Path(__file__).parents[2] / "demo_images"
MASTERS = sorted(FOLDER.glob("*.truth.json"))
(PORTFOLIO, SMALL, LARGE, CANVAS) = load_presets().choose(
    ("portfolio", "print-10x15cm", "print-a4", "canvas")
)


def finding(file: Path) -> Finding:
    truth = json.loads(file.read_text(encoding="utf-8"))
    size = Size(truth["width"], truth["height"])
    eyes = [(Point(*one["left_eye"]), Point(*one["right_eye"])) for one in truth["faces"]]
    return Finding(size=size, subjects=tuple(by_hand(size, *pair) for pair in eyes))


@pytest.mark.parametrize("file", MASTERS, ids=lambda file: file.name.partition(".")[0])
def test_no_portfolio_or_print_turns_its_master(file: Path) -> None:
    found = finding(file)
    lies = found.size.width > found.size.height
    for destination in (PORTFOLIO, SMALL, LARGE, CANVAS):
        best = propose(found, destination).best
        assert best is not None
        assert (best.crop.box.width > best.crop.box.height) is lies, destination.name


def test_prints_of_a_square_master_stand_upright() -> None:
    size = Size(3000, 3000)
    person = by_hand(size, Point(1380, 1200), Point(1620, 1200))
    for destination in (SMALL, LARGE, CANVAS):
        best = propose(Finding(size=size, subjects=(person,)), destination).best
        assert best is not None
        assert best.crop.box.height > best.crop.box.width
