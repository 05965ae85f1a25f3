"""The demo pictures with their truth, varied in known ways, and how far a finding lies from it.

Errors of eyes are in distances between the eyes, all others in heads (chin to skull top).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.subject.subject import Subject

DEMO = Path(__file__).parents[2] / "demo_images"
Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Truth:
    eyes: NDArray[np.float64]
    chin: NDArray[np.float64]
    hair: NDArray[np.float64]
    skull_y: float
    sides: tuple[float, float]
    yaw: float
    hair_inside: bool

    @property
    def head(self) -> float:
        return abs(float(self.chin[1]) - self.skull_y)


def truths(path: Path) -> list[Truth]:
    return [
        Truth(
            np.array([face["left_eye"], face["right_eye"]]),
            np.array(face["chin"]),
            np.array(face["hair_top"]),
            face["skull_top_px"],
            tuple(face["head_left_right_px"]),
            face["yaw"],
            face["crown_in_frame"],
        )
        for face in json.loads(path.read_text())["faces"]
    ]


def pixels_of(path: Path) -> Pixels:
    read = cv2.imread(str(path))
    assert read is not None
    return np.ascontiguousarray(cv2.cvtColor(read, cv2.COLOR_BGR2RGB), np.uint8)


def loaded(path: Path, longest: int = 2048) -> tuple[Pixels, list[Truth]]:
    pixels = pixels_of(path)
    scale = min(1.0, longest / max(pixels.shape[:2]))
    size = (round(pixels.shape[1] * scale), round(pixels.shape[0] * scale))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    return small, [scaled(t, scale) for t in truths(path.with_suffix(".truth.json"))]


def scaled(t: Truth, scale: float, shift: tuple[float, float] = (0.0, 0.0)) -> Truth:
    at = np.array(shift)
    sides = (t.sides[0] * scale + at[0], t.sides[1] * scale + at[0])
    return Truth(
        t.eyes * scale + at, t.chin * scale + at, t.hair * scale + at,
        t.skull_y * scale + at[1], sides, t.yaw, t.hair_inside,
    )  # fmt: skip


def moved(t: Truth, eyes: NDArray[np.float64], chin: NDArray[np.float64]) -> Truth:
    return Truth(eyes, chin, np.array([np.nan, np.nan]), np.nan, t.sides, t.yaw, t.hair_inside)


def mirrored(pixels: Pixels, found: list[Truth]) -> tuple[Pixels, list[Truth]]:
    wide = pixels.shape[1]
    flip = np.array([-1.0, 1.0])
    at = np.array([wide, 0.0])
    turned = [
        Truth(
            (t.eyes * flip + at)[::-1], t.chin * flip + at, t.hair * flip + at, t.skull_y,
            (wide - t.sides[1], wide - t.sides[0]), -t.yaw, t.hair_inside,
        )
        for t in found
    ]  # fmt: skip
    return np.ascontiguousarray(pixels[:, ::-1]), turned


def turned(pixels: Pixels, found: list[Truth], quarters: int) -> tuple[Pixels, list[Truth]]:
    for _ in range(quarters):
        wide = pixels.shape[1]
        pixels = np.ascontiguousarray(np.rot90(pixels))
        found = [
            moved(
                t,
                np.column_stack([t.eyes[:, 1], wide - t.eyes[:, 0]]),
                np.array([t.chin[1], wide - t.chin[0]]),
            )
            for t in found
        ]
    return pixels, found


def small_heads(pixels: Pixels, found: list[Truth]) -> tuple[Pixels, list[Truth]]:
    """The picture shrunk until its smallest head is 3 % of a 2048 px frame's height."""
    frame = 2048
    scale = 0.03 * frame / min(t.head for t in found)
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    small = small[:frame, :frame]
    edge = np.median(pixels[:4].reshape(-1, 3), axis=0)
    canvas = np.full((frame, frame, 3), edge, np.uint8)
    left, top = (frame - small.shape[1]) // 3, (frame - small.shape[0]) // 3
    canvas[top : top + small.shape[0], left : left + small.shape[1]] = small
    return canvas, [scaled(t, scale, (left, top)) for t in found]


def grey(pixels: Pixels) -> Pixels:
    return np.repeat(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)[:, :, None], 3, axis=2)


def tinted(pixels: Pixels, tint: tuple[float, float, float]) -> Pixels:
    return np.asarray((pixels * np.array(tint)).clip(0, 255), np.uint8)


def noisy(pixels: Pixels) -> Pixels:
    grain = np.random.default_rng(7).normal(0, 12, pixels.shape)
    return np.asarray((pixels + grain).clip(0, 255), np.uint8)


def varieties(
    pixels: Pixels, found: list[Truth], kinds: tuple[str, ...] = ()
) -> dict[str, tuple[Pixels, list[Truth]]]:
    """Every kind, or those named."""
    makers: dict[str, Callable[[], tuple[Pixels, list[Truth]]]] = {
        "plain": lambda: (pixels, found),
        "mirrored": lambda: mirrored(pixels, found),
        "quarter left": lambda: turned(pixels, found, 1),
        "upside down": lambda: turned(pixels, found, 2),
        "quarter right": lambda: turned(pixels, found, 3),
        "tinted": lambda: (tinted(pixels, (1.0, 0.7, 0.45)), found),
        "blue light": lambda: (tinted(pixels, (0.0, 0.05, 1.0)), found),
        "grey": lambda: (grey(pixels), found),
        "noisy": lambda: (noisy(pixels), found),
        "soft": lambda: (np.asarray(cv2.GaussianBlur(pixels, (0, 0), 3.0), np.uint8), found),
        "3 % heads": lambda: small_heads(pixels, found),
    }
    return {kind: makers[kind]() for kind in kinds or makers}


def matched(
    subjects: tuple[Subject, ...], found: list[Truth]
) -> list[tuple[Subject | None, Truth]]:
    pairs = []
    for t in found:
        middle, between = t.eyes.mean(axis=0), np.linalg.norm(t.eyes[1] - t.eyes[0])
        near = [
            s for s in subjects if np.hypot(s.eyes.x - middle[0], s.eyes.y - middle[1]) < between
        ]
        pairs.append((near[0] if near else None, t))
    return pairs


def errors(s: Subject, t: Truth) -> dict[str, float]:
    between = float(np.linalg.norm(t.eyes[1] - t.eyes[0]))
    mine = np.array([[s.left_eye.x, s.left_eye.y], [s.right_eye.x, s.right_eye.y]])
    theirs = np.array(sorted(t.eyes.tolist()))
    if (
        np.linalg.norm(mine - theirs[::-1], axis=1).sum()
        < np.linalg.norm(mine - theirs, axis=1).sum()
    ):
        theirs = theirs[::-1]
    eye = np.linalg.norm(mine - theirs, axis=1)
    tilt = np.degrees(np.arctan2(*(theirs[1] - theirs[0])[::-1]))
    chin = np.hypot(s.chin.at.x - t.chin[0], s.chin.at.y - t.chin[1])
    row = {
        "eye_a": eye[0] / between,
        "eye_b": eye[1] / between,
        "eye_a_z": eye[0] / s.eye_sigma_px,
        "eye_b_z": eye[1] / s.eye_sigma_px,
        "roll": abs((s.tilt_deg - tilt + 90) % 180 - 90),
        "chin": np.nan,
    }
    if np.isnan(t.skull_y):
        return row
    head = t.head
    return row | {
        "chin": chin / head,
        "chin_z": chin / s.chin.sigma_px,
        "hair": (s.hair_top.at.y - t.hair[1]) / head,
        "hair_z": abs(s.hair_top.at.y - t.hair[1]) / s.hair_top.sigma_px,
        "skull": (s.skull_top.at.y - t.skull_y) / head,
        "skull_z": abs(s.skull_top.at.y - t.skull_y) / s.skull_top.sigma_px,
        "left": (s.head_box.x0 - t.sides[0]) / head,
        "right": (s.head_box.x1 - t.sides[1]) / head,
    }
