"""Other frames of one sitting, made by code from a demo picture: same wool, backdrop and light.

A smooth displacement moves head, mouth or eyelids and dies away towards the backdrop, which stays
where it was, as it does between two releases of the shutter. Sizes are in head heights.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from cropper.geometry import Point

Pixels = npt.NDArray[np.uint8]
Field = npt.NDArray[np.float32]


def people(picture: Path) -> list[dict[str, Any]]:
    """Everybody in a demo picture's truth file."""
    told: dict[str, Any] = json.loads(picture.with_suffix(".truth.json").read_text())
    found: list[dict[str, Any]] = told["faces"]
    return found


def person(picture: Path) -> dict[str, Any]:
    """The first person of a demo picture's truth file."""
    return people(picture)[0]


def eyes_and_head(truth: dict[str, Any]) -> tuple[Point, float]:
    """The point between a person's eyes, and the height of the head in pixels."""
    left, right, chin, crown = (truth[name] for name in ("left_eye", "right_eye", "chin", "crown"))
    between = Point((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    return between, math.dist(chin[:2], crown[:2])


def _bump(shape: tuple[int, ...], at: tuple[float, float], wide: float, high: float) -> Field:
    """1 at the place, dying away with these deviations."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    far = ((x - at[0]) / wide) ** 2 + ((y - at[1]) / high) ** 2
    return np.asarray(np.exp(-0.5 * far), np.float32)


def _moved(pixels: Pixels, right: Field, down: Field) -> Pixels:
    y, x = np.mgrid[0 : pixels.shape[0], 0 : pixels.shape[1]].astype(np.float32)
    drawn = cv2.remap(pixels, x - right, y - down, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(drawn, np.uint8)


def blinked(pixels: Pixels, eyes: list[tuple[float, float]], head: float) -> Pixels:
    """The lids come down over the eyes; nothing else moves."""
    down = np.zeros(pixels.shape[:2], np.float32)
    for x, y in eyes:
        down += 0.035 * head * _bump(pixels.shape, (x, y - 0.035 * head), 0.06 * head, 0.022 * head)
    return _moved(pixels, np.zeros_like(down), down)


def smiled(pixels: Pixels, mouth: tuple[float, float], head: float) -> Pixels:
    """The corners of the mouth go up and apart, the cheeks with them."""
    x, y = mouth
    right = np.zeros(pixels.shape[:2], np.float32)
    down = np.zeros_like(right)
    for side in (-1, 1):
        bump = _bump(
            pixels.shape, (x + side * 0.11 * head, y - 0.02 * head), 0.08 * head, 0.08 * head
        )
        right += side * 0.025 * head * bump
        down -= 0.03 * head * bump
    return _moved(pixels, right, down)


def turned_head(pixels: Pixels, middle: tuple[float, float], head: float) -> Pixels:
    """The head goes aside and down a little; shoulders and backdrop stay."""
    bump = _bump(pixels.shape, middle, 0.5 * head, 0.55 * head)
    return _moved(pixels, 0.05 * head * bump, 0.02 * head * bump)


def swayed(pixels: Pixels, middle: tuple[float, float], head: float) -> Pixels:
    """The whole figure leans over; the backdrop stays."""
    bump = _bump(pixels.shape, (middle[0], middle[1] + head), 1.0 * head, 1.6 * head)
    lean = np.linspace(1.4, 0.4, pixels.shape[0], dtype=np.float32)[:, None]
    return _moved(pixels, 0.09 * head * bump * lean, 0.0 * bump)


def frames(pixels: Pixels, truth: dict[str, Any]) -> dict[str, Callable[[], Pixels]]:
    """Other frames of that person's sitting, by what changed."""
    left, right = ((truth[name][0], truth[name][1]) for name in ("left_eye", "right_eye"))
    chin, crown = truth["chin"], truth["crown"]
    head = abs(chin[1] - crown[1])
    between = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    mouth = (chin[0] + 0.25 * (between[0] - chin[0]), chin[1] - 0.2 * head)
    return {
        "blinked": lambda: blinked(pixels, [left, right], head),
        "smiled": lambda: smiled(pixels, mouth, head),
        "turned head": lambda: turned_head(pixels, between, head),
        "swayed": lambda: swayed(pixels, between, head),
    }
