"""Invented people, pictures and answers: enough to lay out a sheet, measured by nobody."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from PIL import Image

from cropper.destination.destination import (
    CoveredZone,
    Destination,
    Frame,
    Gutter,
    KeepClear,
    LiveArea,
    ShapeRange,
)
from cropper.geometry import Crop, Extent, NormalBox, PixelBox, Point, Size
from cropper.proof.entry import MatrixCell, ProofEntry, ProofMaster, SetMatrix, Sheet
from cropper.proposal.proposal import (
    Answer,
    Conflict,
    Measure,
    NoCrop,
    Proposal,
    Verdict,
    WayOut,
)
from cropper.subject.subject import Finding, Landmark, Subject

MASTER = Size(1200, 1500)
F = Fraction


def shape(wide: int, high: int) -> ShapeRange:
    return ShapeRange(F(wide, high), F(wide, high))


def a_subject() -> Subject:
    return Subject(
        left_eye=Point(500, 600),
        right_eye=Point(700, 600),
        eye_sigma_px=3,
        chin=Landmark(Point(600, 960), 12),
        skull_top=Landmark(Point(600, 260), 20),
        hair_top=Landmark(Point(610, 180), 14),
        hairline=Landmark(Point(600, 380), 12),
        brows=Landmark(Point(600, 550), 8),
        crown_in_frame=True,
        head_box=Extent(320, 180, 880, 960),
        why="largest and sharpest",
    )


def a_measure(verdict: Verdict, value: float = 0.34, rule: str = "eye line asked") -> Measure:
    return Measure(
        rule=rule,
        title=f"{rule} that {verdict.value}",
        value=value,
        unit="of frame",
        target=(0.303, 0.363),
        limit=(0.25, 0.45),
        uncertainty=0.012,
        verdict=verdict,
        excess=0.0,
        weight=1.0,
        source="[eyeline_cu]",
        sentence="The eyes stand a third down.",
    )


def a_proposal(
    box: PixelBox, verdict: Verdict = Verdict.HOLDS, kind: str = "head and shoulders"
) -> Proposal:
    return Proposal(
        destination="any",
        crop=Crop(box),
        kind=kind,
        shot="close-up",
        orientation="upright",
        measures=tuple(a_measure(one) for one in list(Verdict)[:4]),
        cost=0.0,
        verdict=verdict,
        reasons=("The eyes stand on the upper third.", "The bun stays whole."),
        delivered=Size(1080, 1350),
        enlargement=1.2,
        effective_ppi=None,
    )


DESTINATIONS = {
    "tall": Destination(
        name="tall", title="Tall post", shape=shape(4, 5), delivered=Size(1080, 1350)
    ),
    "avatar": Destination(
        name="avatar", title="Round avatar", shape=shape(1, 1), frame=Frame.CIRCLE
    ),
    "story": Destination(
        name="story",
        title="Vertical story",
        shape=shape(9, 16),
        covered=(
            CoveredZone("header", NormalBox(F(0), F(0), F(1), F(14, 100)), KeepClear.HEAD),
            CoveredZone("buttons", NormalBox(F(0), F(8, 10), F(1), F(1)), KeepClear.FACE),
        ),
    ),
    "header": Destination(
        name="header",
        title="Page header",
        shape=shape(3, 1),
        live_areas=(LiveArea("small screens", NormalBox(F(1, 4), F(0), F(3, 4), F(1))),),
    ),
    "spread": Destination(
        name="spread",
        title="Spread",
        shape=shape(7, 5),
        page_mm=(F(420), F(297)),
        bleed_mm=F(3),
        trim=NormalBox(F(1, 50), F(1, 50), F(49, 50), F(49, 50)),
        safe=NormalBox(F(1, 20), F(1, 20), F(19, 20), F(19, 20)),
        gutter=Gutter(F(1, 2), F(3, 100)),
        caution="Ask the printer for the margin at the spine.",
    ),
    "print": Destination(
        name="print", title="Print 4x5", shape=shape(4, 5), page_mm=(F(102), F(127)), turnable=True
    ),
}


def a_picture(longest: int) -> Image.Image:
    """A grey ramp with a warm disc, carrying metadata that no preview may carry."""
    picture = Image.linear_gradient("L").resize((MASTER.width, MASTER.height)).convert("RGB")
    picture.paste((214, 160, 130), (400, 200, 800, 960))
    picture.thumbnail((longest, longest))
    picture.info["comment"] = b"secret-comment"
    picture.info["icc_profile"] = b"secret-profile"
    picture.info["exif"] = b"Exif\x00\x00secret-exif"
    return picture


def a_refusal() -> Answer:
    return Answer(
        destination="header",
        no_crop=NoCrop(
            destination="header",
            conflicts=(
                Conflict(
                    first="eyes",
                    second="shape",
                    short_px=412,
                    side="above",
                    sentence="The 3:1 header needs 412 px more above the hair.",
                ),
            ),
            ways_out=(WayOut(kind="border", sentence="Add a border of 412 px above."),),
            sentence="No 3:1 crop keeps eyes and chin.",
        ),
    )


BOXES = {
    "tall": (PixelBox(60, 90, 1140, 1440), PixelBox(240, 150, 960, 1050)),
    "avatar": (PixelBox(150, 100, 1050, 1000), PixelBox(300, 200, 900, 800)),
    "story": (PixelBox(200, 50, 1010, 1490), PixelBox(420, 300, 780, 940)),
    "spread": (PixelBox(0, 100, 1190, 950), PixelBox(10, 120, 1200, 970)),
    "print": (PixelBox(100, 100, 1100, 1350), PixelBox(0, 0, 1200, 960)),
}


def an_entry(name: str, verdict: Verdict = Verdict.HOLDS) -> ProofEntry:
    if name == "header":
        return ProofEntry(destination=DESTINATIONS[name], answer=a_refusal())
    first, second = BOXES[name]
    proposals = (a_proposal(first, verdict), a_proposal(second, Verdict.BENDS, "tighter"))
    return ProofEntry(
        destination=DESTINATIONS[name], answer=Answer(destination=name, proposals=proposals)
    )


def a_master(version: str = "roll-neck", file: str = "roll-neck.jpg") -> ProofMaster:
    verdicts = [*list(Verdict)[:4], Verdict.HOLDS]
    entries = [an_entry(name, verdict) for name, verdict in zip(BOXES, verdicts, strict=True)]
    return ProofMaster(
        version=version,
        file=file,
        finding=Finding(size=MASTER, subjects=(a_subject(),)),
        picture=a_picture,
        entries=(*entries, an_entry("header")),
        set_name="winter",
    )


@pytest.fixture
def sheet() -> Sheet:
    """Two versions of one set, with every kind of destination, and a matrix."""
    cells = tuple(
        MatrixCell(
            version=version,
            destination=name,
            verdict=Verdict.HOLDS,
            lost=0.2,
            spare_px=spare,
            sentence="Fits well.",
            place=place,
        )
        for version, spare, place in (("roll-neck", 120, "assigned"), ("hooded", -40, "runner-up"))
        for name in ("tall", "avatar")
    )
    rivals = SetMatrix(
        name="winter",
        versions=("roll-neck", "hooded"),
        destinations=("tall", "avatar"),
        cells=cells,
        sentences=("The roll-neck one goes to both.",),
    )
    return Sheet(
        title="Fernhollow winter",
        masters=(a_master(), a_master("hooded", "hooded.jpg")),
        matrices=(rivals,),
        failures=(("broken.jpg", "This is not a picture."),),
    )


@pytest.fixture
def named() -> Callable[[str], Sheet]:
    """A sheet in which every text of the photographer's is the given one."""

    def make(text: str) -> Sheet:
        zone = CoveredZone(text, NormalBox(F(0), F(0), F(1), F(1, 10)), KeepClear.EYES)
        area = LiveArea(text, NormalBox(F(1, 4), F(0), F(3, 4), F(1)))
        measure = replace(
            a_measure(Verdict.HOLDS), title=text, sentence=text, source=text, unit=text
        )
        first = replace(
            a_proposal(BOXES["tall"][0]), kind=text, shot=text, reasons=(text,), measures=(measure,)
        )
        destination = replace(
            DESTINATIONS["tall"],
            name=text,
            title=text,
            caution=text,
            covered=(zone,),
            live_areas=(area,),
        )
        entry = ProofEntry(
            destination=destination,
            answer=Answer(
                destination=text, proposals=(first, an_entry("tall").answer.proposals[1])
            ),
            chosen=first,
            chosen_by=text,
            note=text,
        )
        refused = an_entry("header")
        assert refused.answer.no_crop is not None
        no_crop = replace(
            refused.answer.no_crop,
            sentence=text,
            conflicts=(replace(refused.answer.no_crop.conflicts[0], sentence=text),),
            ways_out=(WayOut(kind="border", sentence=text),),
        )
        refusal = replace(refused, answer=Answer(destination="header", no_crop=no_crop))
        finding = Finding(
            size=MASTER,
            subjects=(replace(a_subject(), why=text), replace(a_subject(), why=text)),
            problem=text,
        )
        master = ProofMaster(
            version=text,
            file=text,
            finding=finding,
            picture=a_picture,
            entries=(entry, refusal),
            set_name=text,
        )
        cell = MatrixCell(
            version=text,
            destination=text,
            verdict=Verdict.HOLDS,
            lost=0.1,
            spare_px=0,
            sentence=text,
            place=text,
        )
        rivals = SetMatrix(
            name=text, versions=(text,), destinations=(text,), cells=(cell,), sentences=(text,)
        )
        return Sheet(
            title=text,
            masters=(master,),
            matrices=(rivals,),
            failures=((text, text),),
            dated=text,
        )

    return make
