"""How far each way to crop agrees with picture editors: this planner, and three to compare with.

Editors drew crops by eye for pictures and shapes, without seeing any program's
(``bench/editors/``). A planner's crop of the same cell is compared by intersection over union; no
crop counts 0. Writes docs/three-planners.md.

Run from the top of the checkout: ``python -m bench.planners`` (a minute or two). Portraits of real
people are not part of the project: ``--portraits FOLDER --boxes FILE`` adds those that you have.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from bench.asked_planners import ROOT, Planner, planners
from bench.planner_worker import geometry
from cropper.job.looking import MasterLooker
from cropper.job.plan import HandMarks

PAGE: Final = ROOT / "docs" / "three-planners.md"
EDITORS: Final = Path(__file__).parent / "editors"
DEMO: Final = ROOT / "demo_images"
WELL: Final = 0.8
POORLY: Final = 0.6
"""House: two editors agree with each other at .9; at .8 a crop tells the same, below .6 another."""

SHAPES: Final = {
    "square": ("square-post", 1.0),
    "tall": ("tall-post", 4 / 5),
    "story": ("story", 9 / 16),
    "wide": ("wide", 16 / 9),
    "header": ("page-header", 3.0),
    "link": ("link-preview", 1200 / 630),
    "circle": ("avatar", 1.0),
    "print": ("print-4x6", 2 / 3),
    "cover": ("cover-a4", 210 / 297),
    "spread": ("spread-a4", 420 / 297),
}
"""The editors' shapes: the destination that asks for each, and width over height."""
TURNS: Final = "print"
"""The shape that lies as the picture does."""

Sides = tuple[float, float, float, float]
"""Left, top, right, bottom, in pixels of the picture."""


@dataclass(frozen=True, slots=True)
class Crop:
    """What a planner answers for a cell."""

    sides: Sides
    verdict: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """A picture in a shape: the editors' boxes (None: no crop worth signing), and the planners'."""

    collection: str
    picture: str
    shape: str
    editors: tuple[Sides | None, ...]
    crops: dict[str, Crop | None]

    @property
    def drawn(self) -> list[Sides]:
        """The boxes of those editors who drew one."""
        return [box for box in self.editors if box is not None]

    def agreement(self, planner: str) -> float:
        """Mean over the editors' boxes; 0 without a crop."""
        crop = self.crops[planner]
        return 0.0 if crop is None else statistics.mean(shared(crop.sides, b) for b in self.drawn)

    def refused(self, planner: str) -> bool:
        """Whether an editor would send the crop back: far from every box, or none was drawn."""
        crop = self.crops[planner]
        return crop is not None and all(shared(crop.sides, box) < POORLY for box in self.drawn)


def shared(one: Sides, other: Sides) -> float:
    """Intersection over union of two boxes."""
    across = max(0.0, min(one[2], other[2]) - max(one[0], other[0]))
    down = max(0.0, min(one[3], other[3]) - max(one[1], other[1]))
    return across * down / (area(one) + area(other) - across * down)


def area(box: Sides) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


# --- the cells -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its people (see :mod:`bench.planner_worker`), and its file if there is one."""

    collection: str
    name: str
    finding: dict[str, Any]
    editors: list[dict[str, list[float] | None]]
    file: Path | None = None


def pictures(portraits: Path | None, boxes: Path | None) -> Iterator[Picture]:
    """Every picture that an editor cropped. People come from the finder where there are pixels."""
    design = read(EDITORS / "design.json")["pictures"]
    for name, told in design.items():
        yield Picture("design", name, told, told["editors"])
    sets = [("demo", DEMO, read(EDITORS / "demo.json")["masters"])]
    if portraits and boxes:
        sets.append(("portraits", portraits, read(boxes)["pictures"]))
    looker = MasterLooker()
    for collection, folder, wanted in sets:
        for name, told in wanted.items():
            file = folder / f"{name}.jpg"
            found = looker.look(file, HandMarks()).finding
            print(f"{collection} {name}: {len(found.subjects)} found", file=sys.stderr)
            yield Picture(collection, name, geometry(found), told["editors"], file)


def read(file: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return told


def cells(picture: Picture, asked: dict[str, Planner]) -> Iterator[Cell]:
    """All shapes of a picture, cropped in every way."""
    wide, high = picture.finding["width"], picture.finding["height"]
    shapes = list(picture.editors[0])
    names = [SHAPES[shape][0] for shape in shapes]
    answers = {
        planner: one.ask(picture.finding, names, pixels=False)["crops"]
        for planner, one in asked.items()
    }
    look = attention(picture.file) if picture.file else None
    for shape, name in zip(shapes, names, strict=True):
        size = largest(wide, high, ratio_of(shape, wide, high))
        crops = {planner: cropped(told[name]) for planner, told in answers.items()}
        crops["centred"] = Crop(centred(wide, high, *size))
        if look is not None:
            crops["attention"] = Crop(look(*size))
        yield Cell(
            picture.collection,
            picture.name,
            shape,
            tuple(in_pixels(one[shape], wide, high) for one in picture.editors),
            crops,
        )


def cropped(told: dict[str, Any] | None) -> Crop | None:
    if told is None:
        return None
    x0, y0, x1, y1 = told["seen"]
    return Crop((x0, y0, x1, y1), told["verdict"], " ".join(told["reasons"]))


def in_pixels(box: list[float] | None, wide: int, high: int) -> Sides | None:
    if box is None:
        return None
    return box[0] * wide, box[1] * high, box[2] * wide, box[3] * high


# --- the plain ways --------------------------------------------------------------------------


def ratio_of(shape: str, wide: int, high: int) -> float:
    ratio = SHAPES[shape][1]
    return 1 / ratio if shape == TURNS and wide > high else ratio


def largest(wide: int, high: int, ratio: float) -> tuple[int, int]:
    """The largest size of a shape in a picture."""
    across = min(wide, round(high * ratio))
    return across, min(high, round(across / ratio))


def centred(wide: int, high: int, w: int, h: int) -> Sides:
    """The box of w x h in the middle."""
    x0, y0 = (wide - w) // 2, (high - h) // 2
    return x0, y0, x0 + w, y0 + h


def attention(file: Path) -> Callable[[int, int], Sides]:
    """The library's attention crop of one picture, as a box."""
    import pyvips

    whole: Any = pyvips.Image.new_from_file(str(file)).autorot().copy_memory()

    def crop(w: int, h: int) -> Sides:
        cut = whole.smartcrop(w, h, interesting="attention")
        x0, y0 = -cut.xoffset, -cut.yoffset
        return x0, y0, x0 + w, y0 + h

    return crop


# --- the page --------------------------------------------------------------------------------

TITLES: Final = {
    "today": "this planner",
    "former": "its first design",
    "centred": "largest crop, centred",
    "attention": "largest crop, attention-based",
}


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = [head, ["---"] * len(head), *rows]
    return [f"| {' | '.join(line)} |" for line in lines]


def agreements(some: Sequence[Cell], planner: str) -> list[float]:
    """Of the cells for which an editor drew a box."""
    return [one.agreement(planner) for one in some if one.drawn]


def among_editors(some: Sequence[Cell]) -> list[float]:
    return [shared(*one.drawn) for one in some if len(one.drawn) == 2]


def summary(some: Sequence[Cell]) -> list[str]:
    """One collection: a row for each way to crop."""
    rows = []
    for planner, title in TITLES.items():
        if planner not in some[0].crops:
            continue
        values = agreements(some, planner)
        answered = [one.crops[planner] is not None for one in some if one.drawn]
        rows.append([title, percent(answered), *told(values)])
    if each_other := among_editors(some):
        rows.append(["the editors with each other", "", *told(each_other)])
    head = ["", "answered", "agreement", f"share at {WELL} or more", f"share below {POORLY}"]
    return table(head, rows)


def told(values: Sequence[float]) -> list[str]:
    well, poorly = [v >= WELL for v in values], [v < POORLY for v in values]
    return [f"{statistics.mean(values):.3f}", percent(well), percent(poorly)]


def percent(values: Sequence[bool]) -> str:
    return f"{100 * statistics.mean(values):.1f} %" if values else "-"


def by_shape(some: Sequence[Cell]) -> list[str]:
    """Mean agreement for each shape and way to crop."""
    rows = []
    for shape in SHAPES:
        mine = [one for one in some if one.shape == shape]
        if any(one.drawn for one in mine):
            rows.append(
                [
                    shape,
                    *(
                        f"{statistics.mean(agreements(mine, planner)):.3f}"
                        if planner in mine[0].crops
                        else "-"
                        for planner in TITLES
                    ),
                ]
            )
    return table(["shape", *TITLES.values()], rows)


def calibration(some: Sequence[Cell]) -> list[str]:
    """Of each verdict, how many crops an editor would send back."""
    words = {"holds": "good", "bends": "fine", "uncertain": "check", "breaks": "problem"}
    rows = []
    for verdict, word in words.items():
        mine = [
            one.refused("today")
            for one in some
            if (crop := one.crops["today"]) is not None and crop.verdict == verdict
        ]
        rows.append([word, str(len(mine)), str(sum(mine)), percent(mine)])
    return table(["verdict", "crops", "an editor sends back", ""], rows)


def furthest(some: Sequence[Cell], count: int = 12) -> list[str]:
    """The crops that agree least, with what the planner says of them."""
    drawn = sorted((one for one in some if one.drawn), key=lambda one: one.agreement("today"))
    rows = []
    for one in drawn[:count]:
        crop = one.crops["today"]
        said = "no crop" if crop is None else f"{crop.verdict}: {crop.reason}"
        rows.append([one.picture, one.shape, f"{one.agreement('today'):.2f}", said])
    return table(["picture", "shape", "agreement", "what it says"], rows)


def page(every: Sequence[Cell]) -> str:
    """docs/three-planners.md."""
    lines = [
        "# Ways to crop, held against editors",
        "",
        "Written by `python -m bench.planners`; do not edit by hand.",
        "",
        "Picture editors drew crops by eye, without seeing any program's. A crop's *agreement* is",
        "its intersection over union with an editor's box, the mean of the editors who drew one;",
        "no crop counts 0. Delivered sizes are taken off, so that pixels play no part. Cells in",
        "which no editor found a crop worth signing count in the calibration alone.",
        "",
        "- **this planner**: the first proposal. **its first design**: the planner before the sum",
        "  of rules, run on the same points.",
        "- **largest crop, centred**: the largest of the shape, in the middle.",
        "- **attention-based**: the largest of the shape where a general imaging library (libvips,",
        "  `smartcrop` with `attention`) puts it.",
        "",
        "Several weights of the rules were fitted to the *design* set: there the planner knows the",
        "answers. [The rules](composition.md) mark which.",
        "",
    ]
    titles = {
        "design": "Design set: points and boxes, without pictures",
        "demo": "Demo masters, people as the finder finds them",
        "portraits": "Portraits that nothing was fitted to, people as the finder finds them",
    }
    for collection, title in titles.items():
        some = [one for one in every if one.collection == collection]
        if not some:
            continue
        count = len({one.picture for one in some})
        lines += [f"## {title}", "", f"{count} pictures, {len(some)} cells.", ""]
        lines += [*summary(some), "", *by_shape(some), ""]
        lines += ["Verdicts:", "", *calibration(some), ""]
        lines += ["Where it agrees least:", "", *furthest(some), ""]
    lines += [
        "## Verdicts over all",
        "",
        f"An editor *sends back* what agrees with no editor's box at {POORLY} or more, and any",
        "crop where no editor drew one. That stands in for a look at the crop itself (house).",
        "",
        *calibration(every),
        "",
    ]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.planners", description=__doc__)
    parser.add_argument("--to", type=Path, default=PAGE, help="where the page goes")
    parser.add_argument("--portraits", type=Path, help="a folder of portraits, NUMBER.jpg")
    parser.add_argument("--boxes", type=Path, help="the editors' boxes for them")
    parser.add_argument(
        "--cells", type=Path, help="also write every cell as JSON, for a close look"
    )
    given = parser.parse_args()
    with planners() as asked:
        every = [
            cell for one in pictures(given.portraits, given.boxes) for cell in cells(one, asked)
        ]
    if given.cells:
        given.cells.write_text(json.dumps([as_row(one) for one in every], indent=1), "utf-8")
    given.to.write_text(page(every), encoding="utf-8")
    print(page(every))


def as_row(one: Cell) -> dict[str, Any]:
    """A cell as JSON."""
    crops = {
        planner: crop and {"sides": crop.sides, "verdict": crop.verdict, "reason": crop.reason}
        for planner, crop in one.crops.items()
    }
    agreement = {planner: one.agreement(planner) for planner in crops} if one.drawn else {}
    return {
        "set": one.collection,
        "picture": one.picture,
        "shape": one.shape,
        "editors": one.editors,
        "crops": crops,
        "agreement": agreement,
    }


if __name__ == "__main__":
    main()
