"""How well found files are known again: recall, false matches, error of the crop, and growth.

    python -m bench.likeness              the table, a few minutes
    python -m bench.likeness --quick      every fourth file
    python -m bench.likeness --growth     what a search costs among 9 to 10,000 pictures
    python -m bench.likeness_frames 3     frames of one sitting, wear drawn by that seed

Known are nine demo masters with two exported crops each (boxes made from the truth files' eyes),
so 27 deliverables go through each kind of wear of ``tests/likeness/wear.py``. The other demo
renderings, frames of the same sittings made by code (``tests/likeness/sitting.py``) and pictures
made by code are not known: whatever is said of them but "unknown" or "undecided" is false.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from cropper.geometry import PixelBox, Size
from cropper.likeness.faces import face_box
from cropper.likeness.fingerprint import Fingerprint, fingerprint, to_bytes
from cropper.likeness.recognising import Recognised, State, recognised
from cropper.likeness.shelf import Shelf, opened, shelf
from cropper.likeness.shelf import to_bytes as to_bytes_of_shelf
from cropper.master.opening import open_master
from tests.likeness import sitting, wear

DEMO = Path(__file__).resolve().parent.parent / "demo_images"
KNOWN = (
    "a_frontal",
    "b_wide_threequarter",
    "c_figure_headroom",
    "d_pair",
    "e_mill_hall",
    "f_tilted",
    "g_beauty_closeup",
    "h_group_of_five",
    "i_shawl_rival",
)
Pixels = npt.NDArray[np.uint8]
Made = tuple[str, PixelBox, Pixels]
Known = tuple[Shelf, dict[str, Fingerprint]]
WHITE, BLACK, DUN = (255, 255, 255), (0, 0, 0), (128, 120, 110)

WEARS: dict[str, tuple[wear.Wear, ...]] = {
    "JPEG 90, 1080 px": (wear.wide(1080), wear.jpeg(90)),
    "JPEG 60, 1080 px": (wear.wide(1080), wear.jpeg(60)),
    "JPEG 30, 1080 px": (wear.wide(1080), wear.jpeg(30)),
    "25 % of 1080, JPEG 50": (wear.wide(1080), wear.resized(0.25), wear.jpeg(50)),
    "50 % of 1080, JPEG 30": (wear.wide(1080), wear.resized(0.5), wear.jpeg(30)),
    "200 % of 640, JPEG 60": (wear.wide(640), wear.jpeg(70), wear.resized(2), wear.jpeg(60)),
    "cut to 90 %": (wear.wide(1080), wear.cut(0.9, 0.2, 0.7), wear.jpeg(70)),
    "cut to 80 %": (wear.wide(1080), wear.cut(0.8, 0.6, 0.3), wear.jpeg(70)),
    "cut to 70 %": (wear.wide(1080), wear.cut(0.7, 0.5, 0.4), wear.jpeg(50)),
    "white border": (wear.wide(900), wear.bordered(0.06, WHITE), wear.jpeg(70)),
    "black border": (wear.wide(900), wear.bordered(0.15, BLACK), wear.jpeg(70)),
    "border like the backdrop": (wear.wide(900), wear.bordered(0.08, DUN), wear.jpeg(70)),
    "grey": (wear.wide(1080), wear.grey, wear.jpeg(70)),
    "warm tint": (wear.wide(1080), wear.toned(0.85, 1.0, 1.2), wear.jpeg(70)),
    "faded (lifted blacks)": (wear.wide(1080), wear.toned(0.8, 0.8, 0.85, 0.12), wear.jpeg(70)),
    "screenshot, 700 px high": (wear.screenshot(700), wear.jpeg(80)),
    "dark screenshot, 400 px": (wear.screenshot(400, dark=True), wear.jpeg(80)),
    "mirrored": (wear.wide(1080), wear.mirrored, wear.jpeg(70)),
    "turned 1 degree": (wear.wide(1080), wear.turned(1), wear.jpeg(70)),
    "turned 3 degrees": (wear.wide(1080), wear.turned(-3), wear.jpeg(70)),
    "a label laid over it": (wear.wide(1080), wear.lettered, wear.jpeg(70)),
}


@dataclass
class Tally:
    """One row of the table."""

    files: int = 0
    sure: int = 0
    undecided: int = 0
    unknown: int = 0
    false: int = 0
    errors_px: list[float] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def pictures() -> dict[str, Pixels]:
    return {name: open_master(DEMO / f"fernhollow_{name}.jpg").srgb8() for name in KNOWN}


def crops(name: str, pixels: Pixels) -> tuple[PixelBox, ...]:
    """A square and a tall crop about the first face's eyes, as exports have them."""
    face = sitting.person(DEMO / f"fernhollow_{name}.jpg")
    high, wide = pixels.shape[:2]
    x = (face["left_eye"][0] + face["right_eye"][0]) / 2
    y = (face["left_eye"][1] + face["right_eye"][1]) / 2
    head = abs(face["chin"][1] - face["crown"][1])
    return tuple(
        _box((x, y), across * head, down * head, (wide, high))
        for across, down in ((2.2, 2.2), (3.0, 3.75))
    )


def _box(at: tuple[float, float], across: float, down: float, size: tuple[int, int]) -> PixelBox:
    (x, y), (wide, high) = at, size
    share = min(1.0, wide / across, high / down)
    width, height = int(across * share), int(down * share)
    left = int(min(max(x - width / 2, 0), wide - width))
    top = int(min(max(y - 0.38 * height, 0), high - height))
    return PixelBox(left, top, left + width, top + height)


def faces(name: str, pixels: Pixels) -> tuple[PixelBox, ...]:
    """Boxes round the faces, as the truth files have them."""
    high, wide = pixels.shape[:2]
    return tuple(
        found
        for face in sitting.people(DEMO / f"fernhollow_{name}.jpg")
        if (found := face_box(*sitting.eyes_and_head(face), Size(wide, high))) is not None
    )


def deliverables(known: dict[str, Pixels]) -> Iterator[Made]:
    for name, pixels in known.items():
        high, wide = pixels.shape[:2]
        for box in (PixelBox(0, 0, wide, high), *crops(name, pixels)):
            yield name, box, pixels[box.y0 : box.y1, box.x0 : box.x1]


def foreign(known: dict[str, Pixels]) -> Iterator[tuple[str, Pixels]]:
    """Pictures that are not ours."""
    yield "another rendering", open_master(DEMO / "fernhollow_a_master.jpg").srgb8(2048)
    y, x = np.mgrid[0:900, 0:1200].astype(np.float32)
    for seed in range(12):
        rng = np.random.default_rng(seed)
        noise = cv2.GaussianBlur(rng.normal(0, 1, (900, 1200, 3)), (0, 0), 2.0 + seed)
        stripes = 60 * np.sin(x / (3 + seed) + y / 40)[..., None]
        yield "made by code", np.clip(128 + 200 * noise + stripes, 0, 255).astype(np.uint8)
    for name in ("a_frontal", "f_tilted", "i_shawl_rival"):
        worn = wear.worn(known[name], wear.cut(0.22, 0.02, 0.02))
        yield "plain backdrop alone", worn.pixels


def measure(worn: wear.Worn, box: PixelBox, told: Recognised) -> tuple[float, float]:
    """Largest error of the found crop's corners: master px, and share of the crop's long side."""
    crop = told.likenesses[0].crop
    sx, sy = box.width / worn.whole[0], box.height / worn.whole[1]
    x0, y0, x1, y1 = worn.part
    true = wear.corners(
        (box.x0 + x0 * sx, box.y0 + y0 * sy, box.x0 + x1 * sx, box.y0 + y1 * sy), worn.turn_deg
    )
    found = [(point.x, point.y) for point in crop.corners]
    error = max(float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in zip(true, found, strict=True))
    return error, error / max(box.width, box.height)


def known_shelf(known: dict[str, Pixels]) -> Known:
    prints = {
        name: fingerprint(name, pixels, crops(name, pixels), faces(name, pixels))
        for name, pixels in known.items()
    }
    return shelf(prints.values()), prints


def table(step: int) -> None:
    known = pictures()
    everything, prints = known_shelf(known)
    made = list(deliverables(known))[::step]
    print(f"{len(known)} masters, {len(made)} deliverables, {len(WEARS)} kinds of wear")
    print(
        "| wear | sure | undecided | unknown | false | crop error px: median / p95 / max |"
        " % of side: max | CPU s |"
    )
    print("|---|---|---|---|---|---|---|---|")
    total = Tally()
    for wearing, steps in WEARS.items():
        tally = Tally()
        for one in made:
            _one(tally, one, steps, (everything, prints))
        _row(wearing, tally)
        _add(total, tally)
    _row("all", total)
    _foreign(known, everything, prints)
    _frames(known, step)


def _one(tally: Tally, made: Made, steps: tuple[wear.Wear, ...], known: Known) -> None:
    name, box, pixels = made
    worn = wear.worn(pixels, *steps)
    start = time.process_time()
    told = recognised(worn.pixels, known[0], known[1].get)
    tally.seconds.append(time.process_time() - start)
    tally.files += 1
    names = [one.sha256 for one in told.likenesses]
    if told.state is State.UNKNOWN:
        tally.unknown += 1
        return
    if names[0] != name and (told.state is State.SURE or name not in names):
        tally.false += 1
        return
    tally.sure += told.state is State.SURE
    tally.undecided += told.state is State.UNDECIDED
    error, share = measure(worn, box, told)
    tally.errors_px.append(error)
    tally.shares.append(share)


def _add(total: Tally, one: Tally) -> None:
    for name in vars(total):
        setattr(total, name, getattr(total, name) + getattr(one, name))


def _row(name: str, tally: Tally) -> None:
    errors = tally.errors_px or [float("nan")]
    p50, p95, most = np.median(errors), np.quantile(errors, 0.95), max(errors)
    print(
        f"| {name} | {tally.sure}/{tally.files} | {tally.undecided} | {tally.unknown} |"
        f" {tally.false} | {p50:.1f} / {p95:.1f} / {most:.1f} |"
        f" {100 * max(tally.shares or [float('nan')]):.2f} | {np.mean(tally.seconds):.2f} |",
        flush=True,
    )


def _foreign(known: dict[str, Pixels], everything: Shelf, prints: dict[str, Fingerprint]) -> None:
    print("\nNot ours (sure is false):")
    for what, pixels in foreign(known):
        told = recognised(pixels, everything, prints.get)
        near = told.likenesses[0] if told.likenesses else None
        print(f"  {what}: {told.state}" + (f", nearest {near.agreeing:.2f}" if near else ""))
    print("Each master against all the others, itself not known:")
    for name, pixels in known.items():
        others = {one: kept for one, kept in prints.items() if one != name}
        told = recognised(
            wear.worn(pixels, wear.wide(1080)).pixels, shelf(others.values()), others.get
        )
        near = told.likenesses[0] if told.likenesses else None
        print(f"  {name}: {told.state}" + (f", nearest {near.agreeing:.2f}" if near else ""))


def _frames(known: dict[str, Pixels], step: int) -> None:
    """Frames of one sitting: all of them known, then all but the one that the file shows."""
    counts: dict[str, dict[str, int]] = {"all known": {}, "the one shown not known": {}}
    for name in ("a_frontal", "c_figure_headroom", "f_tilted", "i_shawl_rival"):
        made = sitting.frames(known[name], sitting.person(DEMO / f"fernhollow_{name}.jpg"))
        frames = {"first": known[name], **{what: make() for what, make in made.items()}}
        boxes = faces(name, known[name])
        prints = {what: fingerprint(what, one, (), boxes) for what, one in frames.items()}
        for what, pixels in frames.items():
            for quality, px in ((60, 1080), (30, 480), (70, 800))[:: max(1, step // 2)]:
                found = wear.worn(pixels, wear.wide(px), wear.jpeg(quality)).pixels
                for case, some in (
                    ("all known", prints),
                    ("the one shown not known", {k: v for k, v in prints.items() if k != what}),
                ):
                    told = recognised(found, shelf(some.values()), some.get)
                    key = _judged(told, what, case)
                    counts[case][key] = counts[case].get(key, 0) + 1
    for case, judged in counts.items():
        print(f"Frames of one sitting, {case}: {judged}")


def _judged(told: Recognised, what: str, case: str) -> str:
    if told.state is not State.SURE:
        return str(told.state)
    if case != "all known":
        return "sure of a twin"
    return "sure and right" if told.likenesses[0].sha256 == what else "sure and WRONG"


def growth() -> None:
    """A shelf of nine real masters and thousands of others with shuffled descriptors.

    The others' fingerprints, when one is a candidate, are those of the real ones under their name,
    so that laying the file on them costs what it costs.
    """
    known = pictures()
    start = time.process_time()
    prints = {
        name: fingerprint(name, pixels, (), faces(name, pixels)) for name, pixels in known.items()
    }
    made = (time.process_time() - start) / len(prints)
    size = np.mean([len(to_bytes(one)) for one in prints.values()]) / 1000
    print(f"One fingerprint: {made:.2f} CPU s after decoding, {size:.0f} KB")
    print("| known | shelf read, ms | candidates, CPU ms | whole answer, CPU s | shelf MB |")
    print("|---|---|---|---|---|")
    found = wear.worn(known["a_frontal"], wear.wide(1080), wear.jpeg(60)).pixels
    look = fingerprint("found", found)
    for count in (9, 100, 1000, 10_000):
        everything = _padded(shelf(prints.values()), count)
        read = _reading(everything)
        asked = look.views[0].features, tuple(look.hashes.values())
        vote = _took(lambda shelf=everything, asked=asked: shelf.candidates(*asked))
        whole = _took(lambda shelf=everything: recognised(found, shelf, _stand_in(prints)))
        print(
            f"| {count} | {1000 * read:.0f} | {1000 * vote:.0f} | {whole:.2f} |"
            f" {everything.descriptors.nbytes / 1e6:.1f} |",
            flush=True,
        )


def _reading(everything: Shelf) -> float:
    """CPU seconds to open the shelf from the disk."""
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "shelf.npz"
        file.write_bytes(to_bytes_of_shelf(everything, dict.fromkeys(everything.names, "")))
        return _took(lambda: opened(file))


def _took(work: Callable[[], object]) -> float:
    """The quicker of two runs, CPU seconds."""
    took = []
    for _ in range(2):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return min(took)


def _padded(real: Shelf, count: int) -> Shelf:
    rng = np.random.default_rng(7)
    more = count - len(real.names)
    rows = real.descriptors[rng.integers(0, len(real.views), more)].copy()
    rng.permuted(rows, axis=2, out=rows)
    views = np.stack([np.arange(more) + len(real.names), np.zeros(more)], axis=1)
    return Shelf(
        names=(*real.names, *(f"other-{number}" for number in range(more))),
        views=np.concatenate([real.views, views]).astype(np.int32),
        descriptors=np.concatenate([real.descriptors, rows]),
        hashes=np.concatenate([real.hashes, rng.integers(0, 2**63, more, dtype=np.uint64)]),
        hash_owners=np.concatenate([real.hash_owners, views[:, 0]]).astype(np.int32),
    )


def _stand_in(prints: dict[str, Fingerprint]) -> Callable[[str], Fingerprint]:
    def load(name: str) -> Fingerprint:
        return prints.get(name) or replace(prints["e_mill_hall"], sha256=name)

    return load


def main() -> None:
    asked: Any = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true")
    asked.add_argument("--growth", action="store_true")
    given = asked.parse_args()
    cv2.setNumThreads(1)
    if given.growth:
        growth()
    else:
        table(4 if given.quick else 1)


if __name__ == "__main__":
    main()
