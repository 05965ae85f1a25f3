"""The timeline as one HTML file: no script, nothing fetched, every word escaped.

The page forbids itself everything but its own style block, by hash.
"""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined

from cropper.account.styling import styled
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
            **styled("timeline"),
        )
    )


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
