"""What happens to pictures out in the world, made by code, with the truth of where they stand.

Every function takes upright sRGB (rows, columns, 3) and gives the worn file's pixels with the place
of the picture in it and the part of the picture that is left, so that a found crop can be measured.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

Pixels = npt.NDArray[np.uint8]
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Worn:
    """``part`` (x0, y0, x1, y1) of the picture shown at ``place`` of ``pixels``.

    ``part`` is in pixels of the ``whole`` (width, height) it began as, turned by ``turn_deg``
    clockwise about its centre.
    """

    pixels: Pixels
    part: Box
    place: Box
    whole: tuple[int, int]
    turn_deg: float = 0.0
    mirrored: bool = False


Wear = Callable[[Worn], Worn]


def fresh(pixels: Pixels) -> Worn:
    """Nothing has happened yet."""
    high, wide = pixels.shape[:2]
    return Worn(
        pixels=pixels, part=(0, 0, wide, high), place=(0, 0, wide, high), whole=(wide, high)
    )


def resized(share: float) -> Wear:
    """Both sides times ``share``."""

    def wear(worn: Worn) -> Worn:
        high, wide = worn.pixels.shape[:2]
        return _sized(worn, max(16, round(wide * share)), max(16, round(high * share)))

    return wear


def wide(px: int) -> Wear:
    """``px`` wide, the shape kept."""

    def wear(worn: Worn) -> Worn:
        high, width = worn.pixels.shape[:2]
        return _sized(worn, px, max(16, round(high * px / width)))

    return wear


def _sized(worn: Worn, width: int, height: int) -> Worn:
    high, wide_ = worn.pixels.shape[:2]
    how = cv2.INTER_AREA if width < wide_ else cv2.INTER_CUBIC
    pixels = np.asarray(cv2.resize(worn.pixels, (width, height), interpolation=how), np.uint8)
    across, down = width / wide_, height / high
    x0, y0, x1, y1 = worn.place
    return replace(worn, pixels=pixels, place=(x0 * across, y0 * down, x1 * across, y1 * down))


def jpeg(quality: int) -> Wear:
    """Through JPEG, colours halved as the world does."""

    def wear(worn: Worn) -> Worn:
        written = io.BytesIO()
        Image.fromarray(worn.pixels).save(written, "JPEG", quality=quality, subsampling=2)
        return replace(worn, pixels=np.array(Image.open(written).convert("RGB")))

    return wear


def cut(share: float, across: float = 0.5, down: float = 0.5) -> Wear:
    """Both sides cut to ``share``, from a place 0..1 of what is left over."""

    def wear(worn: Worn) -> Worn:
        high, width = worn.pixels.shape[:2]
        cw, ch = round(width * share), round(high * share)
        x0, y0 = round((width - cw) * across), round((high - ch) * down)
        px0, py0, px1, py1 = worn.part
        sx, sy = (px1 - px0) / width, (py1 - py0) / high
        part = (px0 + x0 * sx, py0 + y0 * sy, px0 + (x0 + cw) * sx, py0 + (y0 + ch) * sy)
        pixels = worn.pixels[y0 : y0 + ch, x0 : x0 + cw].copy()
        return replace(worn, pixels=pixels, part=part, place=(0, 0, cw, ch))

    return wear


def bordered(share: float, colour: tuple[int, int, int]) -> Wear:
    """A border of ``share`` of the long side all round."""

    def wear(worn: Worn) -> Worn:
        high, width = worn.pixels.shape[:2]
        rim = round(share * max(high, width))
        pixels = np.full((high + 2 * rim, width + 2 * rim, 3), colour, np.uint8)
        pixels[rim : rim + high, rim : rim + width] = worn.pixels
        return replace(worn, pixels=pixels, place=(rim, rim, rim + width, rim + high))

    return wear


def screenshot(height: int, *, dark: bool = False) -> Wear:
    """The picture, at most ``height`` px high, on an invented page: bars, words, buttons."""

    def wear(worn: Worn) -> Worn:
        high, width = worn.pixels.shape[:2]
        share = min(900 / width, height / high)
        small = _sized(worn, round(width * share), round(high * share))
        paper, ink = ((24, 26, 30), (220, 220, 220)) if dark else ((246, 246, 243), (30, 30, 30))
        page = Image.new("RGB", (1600, 1000), paper)
        draw = ImageDraw.Draw(page)
        draw.rectangle((0, 0, 1600, 64), fill=(70, 84, 92))
        draw.text((24, 24), "Wool and light   Jumpers   Shawls   Basket (2)", fill=(255, 255, 255))
        for line in range(34):
            draw.text((30, 96 + 25 * line), "An invented line of words about wool " * 2, fill=ink)
        x0, y0 = 640, 130
        bottom, right = y0 + small.pixels.shape[0], x0 + small.pixels.shape[1]
        draw.rounded_rectangle((640, bottom + 24, 900, bottom + 70), 12, (176, 88, 40))
        page.paste(Image.fromarray(small.pixels), (x0, y0))
        return replace(worn, pixels=np.array(page, np.uint8), place=(x0, y0, right, bottom))

    return wear


def grey(worn: Worn) -> Worn:
    """Without colour."""
    flat = cv2.cvtColor(worn.pixels, cv2.COLOR_RGB2GRAY)
    return replace(worn, pixels=np.asarray(cv2.cvtColor(flat, cv2.COLOR_GRAY2RGB), np.uint8))


def toned(red: float, green: float, blue: float, lift: float = 0.0) -> Wear:
    """A tone curve for each colour (exponents), blacks lifted by ``lift`` of the range."""

    def wear(worn: Worn) -> Worn:
        curve = (worn.pixels / 255.0) ** np.array([red, green, blue])
        return replace(worn, pixels=np.round(255 * (lift + (1 - lift) * curve)).astype(np.uint8))

    return wear


def mirrored(worn: Worn) -> Worn:
    """Turned over, left to right."""
    width = worn.pixels.shape[1]
    x0, y0, x1, y1 = worn.place
    return replace(
        worn,
        pixels=np.ascontiguousarray(worn.pixels[:, ::-1]),
        place=(width - x1, y0, width - x0, y1),
        mirrored=True,
    )


def turned(degrees: float) -> Wear:
    """Cut from the picture as a box turned clockwise, as large as fits."""

    def wear(worn: Worn) -> Worn:
        high, width = worn.pixels.shape[:2]
        turn = math.radians(abs(degrees))
        fits = min(
            width / (width * math.cos(turn) + high * math.sin(turn)),
            high / (width * math.sin(turn) + high * math.cos(turn)),
        )
        cw, ch = math.floor(width * fits), math.floor(high * fits)
        matrix: Any = cv2.getRotationMatrix2D(((width - 1) / 2, (high - 1) / 2), degrees, 1)
        matrix[:, 2] += ((cw - width) / 2, (ch - high) / 2)
        pixels = cv2.warpAffine(worn.pixels, matrix, (cw, ch), flags=cv2.INTER_CUBIC)
        px0, py0, px1, py1 = worn.part
        sx, sy = (px1 - px0) / width, (py1 - py0) / high
        mx, my = (px0 + px1) / 2, (py0 + py1) / 2
        part = (mx - cw * sx / 2, my - ch * sy / 2, mx + cw * sx / 2, my + ch * sy / 2)
        return replace(
            worn,
            pixels=np.asarray(pixels, np.uint8),
            part=part,
            place=(0, 0, cw, ch),
            turn_deg=degrees,
        )

    return wear


def lettered(worn: Worn) -> Worn:
    """A white label over a lower part of it, as a story has."""
    high, width = worn.pixels.shape[:2]
    page = Image.fromarray(worn.pixels)
    draw = ImageDraw.Draw(page)
    draw.rectangle((0.3 * width, 0.72 * high, 0.7 * width, 0.8 * high), fill=(255, 255, 255))
    draw.text((0.4 * width, 0.75 * high), "NEW WOOL", fill=(0, 0, 0))
    return replace(worn, pixels=np.array(page, np.uint8))


def corners(part: Box, turn_deg: float) -> list[tuple[float, float]]:
    """Top left, top right, bottom right, bottom left of a box turned about its centre."""
    x0, y0, x1, y1 = part
    mx, my, turn = (x0 + x1) / 2, (y0 + y1) / 2, math.radians(turn_deg)
    about = [(x0 - mx, y0 - my), (x1 - mx, y0 - my), (x1 - mx, y1 - my), (x0 - mx, y1 - my)]
    return [
        (
            mx + x * math.cos(turn) - y * math.sin(turn),
            my + x * math.sin(turn) + y * math.cos(turn),
        )
        for x, y in about
    ]


def worn(pixels: Pixels, *steps: Wear) -> Worn:
    """The picture after all of that."""
    now = fresh(pixels)
    for step in steps:
        now = step(now)
    return now
