"""How alike glances are: frames and re-framings of one sitting against different pictures.

    python design/likeness/glances.py
"""

import itertools
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from cropper.likeness.twins import glance, likeness
from cropper.master.opening import open_master
from tests.likeness import sitting, wear

seen = {}
for path in sorted((ROOT / "demo_images").glob("fernhollow_*.jpg")):
    name = path.stem.removeprefix("fernhollow_")
    pixels = open_master(path).srgb8()
    seen[name] = glance(pixels)
    if name[0] in "acfi" and "master" not in name:
        for what, make in sitting.frames(pixels, sitting.person(path)).items():
            seen[f"{name}~{what}"] = glance(make())
        seen[f"{name}~cut"] = glance(wear.worn(pixels, wear.cut(0.85, 0.3, 0.4)).pixels)
rows = sorted(
    (likeness(seen[a], seen[b]), a.split("~")[0] == b.split("~")[0], a, b)
    for a, b in itertools.combinations(seen, 2)
)
print("least alike of one sitting:")
for row in [row for row in rows if row[1]][:8]:
    print("  ", round(row[0], 3), *row[2:])
print("most alike of different pictures:")
for row in [row for row in rows if not row[1]][-14:]:
    print("  ", round(row[0], 3), *row[2:])
