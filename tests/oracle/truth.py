"""The demo masters' true points as subjects, without any finder.

The truth files give pupils, chin, skull top, hair top, the head's breadth and its rotation.
Three things they do not give are worked out here and marked as such:

- ``turn``: the nose tip seen between the cheeks. A nose tip 1.5 half-breadths in front of the
  axis between the cheeks' outer points shows at 1.5 tan(yaw) (house: plane geometry, the 1.5 a
  rounded guess from the meshes' points 1, 234 and 454).
- ``brows`` and ``hairline``: .39 and .18 of the way from skull top to chin (house; the eyes
  themselves stand at about .49, reference ``eye_frac``).

Everybody in a demo master is principal: the pair and the row of five are pictures of them all.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from cropper.geometry import Extent, Point, Size
from cropper.subject.subject import Finding, Landmark, Origin, Subject

DEMO = Path(__file__).parents[2] / "demo_images"
NOSE_REACH = 1.5
BROWS_AT = 0.39
HAIRLINE_AT = 0.18
SIGMA_HEADS = 0.01
"""Truth comes from the scene itself; a hundredth of a head stands for strands and rounding."""


def truth_files() -> list[Path]:
    """Every truth file, in order of name."""
    return sorted(DEMO.glob("*.truth.json"))


def picture_of(truth: Path) -> Path:
    """The picture that ``truth`` describes."""
    stem = truth.name.removesuffix(".truth.json")
    return next(
        path for path in sorted(DEMO.glob(f"{stem}.*")) if path.suffix in {".jpg", ".tif", ".png"}
    )


def truth_finding(truth: Path) -> Finding:
    """The true subjects of one demo master."""
    told = json.loads(truth.read_text(encoding="utf-8"))
    people = tuple(_subject(face) for face in told["faces"])
    size = Size(int(told["width"]), int(told["height"]))
    return Finding(size=size, subjects=people, finder="demo truth")


def demo_findings() -> dict[str, Finding]:
    """True subjects of every demo master, by the master's name."""
    return {path.name.removesuffix(".truth.json"): truth_finding(path) for path in truth_files()}


def _subject(face: dict[str, Any]) -> Subject:
    chin, skull = Point(*face["chin"]), Point(*face["crown"])
    hair, (left, right) = Point(*face["hair_top"]), face["head_left_right_px"]
    head = chin.to(skull)
    pupils = sorted(
        (Point(*face["left_eye"]), Point(*face["right_eye"])), key=lambda at: (at.x, at.y)
    )

    def landmark(at: Point, origin: Origin = Origin.HAND) -> Landmark:
        return Landmark(at, SIGMA_HEADS * head, origin)

    def down(share: float) -> Point:
        return Point(skull.x + share * (chin.x - skull.x), skull.y + share * (chin.y - skull.y))

    turn = NOSE_REACH * math.tan(math.radians(face["yaw"]))
    return Subject(
        left_eye=pupils[0],
        right_eye=pupils[1],
        eye_sigma_px=SIGMA_HEADS * head,
        chin=landmark(chin),
        skull_top=landmark(skull),
        hair_top=landmark(hair),
        hairline=landmark(down(HAIRLINE_AT), Origin.ESTIMATED),
        brows=landmark(down(BROWS_AT), Origin.ESTIMATED),
        crown_in_frame=bool(face["crown_in_frame"]),
        head_box=Extent(left, min(hair.y, skull.y), right, chin.y),
        turn=max(-1.0, min(1.0, turn)),
        eyes_from=Origin.HAND,
        why="everybody in a demo master is principal",
    )
