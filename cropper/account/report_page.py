"""The report as one HTML file: no script, nothing fetched, every word escaped.

The page forbids itself everything but its own style block (by hash) and pictures written into it.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cropper.account.intervals import TONES, shape_of
from cropper.account.report import INVENTED, Portrait, Report
from cropper.account.styling import styled
from cropper.publication.reading import Comparison
from cropper.publication.saying import chance, percent, span, times
from cropper.publication.shares import Share

WIDE: Final = 1000.0
LEFT: Final = 270.0
RIGHT: Final = 640.0
"""Where the axis begins and ends in a chart ``WIDE`` units across; words stand beside it."""
NUMBERS: Final = 668.0
LINE: Final = 25
FOOT: Final = 46
LABEL: Final = 34
"""Characters of a label before the axis (house: they end short of it in the widest letters)."""


def html(report: Report) -> str:
    """The whole report as one HTML text; the same report gives the same text."""
    return (
        _environment()
        .get_template("report.html")
        .render(
            report=report,
            invented=INVENTED,
            **styled("report"),
        )
    )


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("cropper.account", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        finalize=_unbroken,
    )
    environment.globals.update(WIDE=WIDE, LEFT=LEFT, NUMBERS=NUMBERS, LINE=LINE, FOOT=FOOT)
    environment.filters.update(
        px=_px,
        place=_place,
        shape=lambda mark: shape_of(mark).value,
        tone=lambda mark: f"var(--t{mark % len(TONES)})",
        shortened=shortened,
        uri=_uri,
        value=value,
        ends=ends,
        chance=chance,
        rank=rank,
        within=within,
    )
    return environment


def _unbroken(said: object) -> object:
    """Keep a number and its per cent sign on one line."""
    if isinstance(said, str) and not isinstance(said, Markup):
        return said.replace(" %", "\u00a0%")
    return said


def _px(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _place(fraction: float) -> float:
    return LEFT + fraction * (RIGHT - LEFT)


def _uri(one: Portrait) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(one.jpeg or b"").decode("ascii")


def shortened(label: str, most: int = LABEL) -> str:
    """A label cut visibly where there is no room for it.

    >>> shortened("a" * 50, 5)
    'aaaa…'
    """
    return label if len(label) <= most else label[: most - 1] + "…"


def value(pair: Comparison) -> str:
    """A comparison's number in its own unit."""
    return times(pair.value) if pair.unit.startswith("times") else percent(pair.value)


def ends(pair: Comparison) -> str:
    """Its interval."""
    if pair.unit.startswith("times"):
        return f"{times(pair.low)} to {times(pair.high)}"
    return span(pair.low, pair.high)


def within(share: Share) -> str:
    """A share's interval."""
    return span(share.low, share.high)


def rank(meant: Sequence[str], tag: str) -> str:
    """The place of a tag in the intent, in words."""
    return ("first", "second", "third")[meant.index(tag)] if meant.index(tag) < 3 else "also"  # noqa: PLR2004 - three words
