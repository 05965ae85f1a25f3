"""How a face's worst window correlates in worn files: of the frame itself, and of another frame.

    python design/likeness/faces.py SEED     some minutes; about 270 faces of the frame itself

By the side of the face's box in pixels (a head is 1.25 of it). Known is the master; the file shows it
or one of its frames made by code, under wear drawn by the seed. Then the shear of the map.
"""

import sys
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import cv2
import numpy as np

from bench.likeness import DEMO, crops, faces, pictures
from bench.likeness_frames import drawn
from cropper.likeness import faces as closer
from cropper.likeness.features import features
from cropper.likeness.fingerprint import MOST_FEATURES, VIEW_PX, fingerprint, reduced_grey
from cropper.likeness.registration import Lie, registered
from tests.likeness import sitting, wear

cv2.setNumThreads(1)
SIDES = (30, 40, 48, 56, 64, 80, 120, 10_000)
rng = np.random.default_rng(int(sys.argv[1]))
worst, shear = defaultdict(list), defaultdict(list)
for name, pixels in pictures().items():
    truth = sitting.person(DEMO / f"fernhollow_{name}.jpg")
    known = fingerprint(name, pixels, crops(name, pixels), faces(name, pixels))
    frames = {"own": pixels, **{what: make() for what, make in sitting.frames(pixels, truth).items()}}
    for what, frame in frames.items():
        for _ in range(12 if what == "own" else 3):
            worn = wear.worn(frame, *drawn(rng)).pixels
            grey = reduced_grey(worn, VIEW_PX)
            found = registered(features(grey, MOST_FEATURES), known.views[0].features)
            if found is None:
                continue
            shear[what].append(found.lie.shear)
            across, down = grey.shape[1] / worn.shape[1], grey.shape[0] / worn.shape[0]
            to_master = Lie.scaled(across, down).then(found.lie).then(known.views[0].to_master)
            # Of another frame only the first person differs.
            for one in known.closeups if what == "own" else known.closeups[:1]:
                overlay = closer._overlaid(worn, to_master, one)
                if overlay is None:
                    continue
                share = min(1 / to_master.scale, 1 / one.to_master.scale)
                side = share * min(one.box.width, one.box.height)
                window = max(closer.LEAST_WINDOW_PX, 2 * int(closer.WINDOW * side / 2) + 1)
                told = closer._worst(closer._settled(overlay, side), overlay, window)
                if told is not None and side >= SIDES[0]:
                    below = next(most for most in SIDES if side < most)
                    worst[below, what].append(told)
    print(name, "done", file=sys.stderr, flush=True)
for (below, what), values in sorted(worst.items()):
    values = np.sort(values)
    print(f"side below {below:5} {what:12} {len(values):4}: least {values[:3].round(3)}, most {values[-3:].round(3)}")
for what, values in shear.items():
    print(f"shear {what:12} {len(values):4}: most {np.sort(values)[-3:].round(4)}, median {np.median(values):.4f}")
