"""Proposes crops for findings that come in on standard input: one JSON line each, answered by one.

Run with today's code or an older release's on PYTHONPATH: only what both have is imported, so that
two planners can be asked in turn. See :mod:`bench.asked_planners`.
"""

from __future__ import annotations

import dataclasses
import json
import sys
import time
from dataclasses import replace
from typing import Any

from cropper.destination.destination import Destination
from cropper.destination.presets import load_presets
from cropper.geometry import Extent, PixelBox, Point, Size
from cropper.proposal.planning import propose_all
from cropper.subject.subject import EyesState, Finding, Joint, Landmark, Origin, Subject

LANDMARKS = {"chin": "chin", "skull_top": "hair_top", "hair_top": "hair_top"}
"""A landmark's error by name; those that are not listed share the chin's."""


def revived(told: dict[str, Any]) -> Finding:
    """A finding from its geometry (as in bench/editors/design.json)."""
    finding = Finding(
        size=Size(told["width"], told["height"]),
        subjects=tuple(_subject(one) for one in told["subjects"]),
        problem=None if told["subjects"] else "nobody was found",
    )
    if told.get("bodies") and "bodies" in {one.name for one in dataclasses.fields(Finding)}:
        finding = replace(finding, bodies=tuple(Extent(*box) for box in told["bodies"]))
    return finding


def _subject(told: dict[str, Any]) -> Subject:
    sigma = told["sigma_px"]

    def mark(name: str) -> Landmark:
        return Landmark(Point(*told[name]), sigma[LANDMARKS.get(name, "chin")])

    joints = {name: (Point(x, y), seen) for name, (x, y, seen) in told["joints"].items()}
    made = Subject(
        left_eye=Point(*told["left_eye"]),
        right_eye=Point(*told["right_eye"]),
        eye_sigma_px=sigma["eyes"],
        chin=mark("chin"),
        skull_top=mark("skull_top"),
        hair_top=mark("hair_top"),
        hairline=mark("hairline"),
        brows=mark("brows"),
        crown_in_frame=told["crown_in_frame"],
        head_box=Extent(*told["head_box"]),
        turn=told["turn"],
        principal=told["principal"],
        eyes_from=_known(Origin, told.get("eyes_from", "found"), Origin.ESTIMATED),
        eyes_state=_known(EyesState, told.get("eyes_state", "open"), EyesState.OPEN),
        joints=tuple(Joint(name, at, seen) for name, (at, seen) in joints.items()),
    )
    if told.get("mouth_open") is not None and hasattr(made, "mouth_open"):
        made = replace(made, mouth_open=told["mouth_open"])
    return made


def _known(kind: Any, value: str, otherwise: Any) -> Any:
    """A word of an older list, or what comes nearest in it."""
    return kind(value) if value in {one.value for one in kind} else otherwise


def geometry(finding: Finding) -> dict[str, Any]:
    """A finding as :func:`revived` reads it."""
    return {
        "width": finding.size.width,
        "height": finding.size.height,
        "subjects": [_geometry(one) for one in finding.subjects],
        "bodies": [_sides(box) for box in finding.bodies],
    }


def _geometry(one: Subject) -> dict[str, Any]:
    names = ("chin", "skull_top", "hair_top", "hairline", "brows")
    marks = {name: getattr(one, name) for name in names}
    return {
        "left_eye": [one.left_eye.x, one.left_eye.y],
        "right_eye": [one.right_eye.x, one.right_eye.y],
        **{name: [mark.at.x, mark.at.y] for name, mark in marks.items()},
        "sigma_px": {
            "eyes": one.eye_sigma_px,
            "chin": one.chin.sigma_px,
            "hair_top": one.hair_top.sigma_px,
        },
        "crown_in_frame": one.crown_in_frame,
        "head_box": _sides(one.head_box),
        "turn": one.turn,
        "principal": one.principal,
        "eyes_from": one.eyes_from.value,
        "eyes_state": one.eyes_state.value,
        "mouth_open": one.mouth_open,
        "joints": {each.name: [each.at.x, each.at.y, each.visibility] for each in one.joints},
    }


def _sides(box: Extent) -> list[float]:
    return [box.x0, box.y0, box.x1, box.y1]


def sized_by_nothing(one: Destination) -> Destination:
    """The destination without any pixels to deliver."""
    return replace(one, delivered=None, long_edge_px=None, least_ppi=None)


def seen(one: Destination, box: PixelBox) -> list[float]:
    """The sides of what is seen of a crop: its trim, px of the master."""
    lying = box.width >= box.height
    way = next((each for each in one.orientations if (each.shape.least >= 1) == lying), one)
    return _sides(way.trim.of(box))


def answered(told: dict[str, Any]) -> dict[str, Any]:
    """One request: a finding's geometry, destinations by name, and whether pixels count."""
    destinations = load_presets().choose(told["destinations"])
    if not told["pixels"]:
        destinations = tuple(sized_by_nothing(one) for one in destinations)
    finding = revived(told["finding"])
    started = time.process_time()
    answers = propose_all(finding, destinations)
    spent = 1000 * (time.process_time() - started)
    crops = {}
    for one, answer in zip(destinations, answers, strict=True):
        best = answer.best
        crops[one.name] = best and {
            "seen": seen(one, best.crop.box),
            "verdict": best.verdict.value,
            "reasons": best.reasons,
        }
    return {"ms": spent, "crops": crops}


def main() -> None:
    for line in sys.stdin:
        print(json.dumps(answered(json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
