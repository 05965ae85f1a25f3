"""A timeline asked of a record, and put on the disk, whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol

from cropper.account.timeline import Timeline, timeline
from cropper.deliverable.writing import write_whole
from cropper.errors import MisuseError
from cropper.publication.facts import Asked, Facts
from cropper.publication.runs import Run
from cropper.publication.spans import Span


class Known(Protocol):
    """Whatever keeps runs and licences."""

    def facts(self, asked: Asked = ...) -> Facts:
        """What counts now, narrowed to what is asked."""
        ...


def ask(
    record: Known,
    span: Span,
    *,
    now: datetime,
    outlets: Sequence[str] = (),
    zone: str = "UTC",
    invented: bool = False,
    proposed: Sequence[Run] = (),
) -> Timeline:
    """What runs where over ``span``, at all outlets or those named.

    Rivals that ran shortly before the page begins still count where a set rests, so the record is
    asked for as much more. Raises :class:`MisuseError` for an outlet that is unknown.
    """
    facts = record.facts(Asked(span=span))
    rest = max((rules.rest for rules in facts.sets.values()), default=timedelta(0))
    if rest:
        facts = record.facts(Asked(span=span.widened(rest)))
    if proposed:
        versions = tuple(sorted({one.version for one in proposed}))
        theirs = record.facts(Asked(versions=versions))
        licences = {one.id: one for one in (*facts.licences, *theirs.licences)}
        facts = replace(
            facts,
            licences=tuple(licences.values()),
            pieces=tuple({one.sha256: one for one in (*facts.pieces, *theirs.pieces)}.values()),
            homes={**facts.homes, **theirs.homes},
        )
    strange = sorted(set(outlets) - set(facts.outlets))
    if strange:
        known = ", ".join(sorted(facts.outlets)) or "none yet"
        raise MisuseError(f"there is no outlet '{strange[0]}'", way_out=f"Known: {known}")
    return timeline(
        facts,
        span,
        now=now,
        outlets=outlets,
        zone=zone,
        invented=invented,
        proposed=proposed,
    )


def put(chart: Timeline, to: Path) -> tuple[Path, Path]:
    """Write the page and the sheet as ``to`` with the endings .html and .pdf; older ones go.

    Raises :class:`cropper.errors.DeliveryError` where they cannot be written.
    """
    from cropper.account.timeline_page import html  # noqa: PLC0415 - the template engine
    from cropper.account.timeline_sheet import pdf  # noqa: PLC0415 - the PDF engine

    stem = to.with_suffix("") if to.suffix.lower() in {".html", ".pdf"} else to
    page, sheet = (stem.with_name(f"{stem.name}{ending}") for ending in (".html", ".pdf"))
    write_whole(page, html(chart).encode("utf-8"), replace=True)
    write_whole(sheet, pdf(chart), replace=True)
    return page, sheet
