"""How tiles of worn files correlate with their own picture, and frames of one sitting with another.

    python design/likeness/tiles.py > tiles.txt      about two minutes

For each picture and wear: median, lowest tiles, 5 % quantile, and the largest group of touching
tiles below some limits. `own` rows are the picture itself, the others are frames made by code.
"""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import cv2
import numpy as np

from cropper.likeness.agreement import compared
from cropper.likeness.extent import standing
from cropper.likeness.features import features
from cropper.likeness.fingerprint import fingerprint, reduced_grey
from cropper.likeness.laying import tiles_within
from cropper.likeness.overlay import overlaid
from cropper.likeness.registration import registered
from cropper.master.opening import open_master
from tests.likeness import sitting, wear

cv2.setNumThreads(1)
WEARS = {
    "1080 q60": (wear.wide(1080), wear.jpeg(60)),
    "400 q30": (wear.wide(400), wear.jpeg(30)),
    "250 q30": (wear.wide(250), wear.jpeg(30)),
    "cut 75 %": (wear.wide(1000), wear.cut(0.75, 0.5, 0.3), wear.jpeg(50)),
    "tone": (wear.wide(900), wear.toned(0.7, 0.8, 0.95), wear.jpeg(50)),
    "enlarged 2x": (wear.wide(500), wear.jpeg(40), wear.resized(2), wear.jpeg(50)),
    "border": (wear.wide(600), wear.bordered(0.1, (255, 255, 255)), wear.jpeg(50)),
    "screenshot": (wear.screenshot(700), wear.jpeg(60)),
}
NAMES = ("a_frontal", "b_wide_threequarter", "c_figure_headroom", "d_pair", "e_mill_hall",
         "f_tilted", "g_beauty_closeup", "h_group_of_five", "i_shawl_rival")

for name in NAMES:
    path = ROOT / "demo_images" / f"fernhollow_{name}.jpg"
    pixels = open_master(path).srgb8()
    frames = {"own": lambda: pixels}
    if name[0] in "acfi":
        frames |= sitting.frames(pixels, sitting.person(path))
    view = fingerprint(name, pixels).views[0]
    for what, make in frames.items():
        frame = make()
        for wearing, steps in WEARS.items():
            grey = reduced_grey(wear.worn(frame, *steps).pixels, 768)
            found = registered(features(grey, 1200), view.features)
            if found is None:
                print(f"{what:12} {name:20} {wearing:12} lies on nothing at this size")
                continue
            overlay = overlaid(grey, view.grey, found.lie)
            tiles = compared(overlay.found, overlay.known, overlay.covered)
            part = standing(overlay, tiles)
            if part:
                tiles = tiles_within(overlay, part)
            values = np.sort(tiles.correlation[tiles.telling])
            groups = {}
            for limit in (0.5, 0.6, 0.7, 0.8):
                low = (tiles.telling & (tiles.correlation < limit)).astype(np.uint8)
                facts = cv2.connectedComponentsWithStats(low, connectivity=8)[2]
                groups[limit] = max([int(area) for area in facts[1:, 4]] or [0])
            print(f"{what:12} {name:20} {wearing:12} {len(values):4} tiles, median "
                  f"{np.median(values):.3f}, lowest {values[:3].round(2)}, 5 % "
                  f"{np.quantile(values, 0.05):.2f}, groups {groups}", flush=True)
