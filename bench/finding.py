"""How well eyes and heads are found, against the exact truth of the demo pictures.

    python bench/finding.py [--quick] [--verbose]

Every demo master plain, mirrored, in three quarter turns, tinted, in one pure light, in grey,
noisy, blurred, and shrunk to 3 % heads. Errors of eyes are in distances between the eyes, all
others in heads (skull top to chin). The demo is one family of rendered faces: agreement here is
no proof on photographs.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from cropper.subject.finders import default_finder
from cropper.subject.subject import Origin
from tests.models.varieties import DEMO, errors, loaded, matched, varieties


def middle_and_tail(values: list[float]) -> str:
    sizes = np.abs(np.array([v for v in values if not np.isnan(v)]))
    if not len(sizes):
        return "      -       "
    return f"{np.median(sizes):.3f} {np.percentile(sizes, 95):.3f} {sizes.max():.3f}"


def main() -> None:
    finder = default_finder()
    verbose = "--verbose" in sys.argv
    rows: dict[str, list[dict[str, float]]] = {}
    missed: dict[str, int] = {}
    false: dict[str, int] = {}
    doubted: dict[str, int] = {}
    cpu = 0.0
    for path in sorted(DEMO.glob("*.jpg")):
        pixels, found = loaded(path)
        for kind, (picture, theirs) in varieties(pixels, found).items():
            if "--quick" in sys.argv and kind not in ("plain", "mirrored"):
                continue
            began = time.process_time()
            finding = finder.find(picture, small_faces=kind == "3 % heads")
            cpu += time.process_time() - began
            pairs = matched(finding.subjects, theirs)
            missed[kind] = missed.get(kind, 0) + sum(s is None for s, _ in pairs)
            false[kind] = (
                false.get(kind, 0) + len(finding.subjects) - sum(s is not None for s, _ in pairs)
            )
            for s, t in pairs:
                if s is None:
                    continue
                row = errors(s, t)
                rows.setdefault(kind, []).append(row)
                doubted[kind] = doubted.get(kind, 0) + (s.eyes_from is Origin.ESTIMATED)
                if verbose:
                    print(
                        kind, path.stem[11:], {k: round(float(v), 3) for k, v in row.items()},
                        "turn", s.turn, "yaw", t.yaw, "pitch", s.pitch, s.crown_in_frame,
                        s.eyes_state, s.doubt, "joints", len(s.joints),
                        "sharp", s.sharpness, s.principal, s.why,
                    )  # fmt: skip
    print(
        f"{'':14}found miss false est. eyes/between (med p95 max)  roll deg            "
        "hair top/head       chin/head           skull/head          sides/head"
    )
    for kind, kept in [*rows.items(), ("all", [r for k in rows.values() for r in k])]:
        column = lambda key, kept=kept: [r.get(key, np.nan) for r in kept]  # noqa: E731
        print(
            f"{kind:14}{len(kept):5}{missed.get(kind, sum(missed.values())):5}"
            f"{false.get(kind, sum(false.values())):6}"
            f"{doubted.get(kind, sum(doubted.values())):5} ",
            middle_and_tail(column("eye_a") + column("eye_b")), "      ",
            middle_and_tail(column("roll")), " ",
            middle_and_tail(column("hair")), " ",
            middle_and_tail(column("chin")), " ",
            middle_and_tail(column("skull")), " ",
            middle_and_tail(column("left") + column("right")),
        )  # fmt: skip
    everything = [r for k in rows.values() for r in k if "hair_z" in r]
    for key in ("hair_z", "chin_z", "skull_z"):
        print(key, f"within one sigma: {np.mean([r[key] <= 1 for r in everything]):.2f}")
    eyes = [r[key] for k in rows.values() for r in k for key in ("eye_a_z", "eye_b_z")]
    print(f"eyes within one sigma: {np.mean(np.array(eyes) <= 1):.2f}; CPU {cpu:.1f} s")


if __name__ == "__main__":
    main()
