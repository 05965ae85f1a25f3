"""A finding as plain values: the interface of ``cropper find --json``, version 1.

The schema is shipped as ``schemas/find.schema.json``. Points are [x, y] in pixels of the upright
master, y down; the left eye is the one with the smaller x.
"""

from __future__ import annotations

import math
from typing import Any, Final

from cropper.geometry import Extent, Point
from cropper.subject.subject import EyeDetail, Finding, Subject

VERSION: Final = 1


def listed(pictures: list[dict[str, Any]]) -> dict[str, Any]:
    """The whole answer, for pictures from :func:`found` and :func:`unreadable`."""
    return {"version": VERSION, "pictures": pictures}


def found(file: str, finding: Finding, problem: str | None) -> dict[str, Any]:
    """One picture that was looked at; ``problem`` asks for the photographer's eye."""
    return {
        "file": file,
        "width": finding.size.width,
        "height": finding.size.height,
        "problem": problem,
        "finder": finding.finder,
        "subjects": [_subject(one) for one in finding.subjects],
        "bodies": [_box(one) for one in finding.bodies],
    }


def unreadable(file: str, problem: str) -> dict[str, Any]:
    """One picture that could not be opened."""
    return {
        "file": file,
        "width": None,
        "height": None,
        "problem": problem,
        "finder": "",
        "subjects": [],
        "bodies": [],
    }


def _place(point: Point) -> list[float]:
    return [_number(point.x), _number(point.y)]


def _number(value: float) -> float:
    """Hundredths of a pixel, and never a word that JSON does not know."""
    if not math.isfinite(value):
        message = f"a finding holds a number that is not one: {value}"
        raise ValueError(message)
    return round(value, 2) + 0.0


def _box(box: Extent) -> list[float]:
    return [_number(edge) for edge in (box.x0, box.y0, box.x1, box.y1)]


def _known(value: float | None) -> float | None:
    return None if value is None else _number(value)


def _eye(one: EyeDetail | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "state": str(one.state),
        "score": _number(one.score),
        "sigma_px": _number(one.sigma_px),
        "openness": _known(one.openness),
        "blur_px": _known(one.blur_px),
    }


def _subject(one: Subject) -> dict[str, Any]:
    return {
        "left_eye": _place(one.left_eye),
        "right_eye": _place(one.right_eye),
        "chin": _place(one.chin.at),
        "hair_top": _place(one.hair_top.at),
        "skull_top": _place(one.skull_top.at),
        "hairline": _place(one.hairline.at),
        "brows": _place(one.brows.at),
        "crown_in_frame": one.crown_in_frame,
        "uncertainty_px": {
            "eyes": _number(one.eye_sigma_px),
            "chin": _number(one.chin.sigma_px),
            "hair_top": _number(one.hair_top.sigma_px),
            "skull_top": _number(one.skull_top.sigma_px),
            "hairline": _number(one.hairline.sigma_px),
            "brows": _number(one.brows.sigma_px),
        },
        "from": {
            "chin": str(one.chin.origin),
            "hair_top": str(one.hair_top.origin),
            "skull_top": str(one.skull_top.origin),
        },
        "head_box": _box(one.head_box),
        "tilt_deg": _number(one.tilt_deg),
        "turn": str(one.turned),
        "turn_ratio": _number(one.turn),
        "pitch_deg": _number(one.pitch),
        "eyes_from": str(one.eyes_from),
        "eyes_state": str(one.eyes_state),
        "openness": _known(one.openness),
        "turn_deg": _known(one.turn_deg),
        "left_eye_detail": _eye(one.left_detail),
        "right_eye_detail": _eye(one.right_detail),
        "gaze": _known(one.gaze),
        "mouth_open": _known(one.mouth_open),
        "score": _number(one.score),
        "principal": one.principal,
        "why": one.why,
        "doubt": one.doubt,
        "joints": [
            {"name": joint.name, "at": _place(joint.at), "visibility": _number(joint.visibility)}
            for joint in one.joints
        ],
    }
