"""Single values of a preset file, read exactly: numbers, shapes, boxes, choices.

Each reader takes what the TOML held and gives the value of the core, or raises ``ValueError``
whose text says what would be right. Numbers arrive as ``int`` or ``Decimal`` (never ``float``:
3.175 must stay 3.175) or as a fraction in quotes (``"1/8"``).
"""

# ruff: noqa: TRY004 - the validation library collects ValueError; a TypeError would be ours

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final, TypeVar

from cropper.destination.destination import ShapeRange
from cropper.geometry import NormalBox, Size

GREATEST_NUMBER: Final = 1_000_000
"""House: no length, resolution or count of a preset is larger (1 km in mm)."""
MOST_DECIMALS: Final = 12
"""House: finer than any length that can be printed; keeps fractions small."""
LONGEST_TEXT: Final = 2_000
GREATEST_SIDE_PX: Final = 65_535
"""A JPEG side is a 16-bit number [ISO/IEC 10918-1, frame header X and Y; from memory]."""

FRACTION: Final = re.compile(r"\s*(\d{1,7})\s*/\s*(\d{1,7})\s*")
SHAPE: Final = re.compile(r"\s*(\d{1,5}(?:\.\d{1,6})?)\s*:\s*(\d{1,5}(?:\.\d{1,6})?)\s*")
BYTES: Final = re.compile(r"\s*(\d{1,7}(?:\.\d{1,3})?)\s*(kB|MB)\s*")
BYTES_PER: Final = {"kB": 1_000, "MB": 1_000_000}
COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")
NAME: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")

Choice = TypeVar("Choice", bound=StrEnum)


def shown(value: object) -> str:
    """A value of a TOML as a person wrote it, cut when long."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, Decimal):
        text = str(value)
    elif isinstance(value, list):
        text = f"[{', '.join(shown(one) for one in value)}]"
    else:
        text = repr(value)
    longest = 60
    return text if len(text) <= longest else f"{text[:longest]}..."


def number(value: object) -> Fraction:
    """An exact number, at least 0: 3, 3.175 or "1/8"."""
    wrong = ValueError(f'{shown(value)} is not a number such as 3, 0.125 or "1/8"')
    if isinstance(value, str):
        match = FRACTION.fullmatch(value)
        if match is None or int(match[2]) == 0:
            raise wrong
        return Fraction(int(match[1]), int(match[2]))
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise wrong
    exact = _from_decimal(value) if isinstance(value, Decimal) else Fraction(min(value, 10**9))
    if exact < 0:
        raise ValueError(f"{shown(value)} is below 0")
    if exact > GREATEST_NUMBER:
        raise ValueError(f"{shown(value)} is above {GREATEST_NUMBER}, more than any length here")
    return exact


def _from_decimal(value: Decimal) -> Fraction:
    if not value.is_finite():
        raise ValueError(f"{shown(value)} is not a finite number")
    _, digits, exponent = value.as_tuple()
    most = 20
    if not isinstance(exponent, int) or exponent < -MOST_DECIMALS or len(digits) + exponent > most:
        raise ValueError(f"{shown(value)} has more digits than the {MOST_DECIMALS} that are kept")
    return Fraction(value)


def positive(value: object) -> Fraction:
    """An exact number above 0."""
    exact = number(value)
    if exact == 0:
        raise ValueError(f"{shown(value)} is not above 0")
    return exact


def share(value: object) -> Fraction:
    """A fraction of a frame, 0 to 1."""
    exact = number(value)
    if exact > 1:
        raise ValueError(f"{shown(value)} is not a fraction of the frame, 0 to 1")
    return exact


def shape(value: object) -> ShapeRange:
    """A shape "4:5" (width to height), or a range of two such shapes in either order."""
    if isinstance(value, list):
        pair = 2
        if len(value) != pair:
            raise ValueError(f"{shown(value)} is not a range of two shapes such as ['4:5', '3:2']")
        ends = sorted(one_shape(end) for end in value)
        return ShapeRange(ends[0], ends[1])
    only = one_shape(value)
    return ShapeRange(only, only)


def one_shape(value: object) -> Fraction:
    """Width over height from "4:5" or "1.91:1"."""
    match = SHAPE.fullmatch(value) if isinstance(value, str) else None
    if match is None or Fraction(match[1]) == 0 or Fraction(match[2]) == 0:
        raise ValueError(f"{shown(value)} is not a shape such as '4:5'")
    ratio = Fraction(match[1]) / Fraction(match[2])
    narrowest = Fraction(1, 100)
    if not narrowest <= ratio <= 1 / narrowest:
        raise ValueError(f"{shown(value)} is not a shape between '1:100' and '100:1'")
    return ratio


def whole(least: int, most: int, what: str) -> Callable[[object], int]:
    """A reader of whole numbers from ``least`` to ``most``."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise ValueError(f"{shown(value)} is not {what}, a whole number {least} to {most}")
        return value

    return read


def size_px(value: object) -> Size:
    """[width, height] in whole pixels."""
    side = whole(1, GREATEST_SIDE_PX, "a side in pixels")
    pair = 2
    if not isinstance(value, list) or len(value) != pair:
        raise ValueError(f"{shown(value)} is not a size in pixels such as [1080, 1350]")
    return Size(side(value[0]), side(value[1]))


def lengths(value: object) -> tuple[Fraction, Fraction]:
    """[width, height] as exact lengths above 0."""
    pair = 2
    if not isinstance(value, list) or len(value) != pair:
        raise ValueError(f"{shown(value)} is not a width and height such as [210, 297]")
    return positive(value[0]), positive(value[1])


def box(value: object) -> NormalBox:
    """[left, top, right, bottom] as fractions of the trim."""
    four = 4
    wrong = ValueError(
        f"{shown(value)} is not a box such as [0, 0, 1, 0.14]: left, top, right, bottom"
        " as fractions of what is seen, left before right and top before bottom"
    )
    if not isinstance(value, list) or len(value) != four:
        raise wrong
    left, top, right, bottom = (share(edge) for edge in value)
    if not (left < right and top < bottom):
        raise wrong
    return NormalBox(left, top, right, bottom)


def span(value: object) -> tuple[float, float]:
    """[least, most] as fractions of the seen frame."""
    pair = 2
    if not isinstance(value, list) or len(value) != pair:
        raise ValueError(f"{shown(value)} is not a span such as [0.30, 0.36]")
    least, most = share(value[0]), share(value[1])
    if least > most:
        raise ValueError(f"{shown(value)} runs backwards: the smaller number comes first")
    return float(least), float(most)


def one_of(kind: type[Choice]) -> Callable[[object], Choice]:
    """A reader of the words of ``kind``."""

    def read(value: object) -> Choice:
        for choice in kind:
            if value == choice.value:
                return choice
        raise ValueError(f"{shown(value)} is none of {listed(choice.value for choice in kind)}")

    return read


def word_of(*words: str) -> Callable[[object], str]:
    """A reader of one of ``words``."""

    def read(value: object) -> str:
        if not isinstance(value, str) or value not in words:
            raise ValueError(f"{shown(value)} is none of {listed(words)}")
        return value

    return read


def listed(words: Iterable[object]) -> str:
    """Words as people list them: 'a', 'b' or 'c'."""
    quoted = [repr(str(word)) for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def text(value: object) -> str:
    """One line or paragraph of plain text, without control characters."""
    if not isinstance(value, str):
        raise ValueError(f"{shown(value)} is not text in quotes")
    plain = " ".join(value.split())
    if not plain.isprintable():
        raise ValueError(f"{shown(value)} holds characters that cannot be shown")
    if len(plain) > LONGEST_TEXT:
        raise ValueError(f"the text is longer than {LONGEST_TEXT} characters")
    return plain


def name(value: object) -> str:
    """A name of a destination or group: small letters, digits, single hyphens."""
    longest = 60
    if not isinstance(value, str) or not NAME.fullmatch(value) or len(value) > longest:
        raise ValueError(
            f"{shown(value)} is not a name such as 'tall-post': small letters a-z, digits and"
            f" single hyphens, at most {longest}"
        )
    return value


def names(value: object) -> tuple[str, ...]:
    """A list of names, each once."""
    if not isinstance(value, list):
        raise ValueError(f"{shown(value)} is not a list of names such as ['social', 'web']")
    return tuple(dict.fromkeys(name(one) for one in value))


def yes_no(value: object) -> bool:
    """``true`` or ``false``."""
    if not isinstance(value, bool):
        raise ValueError(f"{shown(value)} is neither true nor false (written without quotes)")
    return value


def colour(value: object) -> str:
    """A colour as '#rrggbb', in sRGB."""
    if not isinstance(value, str) or not COLOUR.fullmatch(value.strip()):
        raise ValueError(f"{shown(value)} is not a colour such as '#f4f1ec'")
    return value.strip().lower()


def bytes_most(value: object) -> int:
    """A cap in bytes: 300000, or "300 kB", "1.5 MB" (1 kB = 1000 bytes)."""
    if isinstance(value, str) and (match := BYTES.fullmatch(value)):
        value = int(Fraction(match[1]) * BYTES_PER[match[2]])
    most = 10**10
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= most:
        raise ValueError(f'{shown(value)} is not a cap such as 300000 or "300 kB"')
    return value
