"""Both forms of a report put on the disk, whole or not at all."""

from __future__ import annotations

import re
from pathlib import Path

from cropper.account.report import Report
from cropper.deliverable.writing import write_whole


def put(report: Report, folder: Path) -> tuple[Path, Path]:
    """Write the page and the sheet into ``folder``; older ones of this set are replaced.

    Raises :class:`cropper.errors.DeliveryError` where the folder cannot be written to.
    """
    from cropper.account.report_page import html  # noqa: PLC0415 - the template engine
    from cropper.account.report_sheet import pdf  # noqa: PLC0415 - the PDF engine

    stem = file_stem(report.set)
    page, sheet = folder / f"{stem}.html", folder / f"{stem}.pdf"
    write_whole(page, html(report).encode("utf-8"), replace=True)
    write_whole(sheet, pdf(report), replace=True)
    return page, sheet


def file_stem(set_name: str) -> str:
    """A portable file name for a set's report.

    >>> file_stem("knit/wear: spring"), file_stem("目")
    ('report-knit-wear-spring', 'report-set')
    """
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", set_name).strip("-.")
    return f"report-{plain[:80] or 'set'}"
