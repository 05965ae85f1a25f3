"""Frames of one sitting, worn by chance: ``python -m bench.likeness_frames SEED [ROUNDS]``.

Every demo master with its first person, and four other frames made of it by code. Known is one of
the five; the file shows that one, or another that is not known. Wear is drawn by the seed: size,
quality, tint, cut, a turn. Told by tiles alone and with a closer look at faces and lean, by how
high the head stands in the file. Seeds 1 and 2 were looked at when the limits were chosen
(design/likeness).
"""

from __future__ import annotations

import sys
from collections import Counter

import cv2
import numpy as np

from bench.likeness import DEMO, Pixels, crops, faces, pictures
from cropper.likeness.faces import Faces
from cropper.likeness.fingerprint import Fingerprint, fingerprint
from cropper.likeness.recognising import State, recognised
from cropper.likeness.shelf import shelf
from tests.likeness import sitting, wear

Case = tuple[str, str]
HEADS = (60, 120, 10_000)
"""Heads up to so many pixels are counted together."""


def drawn(rng: np.random.Generator) -> tuple[wear.Wear, ...]:
    """Some wear, as chance has it."""
    more: tuple[tuple[wear.Wear, ...], ...] = (
        (),
        (wear.toned(*rng.uniform(0.75, 1.25, 3)),),
        (wear.toned(0.8, 0.8, 0.85, 0.12),),
        (wear.grey,),
        (wear.jpeg(int(rng.integers(50, 80))), wear.resized(float(rng.uniform(0.6, 1.8)))),
        (wear.turned(float(rng.uniform(-2, 2))),),
        (wear.cut(float(rng.uniform(0.75, 0.95)), *rng.uniform(0.2, 0.8, 2)),),
    )
    px = int(rng.choice([320, 400, 480, 640, 800, 1080, 1440]))
    chosen = more[int(rng.integers(len(more)))]
    return (wear.wide(px), *chosen, wear.jpeg(int(rng.integers(30, 91))))


def states(pixels: Pixels, known: Fingerprint) -> tuple[str, str]:
    """The answer, and what it would have been without a closer look."""
    told = recognised(pixels, shelf([known]), {known.sha256: known}.get)
    near = told.likenesses[0] if told.likenesses else None
    if near is None or not near.sure:
        return str(told.state), str(told.state)
    tiles = State.UNDECIDED if near.differs is not None else State.SURE
    small = told.state is State.SURE and near.faces is Faces.TOO_SMALL
    return str(told.state) + (", faces too small" if small else ""), str(tiles)


def heads(worn: wear.Worn, head_px: float) -> str:
    shown = worn.pixels.shape[1] * head_px / (worn.part[2] - worn.part[0])
    most = next(most for most in HEADS if shown < most)
    return f"head below {most} px" if most < HEADS[-1] else f"head of {HEADS[-2]} px or more"


def main() -> None:
    cv2.setNumThreads(1)
    rng = np.random.default_rng(int(sys.argv[1]))
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    counts: dict[Case, Counter[str]] = {}
    for name, pixels in pictures().items():
        truth = sitting.person(DEMO / f"fernhollow_{name}.jpg")
        _, head_px = sitting.eyes_and_head(truth)
        made = sitting.frames(pixels, truth)
        frames = {"first": pixels, **{what: make() for what, make in made.items()}}
        boxes, cut = faces(name, pixels), crops(name, pixels)
        kept = {what: fingerprint(what, one, cut, boxes) for what, one in frames.items()}
        for shown, frame in frames.items():
            for _ in range(rounds):
                worn = wear.worn(frame, *drawn(rng))
                others = [one for one in frames if one != shown]
                for known in (shown, str(rng.choice(others))):
                    whose = "own file" if known == shown else "another frame's"
                    counted = counts.setdefault((whose, heads(worn, head_px)), Counter())
                    now, tiles = states(worn.pixels, kept[known])
                    counted[f"by tiles alone: {tiles}"] += 1
                    counted[f"with a closer look: {now}"] += 1
        print(f"{name} done", file=sys.stderr, flush=True)
    for case, counted in sorted(counts.items()):
        print(", ".join(case))
        for how, count in sorted(counted.items()):
            print(f"  {how}: {count}")


if __name__ == "__main__":
    main()
