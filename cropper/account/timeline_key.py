"""The key to a timeline: which mark is which version, and what each form means."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final

from cropper._paper import fonts
from cropper.account.timeline import Timeline
from cropper.account.timeline_bars import HATCHES, PLANNED_DASH, PROPOSED_DASH
from cropper.account.timeline_fitting import BAR_SIZE, STRIP_SIZE, cut, width
from cropper.account.timeline_marks import Box, Drawing, Drawn, Hatch, Line, Stamp, Words
from cropper.publication.licences import LicenceKind

LINE: Final = 13.0
APART: Final = 14.0
SAMPLE: Final = 22.0
"""House values, in points."""

Sample = Callable[[float, float], Iterable[Drawn]]
"""What stands before the words, drawn at (x, middle)."""


def legend(chart: Timeline, wide: float) -> Drawing:
    """Every version with its mark and letter, in full, as many lines as they need."""
    entries = [
        (_stamped(one.mark), 11.0, f"{one.code}  {one.name}", BAR_SIZE) for one in chart.versions
    ]
    return _flowed(entries, wide)


def signs(chart: Timeline, wide: float) -> Drawing:
    """What the forms mean; only those that are on the page."""
    kinds = {strip.licence.kind for lane in chart.lanes for strip in lane.strips}
    states = {bar.state for lane in chart.lanes for bar in lane.bars}
    entries: list[tuple[Sample, float, str, float]] = []
    for state, fill, dash in (
        ("live", 0.3, 0.0),
        ("planned", 0.0, PLANNED_DASH),
        ("proposed", 0.0, PROPOSED_DASH),
        ("ended", 0.1, 0.0),
    ):
        if state in states:
            entries.append((_box(fill=fill, dash=dash), SAMPLE, state, STRIP_SIZE))
    if chart.notes:
        said = "clashes: see the number below"
        entries.append((_box(hatch=Hatch.CROSSED, ink="warn"), SAMPLE, said, STRIP_SIZE))
    for kind in sorted(kinds):
        hatch = HATCHES.get(kind)
        said = "may show (thick end: must come down)" if kind is LicenceKind.TERM else kind.value
        entries.append((_box(hatch=hatch), SAMPLE, said, STRIP_SIZE))
    if any(lane.gaps for lane in chart.lanes):
        entries.append((_dotted, SAMPLE, "nothing runs there", STRIP_SIZE))
    if any(lane.told.startswith("stream") for lane in chart.lanes):
        said = "In a stream a picture is drawn for as long as it stands out."
        entries.append((_nothing, 0.0, said, STRIP_SIZE))
    return _flowed(entries, wide)


def _flowed(entries: Iterable[tuple[Sample, float, str, float]], wide: float) -> Drawing:
    """Samples and words side by side, a new line where the next would not fit."""
    fonts()
    marks: list[Drawn] = []
    x, y = 0.0, LINE / 2
    for sample, room, told, size in entries:
        text = cut(told, wide - room, size)
        needed = room + width(text, size)
        if x and x + needed > wide:
            x, y = 0.0, y + LINE
        marks += [*sample(x, y), Words(text=text, x=x + room, y=y, size=size)]
        x += needed + APART
    return Drawing(wide=wide, high=y + LINE / 2 if marks else 0.0, marks=tuple(marks))


def _stamped(mark: int) -> Sample:
    def drawn(x: float, y: float) -> Iterator[Drawn]:
        yield Stamp(mark=mark, x=x + 4, y=y, r=3.4)

    return drawn


def _box(
    *, fill: float = 0.0, dash: float = 0.0, hatch: Hatch | None = None, ink: str = "ink"
) -> Sample:
    def drawn(x: float, y: float) -> Iterator[Drawn]:
        yield Box(
            x0=x,
            y0=y - 4,
            x1=x + 18,
            y1=y + 4,
            ink=ink,
            fill=fill,
            edge=0.9,
            dash=dash,
            hatch=hatch,
        )

    return drawn


def _dotted(x: float, y: float) -> Iterator[Drawn]:
    yield Line(x0=x, y0=y, x1=x + 18, y1=y, ink="soft", wide=0.7, dash=1.2)
    for end in (x, x + 18):
        yield Line(x0=end, y0=y - 2, x1=end, y1=y + 2, ink="soft", wide=0.7)


def _nothing(_x: float, _y: float) -> Iterator[Drawn]:
    yield from ()
