"""The manifest: which file went where, made from what, and what was not delivered and why.

``manifest.json`` for programs (schema in ``cropper/schemas/manifest.schema.json``), and
``manifest.csv`` with ``not_delivered.csv`` for a spreadsheet, where no cell may start like a
formula [OWASP, "CSV injection"].
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from cropper._layout import laid_out
from cropper.geometry import Crop, NormalBox, Size
from cropper.proposal.proposal import Measure

MANIFEST: Final = "manifest.json"
FORMAT: Final = 3
"""2 added regions, notes, gamut, words and ``texts``, 3 the job; nothing changed its meaning."""

RUNS_AS_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""First characters that make a spreadsheet run a cell [OWASP, "CSV injection"]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """One finished file, in exactly the manifest's fields.

    ``file`` is the path below the manifest's own folder, posix. ``crop`` is (x0, y0, x1, y1) in
    pixels of the upright master; ``trim`` the seen part in pixels of the finished file. ``ppi`` is
    None for screens. The same crop in the words of open standards is in ``media_fragment`` to
    ``svg_selector`` (:mod:`cropper.deliverable.fragments`); ``region_left_out`` says why some are
    None. ``notes``: what is to be known of this file. ``out_of_gamut``: share 0..1 of colours that
    the destination could not hold, None where that was not measured or means nothing. ``text``:
    the file with its copy-ready words, below the same folder.
    """

    file: str
    sha256: str
    bytes: int
    width: int
    height: int
    ppi: float | None
    destination: str
    outlet: str | None
    recipient: str
    set: str | None
    version: str
    master: str
    master_sha256: str
    crop: tuple[int, int, int, int]
    trim: tuple[float, float, float, float]
    straighten_deg: float
    proposed_by: str
    verdict: str
    rules: tuple[dict[str, Any], ...]
    media_fragment: str | None = None
    media_fragment_percent: str | None = None
    iiif_region: str | None = None
    iiif_request: str | None = None
    svg_selector: str | None = None
    region_left_out: str = ""
    notes: tuple[str, ...] = ()
    out_of_gamut: float | None = None
    credit_line: str = ""
    usage_terms: str = ""
    text: str | None = None


FIELDS: Final = tuple(Delivered.__dataclass_fields__)
"""The columns of ``manifest.csv``, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotDelivered:
    """Something that was asked for and has no file, with the reason in a sentence."""

    destination: str | None
    set: str | None
    version: str | None
    master: str
    reason: str


MISSING: Final = tuple(NotDelivered.__dataclass_fields__)
"""The columns of ``not_delivered.csv``, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TextFile:
    """A text that lies beside the deliverables: its path below the folder, and its digest."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """Everything that lies delivered in a folder, and what does not and why.

    ``made_at`` is UTC, ISO 8601; ``job`` is the id of the job whose files these are.
    """

    made_by: str
    made_at: str
    delivered: tuple[Delivered, ...]
    not_delivered: tuple[NotDelivered, ...]
    texts: tuple[TextFile, ...] = ()
    job: str = ""

    def mapping(self) -> dict[str, Any]:
        """The manifest as plain JSON values."""
        return {
            "format": FORMAT,
            "made_by": self.made_by,
            "made_at": self.made_at,
            "job": self.job,
            "delivered": [asdict(one) for one in self.delivered],
            "not_delivered": [asdict(one) for one in self.not_delivered],
            "texts": [asdict(one) for one in self.texts],
        }

    def json_text(self) -> str:
        """``manifest.json``."""
        return laid_out(self.mapping())

    def csv_text(self) -> str:
        """``manifest.csv``: a row for each delivered file."""
        return _csv([list(FIELDS), *map(cells, self.delivered)])

    def not_delivered_csv_text(self) -> str:
        """``not_delivered.csv``: a row for each thing that has no file, and why."""
        return _csv([list(MISSING), *map(cells, self.not_delivered)])


def rule_rows(measures: Iterable[Measure]) -> tuple[dict[str, Any], ...]:
    """What the manifest keeps of each measured rule."""
    return tuple(
        {
            "rule": one.rule,
            "value": one.value,
            "unit": one.unit,
            "target": None if one.target is None else list(one.target),
            "limit": None if one.limit is None else list(one.limit),
            "verdict": str(one.verdict),
            "sentence": one.sentence,
        }
        for one in measures
    )


def crop_corners(crop: Crop) -> tuple[int, int, int, int]:
    """The four edges of a crop."""
    return (crop.box.x0, crop.box.y0, crop.box.x1, crop.box.y1)


def trim_corners(trim: NormalBox, size: Size) -> tuple[float, float, float, float]:
    """The trim in pixels of a finished file of ``size``, to a hundredth of a pixel."""
    return (
        round(float(trim.x0 * size.width), 2),
        round(float(trim.y0 * size.height), 2),
        round(float(trim.x1 * size.width), 2),
        round(float(trim.y1 * size.height), 2),
    )


def harmless(text: str) -> str:
    """``text`` as a cell that no spreadsheet will run: an apostrophe goes before a formula's start.

    >>> harmless("=1+1"), harmless("shawl")
    ("'=1+1", 'shawl')
    """
    return f"'{text}" if text.startswith(RUNS_AS_FORMULA) else text


def cells(row: Delivered | NotDelivered) -> list[str]:
    """A row of ``manifest.csv`` or ``not_delivered.csv``."""
    return [_cell(getattr(row, name)) for name in row.__dataclass_fields__]


def _cell(value: Any) -> str:
    if value is None or value in ("", ()):
        return ""
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, str):
        return harmless(value)
    if isinstance(value[0], int | float):
        return json.dumps(value)
    return harmless("; ".join(_told(one) for one in value))


def _told(one: Any) -> str:
    """A sentence as it is, a rule with its verdict."""
    return f"{one['rule']}: {one['verdict']}" if isinstance(one, dict) else str(one)


def _csv(rows: Sequence[Sequence[str]]) -> str:
    written = io.StringIO()
    csv.writer(written, lineterminator="\r\n").writerows(rows)
    return written.getvalue()
