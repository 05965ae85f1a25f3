"""The timeline as one HTML file: no script, nothing fetched, every word escaped.

The page forbids itself everything but its own style block, by hash.
"""

from __future__ import annotations

import base64
import hashlib
from datetime import datetime
from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cropper.account.intervals import DARK_TONES, TONES
from cropper.account.timeline import Timeline
from cropper.account.timeline_key import legend, signs
from cropper.account.timeline_laying import lay
from cropper.account.timeline_saying import INVENTED, dated, heading, where_and_when
from cropper.account.timeline_svg import stamp, svg
from cropper.publication.dates import said

WIDE: Final = 786.0
"""The width of A4 across, less its margins: the page shows what the sheet prints."""


def html(chart: Timeline) -> str:
    """The whole timeline as one HTML text; the same timeline gives the same text."""
    style = _style()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    told = f"{heading(chart)}, {dated(chart)}. The table below says the same in words."
    return (
        _environment()
        .get_template("timeline.html")
        .render(
            heading=heading(chart),
            dated=dated(chart),
            invented=INVENTED if chart.invented else "",
            chart=chart,
            drawn=svg(lay(chart, WIDE), "lanes", told),
            legend=svg(legend(chart, WIDE), "legend", "The versions and their marks"),
            signs=svg(signs(chart, WIDE), "signs", "What the forms mean"),
            where=where_and_when,
            style=Markup(style),  # noqa: S704 - the package's own file, nothing of the user's in it
            style_hash=Markup(digest),  # noqa: S704 - base64 of our own digest
        )
    )


def _style() -> str:
    source = (files("cropper.account") / "templates" / "timeline.css").read_text("utf-8")
    for name, tones in (("@TONES@", TONES), ("@DARK_TONES@", DARK_TONES)):
        source = source.replace(name, " ".join(f"--t{at}: {one};" for at, one in enumerate(tones)))
    return source


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("cropper.account", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    environment.filters.update(day=_day, stamp=lambda mark: stamp(mark, 7, 7, 5))
    return environment


def _day(at: datetime | None, zone: str) -> str:
    return "open" if at is None else said(at, zone)
