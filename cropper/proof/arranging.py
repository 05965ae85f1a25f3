"""A sheet's values arranged for looking: rooms for pictures, words for numbers, marks for rules."""

from __future__ import annotations

from fractions import Fraction

from cropper.destination.destination import Destination
from cropper.geometry import WHOLE, Crop, Extent, PixelBox, Size
from cropper.proof import overlays, words
from cropper.proof.entry import MatrixCell, ProofEntry, ProofMaster, SetMatrix
from cropper.proof.overlays import Mark
from cropper.proof.previews import Album
from cropper.proof.views import (
    Card,
    CropView,
    MatrixCellView,
    MatrixRow,
    MatrixView,
    Print,
    Refusal,
    Rule,
    Section,
    Thumb,
    Whole,
    Window,
)
from cropper.proposal.delivering import lying_as
from cropper.proposal.proposal import Measure, Proposal, Verdict
from cropper.subject.subject import Finding, Subject

SEEN = Size(360, 430)
"""Room for the large picture of an upright or square crop, css px (house)."""
SEEN_WIDE = Size(570, 400)
"""Room for a wide one."""
WHOLE_SIDE = Size(190, 210)
"""Room for the whole master beside it."""
OTHER = Size(170, 190)
"""Room for another proposal."""
MASTER = Size(560, 460)
"""Room for the master at the head of its section."""
THUMB = Size(112, 96)
"""Room for a small picture that leads to its card."""
WIDE_FROM = Fraction(7, 5)
"""Crops at least this wide for their height lie above their words, not beside (house)."""
LARGEST_PRINT_MM = 700
"""Larger sheets are left out of the strip: beside a banner every print is a stamp (house)."""
PRINT_STRIP_PX = 300
"""Height of the tallest print in the strip of prints, css px (house)."""


def section(master: ProofMaster, album: Album, anchor: str) -> Section:
    """Everything the page says and shows of one master."""
    size = master.finding.size
    people = master.finding.subjects
    cards = tuple(
        _card(entry, master, album, f"{anchor}-{number}")
        for number, entry in enumerate(master.entries, start=1)
    )
    return Section(
        anchor=anchor,
        version=master.version,
        file=master.file,
        set_name=master.set_name,
        size=f"{size.width} × {size.height} px",
        people=tuple(_person(one, len(people)) for one in people),
        problem=master.finding.problem or "",
        remarks=master.remarks,
        window=_on_master(album, MASTER, f"The whole master {master.version}", size),
        strip=tuple(_thumb(card, album, size) for card in cards),
        cards=cards,
        prints=_prints(master, album),
        previews=album.all,
    )


def _person(subject: Subject, of: int) -> str:
    who = "Principal" if subject.principal else "Bystander"
    lead = who if of > 1 else "One person"
    eyes = f"eyes {subject.eyes_from.value}, {subject.eyes_state.value}"
    faces = "facing" if subject.turned.value == "facing" else f"turned to the {subject.turned}"
    why = f" ({subject.why.rstrip('.')})" if subject.why and of > 1 else ""
    return f"{lead}{why}: {faces}, {eyes}, eye line tilted {subject.tilt_deg:+.1f}°."


def fitted(box: Extent, room: Size) -> Size:
    """The largest whole css size of the box's shape that fits the room."""
    scale = min(room.width / box.width, room.height / box.height)
    return Size(max(1, round(box.width * scale)), max(1, round(box.height * scale)))


def _window(box: Extent, room: Size, preview: str, marks: tuple[Mark, ...], alt: str) -> Window:
    fit = fitted(box, room)
    return Window(
        box=box, width=fit.width, height=fit.height, preview=preview, marks=marks, alt=alt
    )


def _on_master(album: Album, room: Size, alt: str, size: Size) -> Window:
    return _window(Extent(0, 0, size.width, size.height), room, album.whole.key, (), alt)


def as_extent(box: PixelBox) -> Extent:
    """The same box with fractional edges."""
    return Extent(box.x0, box.y0, box.x1, box.y1)


def _card(entry: ProofEntry, master: ProofMaster, album: Album, anchor: str) -> Card:
    shown = entry.shown
    way_round = lying_as(entry.destination, shown.crop.box.size) if shown else entry.destination
    finding = master.finding
    return Card(
        anchor=anchor,
        name=entry.destination.name,
        title=entry.destination.title,
        size=words.size(way_round, shown),
        shape=words.shape(way_round),
        caution=entry.destination.caution,
        verdict=entry.verdict,
        wide=shown is not None and _is_wide(shown.crop),
        by_hand=entry.by_hand,
        chosen_by=entry.chosen_by,
        note=entry.note,
        decide=_to_decide(entry),
        shown=_crop_view(entry.destination, shown, finding, album, small=False) if shown else None,
        others=tuple(
            _crop_view(entry.destination, other, finding, album, small=True)
            for other in entry.others
        ),
        refusal=None if shown else _refusal(entry, finding, album),
    )


def _to_decide(entry: ProofEntry) -> str:
    """What decides a verdict that somebody should look at, in one sentence."""
    shown = entry.shown
    if shown is None or shown.verdict in {Verdict.HOLDS, Verdict.BENDS}:
        return ""
    found = (one.sentence for one in shown.measures if one.verdict is shown.verdict)
    return next(found, next(iter(shown.reasons), ""))


def _thumb(card: Card, album: Album, size: Size) -> Thumb:
    window = _on_master(album, THUMB, f"No crop for {card.title}", size)
    if card.shown is not None:
        seen = card.shown.seen
        window = _window(seen.box, THUMB, seen.preview, hiding(seen.marks), seen.alt)
    return Thumb(anchor=card.anchor, title=card.title, verdict=card.verdict, window=window)


def hiding(marks: tuple[Mark, ...]) -> tuple[Mark, ...]:
    """The marks that small pictures keep: what hides part of the picture, without words."""
    return tuple(mark for mark in marks if mark.kind in {"veil", "fill"})


def _is_wide(crop: Crop) -> bool:
    return Fraction(crop.box.width, crop.box.height) >= WIDE_FROM


def _crop_view(
    destination: Destination, proposal: Proposal, finding: Finding, album: Album, *, small: bool
) -> CropView:
    way_round = lying_as(destination, proposal.crop.box.size)
    box = as_extent(proposal.crop.box)
    drawn = overlays.marks(way_round, proposal, finding)
    if small:
        drawn = tuple(mark for mark in drawn if mark.kind != "label")
    room = OTHER if small else SEEN_WIDE if _is_wide(proposal.crop) else SEEN
    key = album.showing(proposal.crop).key
    alt = f"{destination.title}, {proposal.kind}: {words.said(proposal.verdict)}"
    master = _on_master(album, WHOLE_SIDE, f"Where {destination.title} lies", finding.size)
    return CropView(
        kind=_kind(proposal),
        verdict=proposal.verdict,
        seen=_window(box, room, key, drawn, alt),
        narrower=() if small else _narrower(way_round, proposal.crop, key),
        whole=Whole(window=master, corners=overlays.outline(proposal.crop)),
        reasons=proposal.reasons,
        pixels=words.pixels(proposal),
        rules=tuple(_rule(measure) for measure in proposal.measures),
    )


def _kind(proposal: Proposal) -> str:
    parts = [part for part in (proposal.kind, proposal.shot) if part]
    return ", ".join(dict.fromkeys(parts))


NARROWER = Size(180, 120)
"""Room for a live area shown by itself."""


def _narrower(destination: Destination, crop: Crop, key: str) -> tuple[tuple[str, Window], ...]:
    views = []
    for area in destination.live_areas:
        if area.box == WHOLE:
            continue
        box = area.box.within(destination.trim).of(crop.box)
        alt = f"{destination.title} as {area.name}"
        views.append((area.name, _window(box, NARROWER, key, (), alt)))
    return tuple(views)


def _rule(measure: Measure) -> Rule:
    return Rule(
        title=measure.title,
        value=words.quantity(measure.value, measure.unit),
        doubt=words.doubt(measure),
        unit=words.unit_said(measure.unit),
        target=words.span(measure.target, measure.unit),
        limit=words.span(measure.limit, measure.unit),
        verdict=measure.verdict,
        sentence=measure.sentence,
        source=measure.source,
    )


def _refusal(entry: ProofEntry, finding: Finding, album: Album) -> Refusal:
    no_crop = entry.answer.no_crop
    said = no_crop.sentence if no_crop else finding.problem or "Nothing was proposed."
    alt = f"The master; no crop for {entry.destination.title}"
    conflicts = tuple(one.sentence for one in no_crop.conflicts) if no_crop else ()
    room = SEEN_WIDE if Fraction(finding.size.width, finding.size.height) >= WIDE_FROM else SEEN
    return Refusal(
        sentence=said,
        conflicts=tuple(one for one in conflicts if one.rstrip(".").lower() not in said.lower()),
        ways_out=tuple(one.sentence for one in no_crop.ways_out) if no_crop else (),
        window=_on_master(album, room, alt, finding.size),
        must_stay=_must_stay(finding),
        largest=_largest(entry.destination, finding),
    )


def _must_stay(finding: Finding) -> Extent | None:
    """The box around all principal eyes and chins, on the master."""
    points = [
        point for one in finding.principals for point in (one.left_eye, one.right_eye, one.chin.at)
    ]
    if not points:
        return None
    x0, x1 = min(p.x for p in points), max(p.x for p in points)
    y0, y1 = min(p.y for p in points), max(p.y for p in points)
    return Extent(x0, y0, x1 + (x1 == x0), y1 + (y1 == y0))


def _largest(destination: Destination, finding: Finding) -> Extent | None:
    """The largest frame of the destination's shape in the master, laid around the eyes."""
    must = _must_stay(finding)
    if must is None:
        return None
    size = finding.size
    ratio = Fraction(size.width, size.height)
    shape = float(min(max(ratio, destination.shape.least), destination.shape.most))
    width = min(float(size.width), size.height * shape)
    height = width / shape
    x0 = min(max(must.centre.x - width / 2, 0), size.width - width)
    y0 = min(max(must.centre.y - height / 2, 0), size.height - height)
    return Extent(x0, y0, x0 + width, y0 + height)


def _prints(master: ProofMaster, album: Album) -> tuple[Print, ...]:
    """The prints of a master at one scale; empty when there are not two to compare."""
    paper = []
    for entry in master.entries:
        shown = entry.shown
        if shown is None:
            continue
        way_round = lying_as(entry.destination, shown.crop.box.size)
        if way_round.page_mm is not None and max(way_round.page_mm) <= LARGEST_PRINT_MM:
            paper.append((way_round, shown, way_round.page_mm))
    if len(paper) < 2:  # noqa: PLR2004 - a comparison needs two
        return ()
    tallest = max(float(high) for _, _, (_, high) in paper)
    strip = []
    for way_round, shown, page in paper:
        px_per_mm = PRINT_STRIP_PX / tallest
        strip.append(
            Print(
                title=way_round.title,
                size=f"{float(page[0]):g} × {float(page[1]):g} mm",
                window=Window(
                    box=way_round.trim.of(shown.crop.box),
                    width=max(1, round(float(page[0]) * px_per_mm)),
                    height=max(1, round(float(page[1]) * px_per_mm)),
                    preview=album.showing(shown.crop).key,
                    marks=(),
                    alt=f"{way_round.title} at its size beside the others",
                ),
            )
        )
    return tuple(strip)


def matrix(rivals: SetMatrix, sections: tuple[Section, ...], titles: dict[str, str]) -> MatrixView:
    """The matrix of a set, each field with the small picture of its crop."""
    cards = {(one.version, card.name): card for one in sections for card in one.cards}
    whys, rest = _by_row(rivals)
    rows = tuple(
        MatrixRow(
            title=titles.get(destination, destination),
            why=whys.get(destination, ""),
            fields=tuple(
                _field(rivals.cell(version, destination), cards.get((version, destination)))
                for version in rivals.versions
            ),
        )
        for destination in rivals.destinations
    )
    return MatrixView(name=rivals.name, versions=rivals.versions, rows=rows, sentences=rest)


def _by_row(rivals: SetMatrix) -> tuple[dict[str, str], tuple[str, ...]]:
    """Sentences that begin with a destination's name and a colon, and all others."""
    whys: dict[str, str] = {}
    rest: list[str] = []
    for sentence in rivals.sentences:
        name, colon, said = sentence.partition(": ")
        if colon and name in rivals.destinations and name not in whys:
            # "a_frontal. It suits best ...": the mark in the row tells the first part.
            given, stop, reason = said.partition(". ")
            whys[name] = reason if stop and given in {*rivals.versions, "none"} else said
        else:
            rest.append(sentence)
    return whys, tuple(rest)


def _field(cell: MatrixCell | None, card: Card | None) -> MatrixCellView | None:
    if cell is None:
        return None
    window = None
    if card is not None and card.shown is not None:
        seen = card.shown.seen
        window = _window(seen.box, THUMB, seen.preview, hiding(seen.marks), seen.alt)
    numbers = []
    if "%" in cell.sentence:
        # The sentence tells the figures already.
        return MatrixCellView(
            cell=cell, anchor=card.anchor if card else "", window=window, numbers=""
        )
    if cell.lost is not None:
        numbers.append(f"{100 * cell.lost:.0f} % of the master cut away")
    if cell.spare_px is not None:
        numbers.append(
            f"{cell.spare_px} px wide to spare"
            if cell.spare_px >= 0
            else f"{-cell.spare_px} px short, enlarged"
        )
    return MatrixCellView(
        cell=cell, anchor=card.anchor if card else "", window=window, numbers=", ".join(numbers)
    )
