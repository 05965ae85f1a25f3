"""The words of a timeline that page and sheet share."""

from __future__ import annotations

from typing import Final

from cropper.account.timeline import Note, Timeline
from cropper.publication.dates import said
from cropper.publication.runs import Run

INVENTED: Final = "Invented data: these outlets, runs and licences do not exist."


def heading(_chart: Timeline) -> str:
    """What the page is called."""
    return "What runs where"


def dated(chart: Timeline) -> str:
    """Over which stretch, and as of when."""
    until = "" if chart.span.until is None else said(chart.span.until, chart.zone)
    zone = "" if chart.zone == "UTC" else f", days as in {chart.zone}"
    as_of = said(chart.now, chart.zone).split(",")[0]
    return f"{said(chart.span.start, chart.zone)} until {until}{zone}; as recorded on {as_of}"


def where_and_when(note: Note) -> str:
    """A clash in a line: the run, the rule's sentence, the way out."""
    clash = note.clash
    return f"'{clash.version}' at '{clash.outlet}' ({clash.rule}). {clash.sentence} {clash.way_out}"


def place(run: Run) -> str:
    """Where in the outlet: its address, issue and page, as far as they are known.

    >>> from datetime import UTC, datetime
    >>> from cropper.publication.spans import Span
    >>> at = Span(datetime(2026, 3, 1, tzinfo=UTC))
    >>> place(Run(id="1", piece="", version="a", outlet="gazette", span=at, issue="3", page="12"))
    'issue 3, page 12'
    """
    parts = (
        run.address,
        f"issue {run.issue}" if run.issue else "",
        f"page {run.page}" if run.page else "",
    )
    return ", ".join(filter(None, parts))
